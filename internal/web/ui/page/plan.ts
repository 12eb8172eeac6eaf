// How the job goes through the press: passes and why they are so, time and money, and other ways.

import * as api from "../api"
import * as st from "../state"
import { button, fill, h, newId, num, plural, short } from "./dom"
import { kindClass } from "./pictures"
import { attempt, sentence } from "./say"
import { debounce, effect, signal, untracked } from "./signal"
import { follow } from "./work"

/** Plans by rev and quantity, as far as they are known here. */
const plans = signal<ReadonlyMap<string, api.PlanOutcome>>(new Map())
const quantity = signal(0) // 0 = as the job says
const keyOf = (d: api.Artwork) => `${d.rev}/${quantity()}`

/** The plan of the artwork at hand, once it is known. */
export const planOf = (d: api.Artwork) => plans().get(keyOf(d))

export function planPart(): HTMLElement {
  const id = newId("pieces")
  const pieces = h("input", { type: "number", id, min: 1, max: 1e8, step: 1, "data-key": "pieces" })
  const later = debounce(600, () => quantity.set(pieces.validity.valid ? Math.round(pieces.valueAsNumber) || 0 : 0))
  pieces.addEventListener("input", later)
  const out = h("div", { class: "plan-words" })
  const el = h("section", { class: "plan" }, h("h3", null, "Through the press"), h("div", { class: "field" }, h("label", { for: id }, "How many pieces"), pieces), out)

  const asked = new Set<string>()
  const work = (d: api.Artwork, key: string) => attempt(async () => {
    asked.add(key)
    st.know(plans, key, await follow(await api.plan(d.id, d.rev, quantity.peek())))
  })
  effect(() => {
    const d = st.doc()
    if (!d || !st.ready() || st.section() !== "take") return
    const key = keyOf(d)
    if (!plans().has(key) && !asked.has(key)) untracked(() => work(d, key))
  })
  effect(() => {
    st.docId()
    quantity.set(0)
    pieces.value = ""
  })
  effect(() => {
    const d = st.doc()
    if (!d) { fill(out); return }
    const o = planOf(d)
    if (!o) {
      const running = [...st.jobs().values()].some(j => j.artwork === d.id && j.kind === "plan" && (j.state === "waiting" || j.state === "running"))
      fill(out, running ? h("p", { class: "aside" }, "Working out the passes…") : button("Work out the passes", () => work(d, keyOf(d)), { "data-key": "plan-again" }))
      return
    }
    const all = o.plans[0]?.reckoning?.quantity
    if (all && pieces.value === "" && document.activeElement !== pieces) pieces.placeholder = String(all)
    fill(out, told(o, st.pressOf(d)))
  })
  return el
}

function told(o: api.PlanOutcome, p: api.PressInfo | undefined): (Node | null)[] {
  const first = o.plans[0]
  return [
    o.impossible ? h("div", { class: "before-you-go" }, h("p", null, h("strong", null, o.impossible.what)), h("p", null, o.impossible.remedy)) : null,
    o.notes.length > 0 ? h("ul", { class: "aside" }, o.notes.map(n => h("li", null, n))) : null,
    first ? h("p", null, h("strong", null, `${plural(first.passes.length, "pass", "passes")}${first.set_changes > 0 ? `, ${plural(first.set_changes, "change")} of the set` : ""}`),
      first.name === "as wished" ? "" : ` ${first.name}`, ". ", sums(first)) : null,
    first ? h("details", { class: "fold" }, h("summary", { "data-key": "plan-passes" }, "Pass by pass"), passes(first, p)) : null,
    first ? fold("Why these passes", "why", [...first.why, ...(first.unusual ?? []).map(u => `Page ${u.page}: ${u.words}`)]) : null,
    first ? fold("Where passes meet", "meet", first.register_words) : null,
    first?.reckoning ? money(first.reckoning) : null,
    o.plans.length > 1 ? others(o) : null,
  ]
}

const amount = (f: api.Figure | undefined) => f && f.value !== null ? f.unit === "EUR" || /^[A-Z]{3}$/.test(f.unit) ? `${num(f.value, 2)} ${f.unit}` : `${short(f.value, 1)} ${f.unit}` : ""

/** Time, money and pieces in one sentence; what the definitions do not tell is left out. */
function sums(c: api.PlanChoice): string {
  const r = c.reckoning
  if (!r) return ""
  const words = [amount(r.minutes) ? `${short(r.minutes.value ?? 0, 0)} minutes on the press` : "", amount(r.total), amount(r.per_piece) ? `${amount(r.per_piece)} a piece` : ""].filter(w => w)
  const of = [r.quantity ? plural(r.quantity, "piece") : "", r.pieces_on_a_sheet ? `${r.pieces_on_a_sheet} on a sheet` : ""].filter(w => w)
  return `${words.join(", ")}${of.length ? `${words.length ? ", for " : "For "}${of.join(", ")}` : ""}${words.length || of.length ? "." : ""}`
}

/** The passes in the order of the work, each with its toners, the first laid first. */
function passes(c: api.PlanChoice, p: api.PressInfo | undefined): HTMLElement {
  let set = 0
  return h("ol", { class: "passes" }, c.passes.flatMap(x => {
    const changed = x.set_up !== set
    set = x.set_up
    return [changed ? h("li", { class: "pass" }, `The set “${x.set}” is in the press`) : null,
      h("li", null, h("span", null, `Page ${x.page}, pass ${x.of_page}`), h("span", { class: "toners" }, x.toners.map(name => {
        const t = p?.toners.find(t => t.name === name)
        return h("span", { class: "toner" }, h("span", { class: `chip ${kindClass(t?.kind ?? "")}`, css: { background: t?.on_white ?? "transparent" } }), name)
      })))]
  }))
}

function fold(words: string, key: string, lines: readonly string[]): HTMLElement | null {
  return lines.length === 0 ? null : h("details", { class: "fold" }, h("summary", { "data-key": `plan-${key}` }, words), h("ul", null, lines.map(l => h("li", null, sentence(l)))))
}

function money(r: api.Reckoning): HTMLElement {
  const rows = [...r.sheets, ...r.time, r.minutes, ...r.costs, r.total, r.per_piece]
  const missing = [...new Set(rows.flatMap(f => f.not_given ?? []))]
  return h("details", { class: "fold" }, h("summary", { "data-key": "plan-money" }, "Sheets, time and money"),
    h("table", null, h("tbody", null, rows.filter(f => f.value !== null).map(f => h("tr", { title: f.formula }, h("th", { scope: "row" }, f.what), h("td", null, amount(f)))))),
    missing.length > 0 ? h("p", { class: "aside" }, `Not known, because no definition tells it: ${missing.join(", ")}.`) : null,
    r.price_note ? h("p", { class: "aside" }, r.price_note) : null,
    (r.price_breaks?.length ?? 0) > 1 ? h("table", null, h("caption", null, "Other quantities"), h("tbody", null, (r.price_breaks ?? []).map(b =>
      h("tr", null, h("th", { scope: "row" }, plural(b.quantity, "piece")), h("td", null, amount(b.total)), h("td", null, amount(b.per_piece) ? `${amount(b.per_piece)} each` : ""))))) : null)
}

const signed = (v: number, decimals: number) => `${v > 0 ? "+" : v < 0 ? "−" : "±"}${num(Math.abs(v), decimals)}`

function others(o: api.PlanOutcome): HTMLElement {
  return h("details", { class: "fold" }, h("summary", { "data-key": "plan-others" }, "Other ways"), h("ul", null, o.plans.slice(1).map(c => {
    const d = c.against_first
    const against = d ? [d.minutes ? `${signed(d.minutes, 0)} minutes` : "", d.cost ? `${signed(d.cost, 2)} ${c.reckoning?.currency ?? ""}` : "",
      d.look ? d.look.mean_de00 < 0.005 && d.look.largest_mm2 === 0 ? "looks the same" : `looks other by ΔE00 ${num(d.look.mean_de00, 2)} in the mean` : ""].filter(w => w) : []
    return h("li", null, `${plural(c.passes.length, "pass", "passes")} ${c.name}`, against.length ? `: ${against.join(", ")}.` : ".", d?.look?.lost?.length ? h("ul", { class: "aside" }, d.look.lost.map(l => h("li", null, sentence(l)))) : null)
  })))
}
