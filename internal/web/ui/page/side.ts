// The column beside the sheet: four things one can do, one at a time.

import * as st from "../state"
import { changeSection } from "./change"
import { byId, button, fill, h } from "./dom"
import { foundSection } from "./found"
import { lookSection } from "./look"
import { dropTrial } from "./mending"
import { startTrial } from "./proof"
import { effect, untracked } from "./signal"
import { takeSection } from "./take"

const words: Record<st.Section, string> = { look: "Look", found: "Found", change: "Change", take: "Take along" }

export function startSide() {
  const ways = byId("ways"), now = byId("now")
  effect(() => {
    const all = st.section()
    const n = st.findings().length
    const known = st.outcome() !== null
    fill(ways, (Object.keys(words) as st.Section[]).map(s => button(
      [words[s], s === "found" && known && n > 0 ? h("span", { class: "count" }, String(n)) : null],
      () => st.section.set(s), { "aria-current": s === all ? "true" : undefined, "data-key": `way-${s}` })))
  })
  const parts: Record<st.Section, HTMLElement> = { look: lookSection(), found: foundSection(), change: changeSection(), take: takeSection() }
  for (const [s, el] of Object.entries(parts)) {
    el.id = `part-${s}`
    now.append(el)
  }
  startTrial(byId("trial"))
  effect(() => {
    const s = st.section()
    for (const [k, el] of Object.entries(parts)) el.hidden = k !== s
    untracked(() => {
      st.pointing.set(s === "change")
      if (s !== "change") st.lit.set([])
      if (s !== "change" && s !== "found") dropTrial()
      now.scrollTop = 0
      if (now.getBoundingClientRect().top < 0) byId("side").scrollIntoView() // in a narrow window the page itself was scrolled
    })
  })
}
