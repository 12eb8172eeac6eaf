// Making elements. Styles go through the object model only: the page's policy forbids them in markup.

type Child = Node | string | number | null | undefined | false
type Props = Record<string, unknown>

/** Makes an element: "on…" props are listeners, "css" a record of styles, booleans set or leave out attributes. */
export function h<K extends keyof HTMLElementTagNameMap>(tag: K, props?: Props | null, ...children: (Child | Child[])[]): HTMLElementTagNameMap[K] {
  const el = document.createElement(tag)
  apply(el, props)
  add(el, children)
  return el
}

const svgSpace = "http://www.w3.org/2000/svg"

/** Makes an element of a drawing. */
export function s(tag: string, props?: Props | null, ...children: (Child | Child[])[]): SVGElement {
  const el = document.createElementNS(svgSpace, tag) as SVGElement
  apply(el, props)
  add(el, children)
  return el
}

function apply(el: HTMLElement | SVGElement, props?: Props | null) {
  for (const [k, v] of Object.entries(props ?? {})) {
    if (v === undefined || v === null || v === false) continue
    if (k.startsWith("on") && typeof v === "function") el.addEventListener(k.slice(2), v as EventListener)
    else if (k === "css") for (const [p, x] of Object.entries(v as Record<string, string>)) el.style.setProperty(p, x)
    else if (k === "value" || k === "checked" || k === "disabled" || k === "selected" || k === "hidden") (el as unknown as Props)[k] = v
    else el.setAttribute(k, v === true ? "" : String(v))
  }
}

function add(el: Element, children: (Child | Child[])[]) {
  for (const c of children.flat()) {
    if (c === null || c === undefined || c === false) continue
    el.append(c instanceof Node ? c : String(c))
  }
}

/** Puts other children into el, keeping the focus on what bears the same data-key. */
export function fill(el: Element, ...children: (Child | Child[])[]) {
  const at = document.activeElement
  const key = at && el.contains(at) ? at.getAttribute("data-key") : null
  const made = document.createDocumentFragment()
  for (const c of children.flat()) {
    if (c === null || c === undefined || c === false) continue
    made.append(c instanceof Node ? c : String(c))
  }
  el.replaceChildren(made)
  if (key) el.querySelector<HTMLElement>(`[data-key="${CSS.escape(key)}"]`)?.focus({ preventScroll: true })
}

/** A button with words on it. */
export function button(words: Child | Child[], onclick: (e: MouseEvent) => void, props?: Props): HTMLButtonElement {
  return h("button", { type: "button", ...props, onclick }, words)
}

/** The element of this id, which index.html has. */
export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const el = document.getElementById(id)
  if (!el) throw new Error(`the page has no #${id}`)
  return el as T
}

/** A number with at most so many decimals, in the reader's manner of writing. */
export function num(v: number, decimals = 1): string {
  return v.toLocaleString("en-GB", { minimumFractionDigits: decimals, maximumFractionDigits: decimals })
}

/** A number as short as it is true. */
export function short(v: number, most = 2): string {
  return v.toLocaleString("en-GB", { maximumFractionDigits: most })
}

export function plural(n: number, one: string, many = one + "s"): string {
  return `${n.toLocaleString("en-GB")} ${n === 1 ? one : many}`
}

let last = 0
/** An id nobody has yet. */
export const newId = (stem: string) => `${stem}-${++last}`

/** Marks a line of a text field. */
export function selectLine(field: HTMLTextAreaElement, line: number, column: number) {
  const lines = field.value.split("\n")
  const start = lines.slice(0, line - 1).reduce((n, l) => n + l.length + 1, 0)
  field.focus()
  field.setSelectionRange(start + Math.max(0, column - 1), start + (lines[line - 1] ?? "").length)
  const high = parseFloat(getComputedStyle(field).lineHeight) || 18
  field.scrollTop = Math.max(0, (line - 3) * high)
}
