// How far long work is, with a way to stop it. The line stays the same element while the work goes on, so that a click on it holds.

import * as api from "../api"
import * as st from "../state"
import { button, h } from "./dom"
import { attempt } from "./say"
import { effect } from "./signal"
import { jobWords } from "./words"

/** A job's progress; where says whose data-key the button to stop it has. */
export function progressLine(id: string, where: string): HTMLElement {
  const words = h("span"), bar = h("progress")
  const stop = button("Stop", () => attempt(() => api.stopJob(id)), { class: "quiet", "data-key": `${where}-${id}` })
  const end = effect(() => {
    const j = st.jobs().get(id)
    if (!j || j.state !== "waiting" && j.state !== "running") { queueMicrotask(() => end()); return }
    const doing = jobWords(j.kind, j.what)
    words.textContent = j.total > 1 ? `${doing} ${Math.min(j.done + 1, j.total)} of ${j.total}` : doing
    bar.max = Math.max(1, j.total)
    if (j.total > 0) bar.value = j.done
    else bar.removeAttribute("value")
    bar.setAttribute("aria-label", doing)
    stop.setAttribute("aria-label", `Stop: ${doing}`)
  })
  return h("div", { class: "job" }, words, bar, stop)
}
