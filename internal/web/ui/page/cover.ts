// A white under something, or a clear over something, made from what is on the plates; its edge is moved by a slider.

import * as api from "../api"
import * as st from "../state"
import { slider, tonerChoice, tonersOf } from "./controls"
import { button, fill, h, newId, short } from "./dom"
import { mendNow, tryNow } from "./mending"
import { attempt, speak, tell } from "./say"
import { debounce, derived, effect, signal, untracked } from "./signal"
import { edgeWords, kindWord, quote, sayUse, writeUse } from "./words"

export function coverPart(kind: "underlay" | "clear") {
  const under = kind === "underlay"
  const toner = signal("")
  const usual: readonly string[] = under ? ["process"] : ["flood"]
  const what = signal(usual)
  const edge = signal(under ? -0.1 : 0)
  const tint = signal(100)
  const asked = signal(false) // nothing is tried before the person did something
  const body = h("div")
  const el = h("details", { class: "doing" }, h("summary", null, under ? "Put white underneath" : "Put clear over it"), body)

  const use = () => {
    const mm = `${short(Math.abs(edge()), 2)}mm`
    const o: Record<string, string> = { toner: toner() }
    o[under ? "under" : "over"] = what().join("|")
    if (edge() < -0.004) o.choke = mm
    else if (edge() > 0.004 || under) o[under && edge() <= 0.004 ? "choke" : "spread"] = edge() > 0.004 ? mm : "0mm"
    if (under && tint() < 100) o.tint = `${tint()}%`
    return writeUse({ id: under ? "make-underlay" : "make-clear", options: o })
  }
  const usable = () => toner() !== "" && what().length > 0
  const soon = debounce(350, (u: string) => { void tryNow([u], sayUse(u)) })
  effect(() => {
    const u = use()
    if (asked() && usable()) soon(u)
    else soon.stop()
  })
  el.addEventListener("toggle", () => { if (!el.open) asked.set(false) })

  // The form is made anew for another press only, so that a slider is not taken from under the hand.
  const press = derived(() => {
    const p = st.pressOf(st.doc())
    return p ? p.draft ?? p.name : ""
  })
  effect(() => {
    press()
    untracked(() => fill(body, form(st.pressOf(st.doc()))))
  })

  function form(p: api.PressInfo | undefined): (Node | null)[] {
    const fits = tonersOf(p, false).filter(t => under ? t.kind === "opaque white" : t.kind === "clear")
    if (fits.length === 0) return [h("p", { class: "aside" }, under ? "This press has no white." : "This press has no clear.")]
    toner.set(fits[0]?.name ?? "")
    const others = tonersOf(p, false).filter(t => t.kind !== "process" && !fits.some(f => f.name === t.name))
    const choices = (layers: readonly string[]): [string, string][] => under
      ? [["process", "The process colours"], ["colours", "The process colours but black"], ...others.filter(t => t.kind !== "clear").map(t => [t.name, t.name] as [string, string])]
      : [["flood", "The whole piece"], ["images", "The pictures"], ...layers.map(l => [onLayer(l), `The layer ${quote(l)}`] as [string, string]),
        ["process", "The process colours"], ...others.map(t => [t.name, t.name] as [string, string])]
    const group = newId("cover")
    const covers = h("fieldset", { class: "covers" })
    let known = ""
    const layers = derived(() => {
      const list = st.sheet()?.on_layers ?? []
      return st.trialRev() ? known : known = list.join("\n") // a trial adds layers of its own
    })
    effect(() => {
      const list = layers().split("\n").filter(l => l)
      untracked(() => fill(covers, h("legend", null, under ? `${fits[0]?.name ?? "White"} goes under` : `${fits[0]?.name ?? "Clear"} goes over`),
        choices(list).map(([value, words]) => {
          const t = h("input", { type: "checkbox", name: group, value, "data-key": `${kind}-${value}`, onchange: () => what.set(choose(what.peek(), value, t.checked)) })
          effect(() => { t.checked = what().includes(value) })
          return h("label", { class: "tick" }, t, h("span", null, words))
        }),
        under ? null : h("p", { class: "aside" }, "Or point at something on the sheet: its layer is taken, or what it is printed in.")))
    })
    const touch = () => asked.set(true)
    const keep = button("Keep it", () => attempt(async () => { if (await mendNow([use()], false, sayUse(use()))) asked.set(false) }), { "data-key": `keep-${kind}` })
    const look = button("Look first", () => { asked.set(true); soon(use()) }, { class: "main", "data-key": `look-${kind}` })
    const row = h("div", { class: "row" }, look, keep)
    effect(() => { row.hidden = st.trialRev() !== "" })
    const out = h("div", { oninput: touch, onchange: touch },
      fits.length > 1 ? tonerChoice(under ? "The white" : "The clear", fits, toner) : null,
      covers,
      slider("Its edge lies", edge, -0.5, 0.5, 0.01, edgeWords),
      under ? slider("How much of it", tint, 20, 100, 1, v => `${v} %`) : null)
    effect(() => { keep.disabled = look.disabled = !usable() })
    return [out, row]
  }

  /** Takes what lies on top at a point: its layer, the pictures, or the toners it is printed in. */
  const point = (p: api.Point) => attempt(async () => {
    const top = (await api.at(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", p, [])).why.pop()
    if (!top) { tell("There is nothing but stock here. Point at something else on the sheet."); return }
    const a = await api.alike(st.docId.peek(), st.pageNo.peek(), st.doc()?.rev ?? "", top.item)
    const t = tonersOf(st.pressOf(st.doc()), false).find(t => t.name === a.options.colourant)
    what.set([a.options.layer ? onLayer(a.options.layer) : top.kind === "image" ? "images" : t && t.kind !== "process" && t.kind !== "clear" ? t.name : "process"])
    asked.set(true)
    speak(`${kindWord(top.kind)}: ${sayUse(use())}`)
  })
  return { el, point: under ? () => {} : point, reset: () => untracked(() => { asked.set(false); what.set(usual) }) }
}

/** A layer as the remedy takes it. */
const onLayer = (name: string) => `layer ${name}`

/** The whole piece, pictures, a layer, and black left out each exclude the others. */
function choose(now: readonly string[], value: string, on: boolean): string[] {
  const lone = (v: string) => v === "flood" || v === "images" || v.startsWith("layer ")
  if (!on) return now.filter(v => v !== value)
  if (lone(value)) return [value]
  const rest = now.filter(v => !lone(v) && !(value === "process" && v === "colours") && !(value === "colours" && v === "process"))
  return [...rest, value]
}
