// Objects to another toner: point at one, see what it paints and what goes with it, choose, look, keep.

import * as api from "../api"
import * as st from "../state"
import { slider, tonerChoice, tonersOf } from "./controls"
import { button, fill, h, newId, plural, short } from "./dom"
import { dropTrial, mendNow, tryNow } from "./mending"
import { attempt, speak } from "./say"
import { debounce, effect, signal, untracked } from "./signal"
import { kindWord, kindWords, parseUse, quote, writeUse } from "./words"

/** Which objects a change takes, beside the one pointed at. */
type Reach = "alike" | "layer" | "form" | "kind" | "one"

export function assignPart() {
  const picked = signal<api.Alike | null>(null)
  const here = signal<readonly api.Why[]>([])
  const bare = signal(false)
  const reach = signal<Reach>("alike")
  const taken = signal<readonly api.ItemBox[]>([]) // the objects of the page that are meant
  const pageOnly = signal(false)
  const toner = signal(""), tint = signal(100)
  const second = signal(""), secondTint = signal(30)
  const body = h("div")
  const el = h("details", { class: "doing", open: true }, h("summary", null, "Give objects another toner"), body)

  const pick = (item: number) => attempt(async () => {
    const a = await api.alike(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", item)
    reach.set(a.use && a.count > 1 ? "alike" : "one")
    tint.set(soleTint(a.paints) ?? 100)
    picked.set(a)
    speak(`${kindWord(a.kind)}: ${a.paints}. ${plural(a.count, "object is", "objects are")} painted alike.`)
  })
  const point = (p: api.Point) => attempt(async () => {
    dropTrial()
    bare.set(false)
    const a = await api.at(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", p, [])
    const list = [...a.why].reverse()
    here.set(list)
    toner.set("")
    second.set("")
    if (list[0]) pick(list[0].item)
    else { picked.set(null); bare.set(true); speak("Bare stock: there is no object here.") }
  })

  // The objects meant are lit. Those painted alike came with the answer, others are asked for.
  effect(() => {
    const a = picked(), r = reach()
    if (!a) { taken.set([]); return }
    if (r === "alike") taken.set(a.boxes)
    else if (r === "one") taken.set(a.boxes.filter(b => b.item === a.item))
    else attempt(async () => {
      const c = await api.chosen(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", choice(a, r))
      if (picked.peek() === a && reach.peek() === r) taken.set(c.boxes)
    })
  })
  effect(() => {
    const boxes = taken()
    if (st.section() !== "change") return
    untracked(() => st.lit.set(boxes.map(b => b.box)))
  })

  const use = (): string => {
    const a = picked()
    if (!a || !toner()) return ""
    const mixed = second() && second() !== toner()
    return writeUse({ id: "to-toner", options: {
      toner: mixed ? `${toner()} ${short(tint(), 0)}% + ${second()} ${short(secondTint(), 0)}%` : toner(),
      ...(mixed ? {} : { tint: `${short(tint(), 0)}%` }), ...choice(a, reach()), ...(pageOnly() ? { page: String(st.pageNo()) } : {}) } })
  }
  const words = (): string => {
    const a = picked(), r = reach()
    if (!a) return ""
    const mix = second() && second() !== toner() ? ` with ${second()} ${short(secondTint(), 0)} %` : ""
    const which = r === "alike" ? `what was ${a.paints}` : r === "one" ? `one ${lower(kindWord(a.kind))} of ${a.paints}` : lower(reachWords(a, r))
    return `${toner()} ${short(tint(), 0)} %${mix} for ${which}${pageOnly() ? ` on page ${st.pageNo()}` : ""}`
  }
  const soon = debounce(350, (u: string, w: string) => { void tryNow([u], w) })
  effect(() => {
    const u = use()
    if (u && untracked(st.section) === "change") soon(u, words())
    else soon.stop()
  })

  effect(() => {
    const a = picked(), list = here()
    bare()
    const p = st.pressOf(st.doc())
    untracked(() => fill(body,
      a ? null : h("p", null, bare() ? "There is nothing but stock here. Point at something else on the sheet." : "Point at something on the sheet. What is painted alike lights up."),
      button("Take what lies at the probe", () => { const at = st.probe.peek(); if (at) point(at) }, { "data-key": "take-here", class: "small" }),
      list.length > 1 ? h("fieldset", { class: "stacked" }, h("legend", null, "Here lie, from the top"), list.map(w => h("label", { class: "tick" },
        h("input", { type: "radio", name: "stacked", checked: a?.item === w.item, onchange: () => pick(w.item), "data-key": `stacked-${w.item}` }),
        h("span", null, `${kindWord(w.kind)}: ${w.does}`)))) : null,
      a ? chosen(a, p) : null))
  })

  function chosen(a: api.Alike, p: api.PressInfo | undefined): HTMLElement {
    const more = h("details", { open: second.peek() !== "" }, h("summary", null, "Mix in a second toner"), tonerChoice("Second toner", [{ name: "", kind: "none", colour: "" }, ...tonersOf(p, false)], second),
      slider("How much of it", secondTint, 1, 100, 1, v => `${v} %`))
    const keep = button("Keep it", () => attempt(async () => { if (await mendNow([use()], false, words())) reset() }), { "data-key": "keep-assign" })
    effect(() => { keep.hidden = !toner() || st.trialRev() !== "" })
    return h("div", { class: "chosen" },
      h("p", null, h("strong", null, kindWord(a.kind)), `: ${a.paints}`),
      reaches(a),
      tonerChoice("Print it in", tonersOf(p, true), toner),
      slider("How much", tint, 1, 100, 1, v => `${v} %`), more, h("div", { class: "row" }, keep))
  }

  /** Which objects go with the one pointed at. */
  function reaches(a: api.Alike): HTMLElement {
    const all: Reach[] = [...(a.use && a.count > 1 ? ["alike" as const] : []), "one", ...(["kind", "layer", "form"] as const).filter(r => a.options[r])]
    const group = newId("reach")
    const count = h("p", { class: "aside" })
    effect(() => {
      const n = reach() === "alike" ? a.count : taken().length
      count.textContent = `${plural(n, "object")} on this page ${n === 1 ? "is" : "are"} lit.`
    })
    const here = h("input", { type: "checkbox", checked: pageOnly.peek(), onchange: () => pageOnly.set(here.checked), "data-key": "page-only" })
    const line = h("label", { class: "tick" }, here, h("span", null, "On this page only"))
    effect(() => { line.hidden = (st.doc()?.pages ?? 1) < 2 || choice(a, reach()).page !== undefined })
    return h("fieldset", { class: "covers" }, h("legend", null, "What changes"), all.map(r => {
      const i = h("input", { type: "radio", name: group, value: r, onchange: () => reach.set(r), "data-key": `reach-${r}` })
      effect(() => { i.checked = reach() === r || r === "one" && !all.includes(reach()) })
      return h("label", { class: "tick" }, i, h("span", null, reachWords(a, r)))
    }), line, count)
  }

  const reset = () => untracked(() => { picked.set(null); here.set([]); bare.set(false); toner.set(""); second.set(""); pageOnly.set(false) })
  return { el, point, reset }
}

/** The choices of the remedy to-toner that mean what a reach takes. */
function choice(a: api.Alike, r: Reach): Record<string, string> {
  if (r === "alike") return parseUse(a.use).options
  if (r === "one") return { page: a.options.page ?? "", item: String(a.item) }
  return { [r]: a.options[r] ?? "" }
}

function reachWords(a: api.Alike, r: Reach): string {
  switch (r) {
    case "alike": return "All painted alike"
    case "layer": return `All on the layer ${quote(a.options.layer)}`
    case "form": return `All of the form ${quote(a.options.form)} it is part of`
    case "kind": return `All ${kindWords(a.kind)}`
    case "one": return "Only this one"
  }
}

const lower = (t: string) => t.charAt(0).toLowerCase() + t.slice(1)

/** The tint of what is painted in one toner, "Gold 70 %"; null for anything else. */
function soleTint(paints: string): number | null {
  const m = /^[^,]+ ([\d.]+) %$/.exec(paints)
  return m ? Math.max(1, Math.round(Number(m[1]))) : null
}
