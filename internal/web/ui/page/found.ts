// What we found: in words, with place, reason and remedy, grouped by page and by how much it matters.

import type { Finding } from "../api"
import * as st from "../state"
import { goTo } from "./bench"
import { checkAgain, checking } from "./checks"
import { button, fill, h, plural } from "./dom"
import { busy, mendNow, tryNow } from "./mending"
import { proof } from "./proof"
import { effect, untracked } from "./signal"
import { figureWords, placeWords, sayUse, severities, severityWords } from "./words"

export function foundSection(): HTMLElement {
  const head = h("div", { class: "found-head" })
  const list = h("div", { class: "found-list" })
  const el = h("div", { class: "part found" }, head, proof(true), list)
  effect(() => fill(head, summary()))
  effect(() => fill(list, groups()))
  // What was chosen comes into sight, here and on the sheet.
  let last = -1
  effect(() => {
    const i = st.chosen(), f = st.findings()[i], page = st.sheet()
    if (i === last || !f) { if (!f) last = -1; return }
    if (f.place.page && f.place.page !== st.pageNo()) {
      untracked(() => { st.turnTo(f.place.page ?? 1); st.chosen.set(i) })
      return
    }
    if (!page) return
    const first = last === -1 && untracked(st.view) !== null
    last = i
    if (f.place.box && !first) untracked(() => goTo(f.place.box as NonNullable<typeof f.place.box>))
    queueMicrotask(() => document.getElementById(`finding-${i}`)?.scrollIntoView({ block: "nearest" }))
  })
  return el
}

function summary(): (Node | null)[] {
  const d = st.doc(), o = st.outcome()
  if (!d) return []
  if (!o) {
    const looking = busy() ? "Mending…" : checking().has(d.rev) ? "Looking for faults…" : ""
    return [h("h2", null, looking || "Not looked at yet"), looking ? null : button("Look for faults", () => checkAgain(d), { "data-key": "again" })]
  }
  const fs = o.findings
  if (fs.length === 0) return [h("h2", null, "Nothing found"), h("p", null, "As far as the checks see, this will print as shown.")]
  const count = (s: string) => fs.filter(f => f.severity === s).length
  const words = [
    count("error") > 0 ? `${plural(count("error"), "thing")} will print wrong` : "Nothing will print wrong",
    count("warning") > 0 ? `${count("warning")} to look at` : "", count("note") > 0 ? `${count("note")} good to know` : "",
  ].filter(w => w)
  const safe = safeUses(fs)
  return [h("h2", null, words.map((w, i) => [h("span", { class: "phrase" }, w + (i < words.length - 1 ? "," : ".")), " "]).flat()),
    safe.length > 0 ? h("div", { class: "all-safe" },
      button("Mend all that is safe", () => mendNow([], true, "Mended all that is safe"), { class: "main", "data-key": "all-safe", "aria-describedby": "all-safe-help" }),
      h("p", { class: "aside", id: "all-safe-help" }, `Safe mends leave the look that is meant as it is. Here: ${safe.slice(0, 4).map(u => say(u)).join("; ")}${safe.length > 4 ? "; and more" : ""}.`)) : null]
}

const info = (use: string) => st.remedies().find(r => r.id === use.split(":")[0])
const say = (use: string) => sayUse(use, info(use)?.title)

function safeUses(fs: readonly Finding[]): string[] {
  return [...new Set(fs.flatMap(f => f.mends ?? []).filter(u => info(u)?.safe))]
}

function groups(): HTMLElement[] {
  const fs = st.findings()
  const now = st.chosen()
  const pages = [...new Set(fs.map(f => f.place.page ?? 0))].sort((a, b) => a - b)
  // The page on the bench comes first, then the others, then the whole file.
  const order = [...pages.filter(p => p === st.pageNo()), ...pages.filter(p => p !== st.pageNo() && p !== 0), ...pages.filter(p => p === 0)]
  return order.map(p => h("section", { class: "found-page" },
    h("h3", null, p === 0 ? "Of the whole file" : `On page ${p}`),
    severities.map(s => {
      const of = fs.map((f, i) => ({ f, i })).filter(x => (x.f.place.page ?? 0) === p && x.f.severity === s)
      return of.length === 0 ? null : h("div", { class: `rank ${s}` }, h("h4", null, severityWords[s]), h("ol", null, of.map(x => entry(x.f, x.i, x.i === now))))
    }).filter(x => x !== null)))
}

function entry(f: Finding, i: number, open: boolean): HTMLElement {
  return h("li", { class: `finding ${f.severity}${open ? " open" : ""}`, id: `finding-${i}` },
    h("button", { type: "button", class: "finding-head", "aria-expanded": String(open), "data-key": `finding-${i}`, onclick: () => st.chosen.set(open ? -1 : i) },
      h("span", { class: `tag still ${f.severity}`, "aria-hidden": "true" }, String(i + 1)),
      h("span", null, f.what, f.count && f.count > 1 ? h("span", { class: "aside" }, ` ${f.count} times`) : null)),
    open ? details(f) : null)
}

function details(f: Finding): HTMLElement {
  const figures = Object.entries(f.figures ?? {}).map(([k, v]) => figureWords(k, v))
  return h("div", { class: "finding-body" },
    f.why ? h("p", null, f.why) : null,
    f.remedy ? h("p", { class: "remedy" }, h("strong", null, "What to do: "), f.remedy) : null,
    f.mends?.length ? h("ul", { class: "mends" }, f.mends.map(u => offer(u))) : null,
    h("dl", { class: "figures" }, h("dt", null, "Where"), h("dd", null, placeWords(f)),
      figures.map(([k, v]) => [h("dt", null, k), h("dd", null, v)]).flat(),
      f.place.colourants?.length ? [h("dt", null, "Toners"), h("dd", null, f.place.colourants.join(", "))] : []),
    f.notes?.length ? h("ul", { class: "aside" }, f.notes.map(n => h("li", null, n))) : null,
    f.incomplete ? h("p", { class: "aside" }, "Something here was not painted as it is written, so this page cannot be called clean.") : null)
}

function offer(use: string): HTMLElement {
  const words = say(use)
  const looking = st.trial()?.uses.join() === use
  return h("li", { class: "mend" },
    button([words, info(use)?.safe ? h("span", { class: "safe" }, "safe") : null], () => mendNow([use], false, words), { class: "do", "data-key": `do-${use}` }),
    button(looking ? "As it is" : "Look first", () => looking ? st.trial.set(null) : tryNow([use], words),
      { class: "small", "aria-pressed": String(looking), "data-key": `try-${use}`, "aria-label": `${looking ? "As it is" : "Look first"}: ${words}` }))
}
