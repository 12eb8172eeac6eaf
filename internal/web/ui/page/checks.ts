// Checks run by themselves whenever the artwork at hand is another one: another file, version, press, stock or job.

import * as api from "../api"
import * as st from "../state"
import { busy } from "./mending"
import { complain, speak } from "./say"
import { effect, signal } from "./signal"
import { plural } from "./dom"
import { follow } from "./work"

const asked = new Set<string>()
/** Revs whose checks are under way. */
export const checking = signal<ReadonlySet<string>>(new Set())

export function startChecks() {
  effect(() => {
    const d = st.doc()
    if (busy()) return // a mend brings what its checks said
    if (!d || !st.ready() || st.outcomes().has(d.rev) || asked.has(d.rev)) return
    asked.add(d.rev)
    run(d.id, d.rev).catch(complain)
  })
  // The finding chosen may be of a list that is no longer.
  effect(() => {
    if (st.outcome() && st.chosen() >= st.findings().length) st.chosen.set(-1)
  })
}

async function run(id: string, rev: string) {
  checking.set(new Set([...checking.peek(), rev]))
  let o: api.Outcome
  try {
    o = await follow<api.Outcome>(await api.check(id, rev))
  } finally {
    checking.set(new Set([...checking.peek()].filter(r => r !== rev)))
  }
  st.know(st.outcomes, rev, o)
  const wrong = o.findings.filter(f => f.severity === "error").length
  speak(o.findings.length === 0 ? "Nothing was found." : `${plural(o.findings.length, "thing was", "things were")} found; ${wrong} will print wrong.`)
}

/** Checks once more what has been checked or stopped. */
export function checkAgain(a: api.Artwork) {
  asked.add(a.rev)
  run(a.id, a.rev).catch(complain)
}
