// Objects to another toner: point at one, see what it paints and what is painted alike, choose, look, keep.

import * as api from "../api"
import * as st from "../state"
import { onPointed } from "./bench"
import { slider, tonerChoice, tonersOf } from "./controls"
import { button, fill, h, plural, short } from "./dom"
import { dropTrial, mendNow, tryNow } from "./mending"
import { attempt, speak } from "./say"
import { debounce, effect, signal, untracked } from "./signal"
import { parseUse, writeUse } from "./words"

export function assignPart() {
  const picked = signal<api.Alike | null>(null)
  const here = signal<readonly api.Why[]>([])
  const bare = signal(false)
  const onlyThis = signal(false)
  const toner = signal(""), tint = signal(100)
  const second = signal(""), secondTint = signal(30)
  const body = h("div")
  const el = h("details", { class: "doing", open: true }, h("summary", null, "Give objects another toner"), body)

  const pick = (item: number) => attempt(async () => {
    const a = await api.alike(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", item)
    picked.set(a)
    onlyThis.set(false)
    speak(`${a.kind}: ${a.paints}. ${plural(a.count, "object is", "objects are")} painted alike.`)
  })
  const point = (p: api.Point) => attempt(async () => {
    dropTrial()
    bare.set(false)
    const a = await api.at(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", p, [])
    const list = [...a.why].reverse()
    here.set(list)
    toner.set("")
    if (list[0]) pick(list[0].item)
    else { picked.set(null); bare.set(true); speak("Bare stock: there is no object here.") }
  })
  onPointed(point)

  effect(() => {
    const a = picked(), only = onlyThis()
    if (st.section() !== "change") return
    const shown = a ? a.boxes.filter(b => !only || b.item === a.item).map(b => b.box) : []
    untracked(() => st.lit.set(shown))
  })

  const use = (): string => {
    const a = picked()
    if (!a || !toner()) return ""
    const mixed = second() && second() !== toner()
    const which: Record<string, string> = onlyThis() ? { page: String(st.pageNo()), item: String(a.item) } : parseUse(a.use).options
    return writeUse({ id: "to-toner", options: {
      toner: mixed ? `${toner()} ${short(tint(), 0)}% + ${second()} ${short(secondTint(), 0)}%` : toner(),
      ...(mixed ? {} : { tint: `${short(tint(), 0)}%` }), ...which } })
  }
  const words = () => `${onlyThis() ? "one object" : "all painted alike"} in ${toner()}${second() ? ` and ${second()}` : ` at ${short(tint(), 0)} %`}`
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
        h("span", null, `${w.kind}: ${w.does}`)))) : null,
      a ? chosen(a, p) : null))
  })

  function chosen(a: api.Alike, p: api.PressInfo | undefined): HTMLElement {
    const only = h("input", { type: "checkbox", checked: onlyThis.peek(), onchange: () => onlyThis.set(only.checked), "data-key": "only" })
    const more = h("details", null, h("summary", null, "Mix in a second toner"), tonerChoice("Second toner", [{ name: "", kind: "none", colour: "" }, ...tonersOf(p, false)], second),
      slider("How much of it", secondTint, 1, 100, 1, v => `${v} %`))
    const keep = button("Keep it", () => attempt(async () => { if (await mendNow([use()], false, `Gave ${words()}`)) { picked.set(null); here.set([]); toner.set("") } }), { class: "main", "data-key": "keep-assign" })
    effect(() => { keep.disabled = !toner() })
    return h("div", { class: "chosen" },
      h("p", null, h("strong", null, a.kind), `: ${a.paints}`),
      h("p", { class: "aside" }, a.count > 1 ? `${plural(a.count, "object")} on this page are painted alike.` : "Nothing else on this page is painted alike."),
      a.count > 1 ? h("label", { class: "tick" }, only, h("span", null, "Only this one")) : null,
      tonerChoice("Print it in", tonersOf(p, true), toner),
      slider("How much", tint, 1, 100, 1, v => `${v} %`), more, h("div", { class: "row" }, keep))
  }

  return { el, reset: () => untracked(() => { picked.set(null); here.set([]); toner.set("") }) }
}

