// A white under something, or a clear over something, made from what is on the plates; its edge is moved by a slider.

import * as api from "../api"
import * as st from "../state"
import { slider, tonerChoice, tonersOf } from "./controls"
import { button, fill, h, newId, short } from "./dom"
import { mendNow, tryNow } from "./mending"
import { attempt } from "./say"
import { debounce, effect, signal, untracked } from "./signal"
import { edgeWords, sayUse, writeUse } from "./words"

export function coverPart(kind: "underlay" | "clear") {
  const under = kind === "underlay"
  const toner = signal("")
  const what = signal<readonly string[]>(under ? ["process"] : ["flood"])
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
  let made = ""
  effect(() => {
    const p = st.pressOf(st.doc())
    const now = p ? (p.draft ?? p.name) : ""
    if (now === made) return
    made = now
    untracked(() => fill(body, form(p)))
  })

  function form(p: api.PressInfo | undefined): (Node | null)[] {
    const fits = tonersOf(p, false).filter(t => under ? t.kind === "opaque white" : t.kind === "clear")
    if (fits.length === 0) return [h("p", { class: "aside" }, under ? "This press has no white." : "This press has no clear.")]
    toner.set(fits[0]?.name ?? "")
    const others = tonersOf(p, false).filter(t => t.kind !== "process" && !fits.some(f => f.name === t.name))
    const choices: [string, string][] = under
      ? [["process", "The process colours"], ["colours", "The process colours but black"], ...others.filter(t => t.kind !== "clear").map(t => [t.name, t.name] as [string, string])]
      : [["flood", "The whole piece"], ["images", "The pictures"], ["process", "The process colours"], ...others.map(t => [t.name, t.name] as [string, string])]
    const group = newId("cover")
    const touch = () => asked.set(true)
    const keep = button("Keep it", () => attempt(async () => { if (await mendNow([use()], false, sayUse(use()))) asked.set(false) }), { "data-key": `keep-${kind}` })
    const look = button("Look first", () => { asked.set(true); soon(use()) }, { class: "main", "data-key": `look-${kind}` })
    const row = h("div", { class: "row" }, look, keep)
    effect(() => { row.hidden = st.trialRev() !== "" })
    const out = h("div", { oninput: touch, onchange: touch },
      fits.length > 1 ? tonerChoice(under ? "The white" : "The clear", fits, toner) : null,
      h("fieldset", { class: "covers" }, h("legend", null, under ? `${fits[0]?.name ?? "White"} goes under` : `${fits[0]?.name ?? "Clear"} goes over`),
        choices.map(([value, words]) => {
          const t = h("input", { type: "checkbox", name: group, value, onchange: () => what.set(choose(what.peek(), value, t.checked)) })
          effect(() => { t.checked = what().includes(value) })
          return h("label", { class: "tick" }, t, h("span", null, words))
        })),
      slider("Its edge lies", edge, -0.5, 0.5, 0.01, edgeWords),
      under ? slider("How much of it", tint, 20, 100, 1, v => `${v} %`) : null)
    effect(() => { keep.disabled = look.disabled = !usable() })
    return [out, row]
  }

  return { el, reset: () => untracked(() => asked.set(false)) }
}

/** The whole piece, pictures and black left out each exclude the others. */
function choose(now: readonly string[], value: string, on: boolean): string[] {
  const lone = ["flood", "images"]
  if (!on) return now.filter(v => v !== value)
  if (lone.includes(value)) return [value]
  const rest = now.filter(v => !lone.includes(v) && !(value === "process" && v === "colours") && !(value === "colours" && v === "process"))
  return [...rest, value]
}
