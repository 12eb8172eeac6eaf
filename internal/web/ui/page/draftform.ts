// The common figures of a press or a stock as a form. Each field sets its place in the text.

import type { Draft } from "../api"
import { button, fill, h, newId } from "./dom"
import type { Step } from "./yaml"

export type Change = (path: readonly Step[], value: string) => void

interface PressForm {
  toners?: { name: string; tint?: Record<string, string | number>; finest?: Record<string, string | number> }[]
  sets?: { name: string; stations: string[] }[]
  pile?: Record<string, string>; register?: Record<string, string>
}
interface StockForm { front?: [number, number, number]; weight?: string; thickness?: string; opacity?: string; hits?: number; title?: string }

/** The fields of a draft, filled with what it says. */
export function fields(d: Draft, change: Change): HTMLElement[] {
  return d.kind === "press" ? pressFields((d.form ?? {}) as PressForm, change) : stockFields((d.form ?? {}) as StockForm, change)
}

/** A name as an entry of a list on one line. */
const inFlow = (name: string) => /^[A-Za-z][\w -]*$/.test(name) ? name : JSON.stringify(name)

function field(words: string, value: unknown, hint: string, set: (v: string) => void): HTMLElement {
  const id = newId("field")
  const input = h("input", { id, value: value === undefined || value === null ? "" : String(value), placeholder: hint, size: 8, oninput: () => set(input.value.trim()) })
  return h("div", { class: "field" }, h("label", { for: id }, words), input)
}

function pressFields(f: PressForm, change: Change): HTMLElement[] {
  return [
    h("fieldset", { class: "fields" }, h("legend", null, "How much it can pile up"),
      field("In one pass", f.pile?.per_pass, "260%", v => change(["pile", "per_pass"], v)),
      field("In all passes", f.pile?.sum, "400%", v => change(["pile", "sum"], v))),
    h("fieldset", { class: "fields" }, h("legend", null, "How far plates can be off each other"),
      field("Within a pass", f.register?.within, "0.1mm", v => change(["register", "within"], v)),
      field("Between passes", f.register?.between, "0.4mm", v => change(["register", "between"], v))),
    ...(f.sets ?? []).map(s => order(s, list => change(["sets", { named: s.name }, "stations"], `[${list.map(inFlow).join(", ")}]`))),
    ...(f.toners ?? []).map(t => h("details", { class: "fields" }, h("summary", null, t.name),
      field("Lightest tint", t.tint?.least, "none", v => change(["toners", { named: t.name }, "tint", "least"], v)),
      field("Darkest tint", t.tint?.most, "100%", v => change(["toners", { named: t.name }, "tint", "most"], v)),
      field("Tint advised", t.tint?.advised, "none", v => change(["toners", { named: t.name }, "tint", "advised"], v)),
      field("Finest line", t.finest?.line, "0.25pt", v => change(["toners", { named: t.name }, "finest", "line"], v)),
      field("Finest gap", t.finest?.reversed, "0.5pt", v => change(["toners", { named: t.name }, "finest", "reversed"], v)),
      field("Smallest type", t.finest?.type, "5pt", v => change(["toners", { named: t.name }, "finest", "type"], v)))),
  ]
}

/** Stations in laydown order, to be moved one by one. The first lies on the stock, at the bottom of the list as on the sheet. */
function order(s: { name: string; stations: string[] }, set: (list: string[]) => void): HTMLElement {
  const el = h("fieldset", { class: "order" })
  let list = [...s.stations]
  const show = (focus = "") => {
    fill(el, h("legend", null, `Set “${s.name}”, the last laid on top`), h("ol", null, [...list].reverse().map(name => {
      const i = list.indexOf(name)
      const move = (by: number) => {
        const to = i + by
        list = list.map((n, k) => k === i ? list[to] ?? n : k === to ? name : n)
        set(list)
        show(`${by > 0 ? "up" : "down"}-${name}`)
      }
      return h("li", null, h("span", null, name),
        button("Up", () => move(1), { class: "small", disabled: i === list.length - 1, "aria-label": `Lay ${name} later`, "data-key": `up-${name}` }),
        button("Down", () => move(-1), { class: "small", disabled: i === 0, "aria-label": `Lay ${name} earlier`, "data-key": `down-${name}` }))
    })))
    if (focus) {
      const b = el.querySelector<HTMLButtonElement>(`[data-key="${CSS.escape(focus)}"]`)
      if (b?.disabled) el.querySelector<HTMLButtonElement>(`[data-key="${CSS.escape(focus.startsWith("up") ? focus.replace("up", "down") : focus.replace("down", "up"))}"]`)?.focus()
      else b?.focus()
    }
  }
  show()
  return el
}

function stockFields(f: StockForm, change: Change): HTMLElement[] {
  const lab = [...(f.front ?? [95, 0, -2])] as [number, number, number]
  const part = (i: 0 | 1 | 2) => (v: string) => {
    const n = Number(v)
    if (v === "" || !Number.isFinite(n)) return
    lab[i] = n
    change(["front"], `[${lab.join(", ")}]`)
  }
  return [
    h("fieldset", { class: "fields" }, h("legend", null, "Its colour, measured on the front"),
      field("L*", lab[0], "95", part(0)), field("a*", lab[1], "0", part(1)), field("b*", lab[2], "-2", part(2))),
    h("fieldset", { class: "fields" }, h("legend", null, "The sheet"),
      field("Weight", f.weight, "300gsm", v => change(["weight"], v)),
      field("Thickness", f.thickness, "0.40mm", v => change(["thickness"], v)),
      field("Opacity", f.opacity, "100%", v => change(["opacity"], v)),
      field("Passes it stands", f.hits, "any", v => change(["hits"], v))),
  ]
}
