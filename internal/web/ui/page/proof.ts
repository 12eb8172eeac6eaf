// What is tried and not kept yet; the proof of a mend, in words and numbers; and the way back.

import * as api from "../api"
import * as st from "../state"
import { stepVersion } from "./bench"
import { button, fill, h, plural, short } from "./dom"
import { busy, dropTrial, mendNow, trying } from "./mending"
import { attempt } from "./say"
import { effect } from "./signal"
import { sayUse } from "./words"

/** What is tried lies at the foot of the column, so that nothing moves under the hand that tries. */
export function startTrial(el: HTMLElement) {
  const words = h("p")
  const keep = button("Keep it", () => { const t = st.trial.peek(); if (t) void mendNow(t.uses, false, t.words) }, { class: "main", "data-key": "keep" })
  const leave = button("Leave it", dropTrial, { "data-key": "leave" })
  fill(el, words, h("div", { class: "row" }, keep, leave))
  effect(() => {
    const t = st.trialRev() ? st.trial() : null
    el.hidden = t === null && !busy() && !trying()
    keep.disabled = t === null || busy() || trying()
    leave.disabled = busy()
    fill(words, busy() ? [h("strong", null, "Mending"), ", and proving that nothing else changes…"]
      : trying() ? h("strong", null, "Trying it out…")
        : t ? [h("strong", null, "Only looked at: "), t.words, ". Nothing is kept yet."] : null)
  })
}

/** Fetches the proof of a version that this page did not make, or made before it was loaded anew. */
export function startProofs() {
  const asked = new Set<string>()
  effect(() => {
    const d = st.doc()
    if (!d || busy() || st.lineage(d).length < 2 || st.proofs().has(d.rev) || asked.has(d.rev)) return
    asked.add(d.rev)
    attempt(async () => {
      try {
        st.know(st.proofs, d.rev, await api.proof(d.id, d.rev))
      } catch (e) {
        // With another press or stock than it was mended with there is none.
        if (!(e instanceof api.ApiError && e.status === 404)) throw e
      }
    })
  })
}

/** The versions of an artwork, and the proof of the one looked at unless only the way back is wanted. */
export function proof(whole: boolean): HTMLElement {
  const el = h("div", { class: "proof" })
  effect(() => {
    const d = st.doc()
    fill(el, d && history(d, whole))
  })
  return el
}

const named = (v: api.Version) => v.from ? v.title : "As it came"

function history(d: api.Artwork, whole: boolean): HTMLElement | null {
  if (d.versions.length < 2) return null
  const line = st.lineage(d), next = st.madeOf(d)
  const mended = line.length > 1
  return h("section", { class: "history" },
    h("h3", null, mended ? "What was mended" : "As it came"),
    h("ol", { class: "versions" }, d.versions.map(v => h("li", { class: line.includes(v) ? "" : "ahead" },
      button(named(v), () => attempt(async () => { dropTrial(); st.take(await api.setAt(d.id, v.n)) }),
        { class: "line", "aria-current": v.n === d.at ? "true" : undefined, "data-key": `version-${v.n}` })))),
    h("div", { class: "row" },
      button("Take back", () => void stepVersion(-1), { disabled: !mended, "data-key": "back" }),
      button("Bring again", () => void stepVersion(1), { disabled: !next, "data-key": "again" }),
      mended ? h("a", { class: "button", href: api.fileURL(d.id, d.at), download: "", id: "download" }, "Save the mended file") : null),
    line.length > 2 ? foldChoice(line.slice(1)) : null,
    mended && whole ? numbers(st.proofs().get(d.rev)) : null)
}

function foldChoice(before: readonly api.Version[]): HTMLElement {
  const pick = h("select", { "data-key": "fold-with", onchange: () => { st.foldWith.set(Number(pick.value)); if (st.fold.peek() === 0) st.fold.set(0.5) } },
    before.map(v => h("option", { value: String(v.n), selected: v.n === st.otherVersion()?.n }, named(v))))
  return h("label", { class: "pick" }, h("span", null, "Fold back to"), pick)
}

/** Which plates changed, by how much, and that all else is the same. */
function numbers(o: api.MendOutcome | undefined): HTMLElement | null {
  if (!o) return null
  const pages = o.difference?.pages ?? []
  const done = o.steps.filter(s => s.changed), left = o.steps.filter(s => s.failed || s.refused?.length)
  return h("div", { class: "numbers" },
    h("ul", null, done.map(s => h("li", null, sayUse(s.use, s.title), s.notes?.length ? h("span", { class: "aside" }, ` ${s.notes.join(" ")}`) : null))),
    left.length > 0 ? h("p", { class: "aside" }, "Left out: ", left.map(s => `${sayUse(s.use, s.title)} (${s.failed ?? "it would have changed something else too"})`).join("; "), ".") : null,
    h("h4", null, "The proof: all plates, before and after"),
    pages.map(p => {
      const changed = p.plates.filter(x => !x.same), same = p.plates.filter(x => x.same)
      const area = p.size_b_mm.w * p.size_b_mm.h
      return h("div", null,
        changed.length === 0 ? h("p", null, `Page ${p.page}: every plate is the same.`)
          : h("table", null, h("caption", null, `Page ${p.page}`),
            h("thead", null, h("tr", null, ["Plate", "Changed area", "At most by"].map(t => h("th", { scope: "col" }, t)))),
            h("tbody", null, changed.map(x => h("tr", null, h("th", { scope: "row" }, x.colourant),
              h("td", null, `${short(area * x.share_percent / 100, 1)} mm²`), h("td", null, `${short(x.worst_percent, 0)} % tint`))))),
        changed.length > 0 && same.length > 0 ? h("p", { class: "aside" }, `The same in every pixel: ${same.map(x => x.colourant).join(", ")}.`) : null)
    }),
    o.difference && !o.difference.complete ? h("p", { class: "aside" }, "Part of the file could not be drawn as written, so changes there would not be seen.") : null,
    h("p", { class: "aside" }, `${plural(o.before.findings.length, "thing was", "things were")} found before, ${o.after?.findings.length ?? 0} after. The file that came in is untouched.`))
}
