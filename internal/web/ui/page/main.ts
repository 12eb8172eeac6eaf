// Where the page begins.

import * as api from "../api"
import * as st from "../state"
import { startBench } from "./bench"
import { startChecks } from "./checks"
import { byId, fill, h } from "./dom"
import { acceptDrops } from "./files"
import { startHead } from "./head"
import { startProofs } from "./proof"
import { startSide } from "./side"
import { effect, untracked } from "./signal"
import { complain } from "./say"
import { startLaying } from "./laying"
import { startWelcome } from "./welcome"
import { knowJobs, listen } from "./work"

async function begin() {
  st.readAddress(location.hash)
  const [state, presses, stocks, remedies] = await Promise.all([api.state(), api.presses(), api.stocks(), api.remedies()])
  st.limits.set(state.limits)
  st.drafts.set(state.drafts ?? [])
  knowJobs(state.jobs)
  st.presses.set(presses)
  st.stocks.set(stocks)
  st.remedies.set(remedies)
  st.artworks.set(state.artworks ?? [])
  await askedVersion()

  st.keepAddress()
  startHead()
  startWelcome(byId("welcome"))
  startLaying(byId("laying"))
  startBench()
  startSide()
  startChecks()
  startProofs()
  acceptDrops()
  listen(lost => document.body.classList.toggle("lost", lost))

  effect(() => {
    const d = st.doc()
    byId("welcome").hidden = d !== null
    byId("laying").hidden = d === null || st.ready()
    byId("bench").hidden = !st.ready()
    document.title = d ? `${d.name}, page ${st.pageNo()}` : "The sheet on the bench"
    document.body.dataset.state = d === null ? "welcome" : st.ready() ? "bench" : "laying"
  })
  // An address of an artwork the server does not hold leads to the welcome.
  effect(() => {
    const d = st.doc()
    if (d === null && st.docId() !== "") untracked(st.leave)
    else if (d && st.pageNo() > d.pages) untracked(() => st.turnTo(d.pages))
  })
}

/** An address that names another version makes that the current one. */
async function askedVersion() {
  const d = st.doc()
  if (d && st.askedVersion > 0 && st.askedVersion !== d.at && d.versions.some(v => v.n === st.askedVersion))
    st.take(await api.setAt(d.id, st.askedVersion))
}

begin().catch(e => {
  complain(e)
  const f = api.faultOf(e)
  const w = byId("welcome")
  w.hidden = false
  fill(w, h("div", { class: "lost-page" }, h("h1", null, "The bench cannot be reached"), h("p", null, f.what), f.remedy && h("p", null, f.remedy)))
})
