// Setting one value in the text of a definition, so that the rest of it, remarks included, stays as it was written.
//
// It knows what definitions are made of: maps by indentation, lists of maps that have a name, and {…} and […] on one line.
// What is written otherwise is left to the person: set answers null.

/** A step into a definition: a key, or the entry of a list that has this name. */
export type Step = string | { named: string }

interface Block { from: number; to: number; indent: number } // lines of a map, and where its keys begin

/** The text with the value at path set to another, "" to leave the key out; null where the place is not found. */
export function setValue(text: string, path: readonly Step[], value: string): string | null {
  const lines = text.split("\n")
  let block: Block = { from: 0, to: lines.length, indent: 0 }
  for (let i = 0; i < path.length; i++) {
    const step = path[i]
    if (step === undefined) return null
    if (typeof step !== "string") {
      const entry = namedEntry(lines, block, step.named)
      if (!entry) return null
      block = entry
      continue
    }
    const at = keyLine(lines, block, step)
    const last = i === path.length - 1
    if (at < 0) return value === "" ? text : insert(lines, block, path.slice(i), value)
    const m = /^([\s-]*[\w-]+:)(\s*)(.*?)(\s+#.*)?$/.exec(lines[at] ?? "")
    if (!m) return null
    const head = m[1] ?? "", rest = m[3] ?? "", remark = m[4] ?? ""
    if (last) {
      if (nested(lines, block, at) && rest === "") return null
      if (value === "") lines.splice(at, 1)
      else lines[at] = `${head} ${value}${remark}`
      return lines.join("\n")
    }
    if (rest.startsWith("{")) {
      const key = path[i + 1]
      if (i + 2 !== path.length || typeof key !== "string" || !rest.endsWith("}")) return null
      lines[at] = `${head} ${setInFlow(rest, key, value)}${remark}`
      return lines.join("\n")
    }
    if (rest !== "") return null
    block = inner(lines, block, at)
  }
  return null
}

const blank = (l: string) => /^\s*(#.*)?$/.test(l)
const depth = (l: string) => /^\s*/.exec(l)?.[0].length ?? 0

/** The first line of an entry of a list counts as if its dash were a blank. */
function keyLine(lines: string[], b: Block, key: string): number {
  for (let i = b.from; i < b.to; i++) {
    const l = (lines[i] ?? "").replace(/^(\s*)- /, "$1  ")
    if (!blank(l) && depth(l) === b.indent && l.trimStart().startsWith(key + ":")) return i
  }
  return -1
}

function end(lines: string[], b: Block, at: number, indent: number): number {
  let to = at + 1
  for (let i = at + 1; i < b.to; i++) {
    const l = lines[i] ?? ""
    if (blank(l)) continue
    if (depth(l) < indent) break
    to = i + 1
  }
  return to
}

function nested(lines: string[], b: Block, at: number): boolean {
  return end(lines, b, at, b.indent + 1) > at + 1
}

function inner(lines: string[], b: Block, at: number): Block {
  let first = at + 1
  while (first < b.to && blank(lines[first] ?? "")) first++
  const indent = depth(lines[first] ?? "")
  return { from: at + 1, to: end(lines, b, at, Math.max(indent, b.indent + ((lines[first] ?? "").trimStart().startsWith("- ") ? 0 : 1))), indent }
}

function namedEntry(lines: string[], b: Block, name: string): Block | null {
  for (let i = b.from; i < b.to; i++) {
    const l = lines[i] ?? ""
    if (blank(l) || depth(l) !== b.indent || !l.trimStart().startsWith("- ")) continue
    const to = end(lines, b, i, b.indent + 1)
    const entry: Block = { from: i, to, indent: b.indent + 2 }
    const at = keyLine(lines, entry, "name")
    const said = /name:\s*(.*?)(\s+#.*)?$/.exec(lines[at] ?? "")?.[1] ?? ""
    if (said.replace(/^(["'])(.*)\1$/, "$2") === name) return entry
    i = to - 1
  }
  return null
}

function setInFlow(flow: string, key: string, value: string): string {
  const parts = flow.slice(1, -1).split(/,(?![^[\]]*\])/).map(p => p.trim()).filter(p => p)
  const i = parts.findIndex(p => p.startsWith(key + ":"))
  if (i >= 0) parts.splice(i, 1, ...(value === "" ? [] : [`${key}: ${value}`]))
  else if (value !== "") parts.push(`${key}: ${value}`)
  return `{${parts.join(", ")}}`
}

/** Puts a key that is not there behind the last of its map. */
function insert(lines: string[], b: Block, path: readonly Step[], value: string): string | null {
  const [a, z, ...more] = path
  if (typeof a !== "string" || more.length > 0 || (z !== undefined && typeof z !== "string")) return null
  let at = b.to
  while (at > b.from && blank(lines[at - 1] ?? "")) at--
  lines.splice(at, 0, `${" ".repeat(b.indent)}${a}: ${z === undefined ? value : `{${z}: ${value}}`}`)
  return lines.join("\n")
}
