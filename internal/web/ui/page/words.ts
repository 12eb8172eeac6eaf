// Sentences of the page: remedies, findings and figures in words a designer uses.

import type { Box, Finding, Severity } from "../api"
import { short } from "./dom"

/** A remedy as --do takes it, taken apart. */
export interface Use { id: string; options: Record<string, string> }

/** Reads a remedy with its options, as mend.Use writes it: id:name=value,name="value, with commas". */
export function parseUse(text: string): Use {
  const colon = text.indexOf(":")
  if (colon < 0) return { id: text, options: {} }
  const options: Record<string, string> = {}
  let rest = text.slice(colon + 1)
  while (rest !== "") {
    const eq = rest.indexOf("=")
    if (eq < 0) break
    const name = rest.slice(0, eq).trim()
    rest = rest.slice(eq + 1)
    let value: string
    const quoted = /^"(?:[^"\\]|\\.)*"/.exec(rest)
    if (quoted) {
      try { value = JSON.parse(quoted[0]) as string } catch { value = quoted[0].slice(1, -1) }
      rest = rest.slice(quoted[0].length)
    } else {
      const comma = rest.indexOf(",")
      value = (comma < 0 ? rest : rest.slice(0, comma)).trim()
      rest = comma < 0 ? "" : rest.slice(comma)
    }
    options[name] = value
    rest = rest.replace(/^\s*,\s*/, "")
  }
  return { id: text.slice(0, colon), options }
}

/** Writes a remedy as --do takes it; empty options are left out. */
export function writeUse(u: Use): string {
  const parts = Object.entries(u.options).filter(([, v]) => v !== "")
    .map(([k, v]) => `${k}=${/[",=]/.test(v) || v.trim() !== v ? JSON.stringify(v) : v}`)
  return parts.length ? `${u.id}:${parts.join(",")}` : u.id
}

const list = (v: string | undefined, otherwise: string) => {
  const words = (v ?? otherwise).split("|").map(x => x.trim()).filter(x => x)
    .map(x => x === "process" ? "the process colours" : x === "colours" ? "the process colours but black" : x)
  return words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words[words.length - 1]}`
}
export const quote = (v: string | undefined) => `“${v ?? ""}”`
const colours = (v: string | undefined) => v === "process" ? "the process colours" : v ?? ""

const sayings: Record<string, (o: Record<string, string>) => string> = {
  "rename-colourant": o => `Rename ${quote(o.from)} to ${quote(o.to)}`,
  "merge-colourants": o => `Print ${list(o.from, "")} in ${o.to ?? ""}`,
  "one-definition": o => o.colourant ? `Give ${o.colourant} one stand-in colour everywhere` : "Give every colourant one stand-in colour",
  "to-toner": o => `Give ${o.colour === "stand-in" ? "what is painted in its stand-in colour" : "these objects"} to ${o.toner ?? ""}${o.tint && /\d/.test(o.tint) ? ` at ${o.tint}` : ""}`,
  "to-process": o => `Paint ${o.toner ?? ""} in the process colours that stand in for it`,
  "clip-tints": o => o.to === "advised" ? `Set ${o.toner ?? ""} to the tint the press advises`
    : o.to && o.to !== "nearest" ? `Set ${o.toner ?? ""} to ${o.to}` : `Bring ${o.toner ?? ""} to the nearest tint it holds`,
  "lighten-pile": o => `Lighten the process colours to ${o.limit ?? ""} in all`,
  "overprint-on": o => `Let ${o.toner ?? "what must"} lie on top and cut nothing away`,
  "multiply-on": o => `Let ${o.toner ?? "what must"} shine through to what lies below (multiply)`,
  "spare-underlay": o => `Keep ${o.toner ?? "the white"} whole under ${list(o.under, "process")}`,
  "laydown-overprint": o => `Keep what lies under ${o.toner ?? ""}: it is laid first anyway`,
  "knock-out": o => `Cut ${colours(o.toner)} out of ${o.over ?? ""}`,
  "thicken-lines": o => `Draw the lines of ${colours(o.toner)} ${o.to ? `${o.to} wide` : "as wide as it holds"}`,
  "choke-underlay": o => `Pull the rim of ${o.toner ?? "the white"} in under the colours${o.choke ? ` by ${o.choke}` : ""}`,
  "drop-hidden-layers": o => o.layer ? `Take out the hidden layer ${quote(o.layer)}` : "Take out what does not print",
  "set-boxes": o => o.width && o.height ? `Set the finished size to ${o.width} × ${o.height}` : "Set the finished size the job asks for",
  "centre-boxes": o => o.width && o.height ? `Set the finished size to ${o.width} × ${o.height}, in the middle of the page` : "Set the finished size the job asks for, in the middle of the page",
  "embed-needed": () => "Put the fonts in that are missing",
  "add-bleed": o => `${o.by === "extend" ? "Draw out" : "Mirror"} the artwork beyond ${o.edges ? `the ${list(o.edges, "")} edge${o.edges.includes("|") ? "s" : ""}` : "all edges"}`,
  "make-underlay": o => `Put ${o.toner ?? "white"} under ${list(o.under, "process")}${madeWords(o)}`,
  "make-clear": o => `Put ${o.toner ?? "clear"} over ${overWords(o.over)}${madeWords(o)}`,
}

function overWords(v: string | undefined): string {
  if (!v || v === "flood") return "the whole piece"
  if (v === "images") return "the pictures"
  return v.startsWith("layer ") ? `the layer ${quote(v.slice(6))}` : list(v, "")
}

/** How large and how strong what is made comes out, as far as a remedy says. */
function madeWords(o: Record<string, string>): string {
  const mm = (v: string | undefined) => parseFloat(v ?? "") || 0
  const edge = mm(o.spread) - mm(o.choke)
  return `${o.choke || o.spread ? edge === 0 ? ", just as large" : `, its edge ${edgeWords(edge)}` : ""}${o.tint ? `, at ${o.tint.replace("%", " %")}` : ""}`
}

/** How far an edge lies inside (below 0) or outside of what it follows, in words. */
export function edgeWords(mm: number): string {
  return Math.abs(mm) < 0.005 ? "just as large" : `${short(Math.abs(mm), 2)} mm ${mm < 0 ? "inside" : "outside"}`
}

const kinds: Record<string, [one: string, many: string]> = {
  fill: ["Shape", "shapes"], stroke: ["Line", "lines"], text: ["Type", "type"], image: ["Picture", "pictures"], stencil: ["One-colour picture", "one-colour pictures"],
  shade: ["Gradient", "gradients"], group: ["Group", "groups"],
}
/** What an object is, as a designer says it. */
export const kindWord = (kind: string) => kinds[kind]?.[0] ?? kind
/** All of its kind. */
export const kindWords = (kind: string) => kinds[kind]?.[1] ?? kind

/** What a remedy does, in words; title is the remedy's own, for those without a saying here. */
export function sayUse(text: string, title?: string): string {
  const u = parseUse(text)
  const say = sayings[u.id]
  if (say) return say(u.options)
  const options = Object.entries(u.options).map(([k, v]) => `${k} ${v}`).join(", ")
  return `${(title ?? u.id.replace(/-/g, " ")).replace(/\.$/, "")}${options ? ` (${options})` : ""}`
}

export const severities: readonly Severity[] = ["error", "warning", "note"]
export const severityWords: Record<Severity, string> = { error: "Will print wrong", warning: "Look at it", note: "Good to know" }

/** Where a finding lies, in words. */
export function placeWords(f: Finding): string {
  const p = f.place
  const words: string[] = []
  if (p.page) words.push(`page ${p.page}`)
  if (p.box) words.push(boxWords(p.box))
  if (p.layer) words.push(`layer ${quote(p.layer)}`)
  return words.length ? words.join(", ") : "the whole file"
}

export function boxWords(b: Box): string {
  return `${short(b.x, 1)} mm from the left, ${short(b.y, 1)} mm from the top, ${short(b.w, 1)} × ${short(b.h, 1)} mm`
}

const units: [suffix: string, unit: string][] = [["_mm2", " mm²"], ["_mm", " mm"], ["_um", " µm"], ["_pt", " pt"], ["_percent", " %"], ["_dpi", " dpi"], ["_gsm", " g/m²"], ["_L", " L*"]]

/** A figure of a finding: its name and its value with the unit that the name holds. */
export function figureWords(key: string, value: number): [name: string, value: string] {
  for (const [suffix, unit] of units)
    if (key.endsWith(suffix)) return [key.slice(0, -suffix.length).replace(/_/g, " "), short(value) + unit]
  return [key.replace(/_/g, " "), short(value)]
}

export function bytes(n: number): string {
  if (n < 1000) return `${n} bytes`
  return n < 1e6 ? `${short(n / 1e3, 0)} kB` : `${short(n / 1e6, 1)} MB`
}

/** What a job is doing, in words. */
export function jobWords(kind: string, what: string): string {
  const doing: Record<string, string> = {
    check: "Looking for faults", mend: "Mending", report: "Writing the report", plates: "Making the plates",
    pictures: "Making the pictures", package: "Packing", plan: "Working out the passes",
  }
  const on: Record<string, string> = { page: "page", proof: "proving that nothing else changed" }
  const first = doing[kind] ?? kind
  return what ? `${first}: ${on[what] ?? what}` : first
}
