// Mending: tried at once without proof, or done with it.

import * as api from "../api"
import * as st from "../state"
import { foldAt } from "./bench"
import { byId, plural } from "./dom"
import { complain, speak, tell } from "./say"
import { signal } from "./signal"
import { follow } from "./work"

/** A mend is under way. */
export const busy = signal(false)
/** A trial is under way. */
export const trying = signal(false)

let asked = new AbortController()

/** Shows what remedies would do, folded against the sheet as it is. Nothing is kept. */
export async function tryNow(uses: string[], words: string): Promise<boolean> {
  const d = st.doc()
  if (!d) return false
  asked.abort()
  const mine = asked = new AbortController()
  trying.set(true)
  try {
    const t = await api.tryOut(d.id, uses, st.pageNo.peek(), mine.signal)
    if (mine.signal.aborted) return false
    if (!t.changed) {
      tell(t.steps.flatMap(s => s.notes ?? []).join(" ") || "On this page that changes nothing.")
      dropTrial()
      return false
    }
    st.trial.set({ id: d.id, rev: t.rev, uses, words })
    speak(`Only looked at: ${words}. Nothing is kept yet.`)
    foldAt(placesNow())
    return true
  } catch (e) {
    // 409: a later trial has overtaken it.
    if (!(e instanceof api.ApiError && e.status === 409)) complain(e)
    return false
  } finally {
    if (asked === mine) trying.set(false)
  }
}

/** Where what is about to change lies, as far as it was pointed at or chosen. */
function placesNow(): readonly api.Box[] {
  if (st.lit.peek().length > 0) return st.lit.peek()
  const b = st.findings()[st.chosen.peek()]?.place.box
  return b ? [b] : []
}

export function dropTrial() {
  asked.abort()
  st.trial.set(null)
}

/** Mends, proves, and folds the sheet as it was over the sheet as it is. */
export async function mendNow(uses: string[], allSafe: boolean, title: string): Promise<boolean> {
  const d = st.doc()
  if (!d || busy.peek()) return false
  busy.set(true)
  const places = placesNow()
  try {
    const out = await follow<api.MendOutcome>(await api.mend(d.id, uses, allSafe, title))
    const a = await api.artwork(d.id)
    const made = out.rev || d.rev // which need not be what is looked at by now
    st.know(st.proofs, made, out)
    if (out.after && made !== d.rev) st.know(st.outcomes, made, out.after)
    dropTrial()
    st.take(a)
    if (out.refused?.length) {
      complain(new api.ApiError(409, { what: "The mend was not kept: it would have changed what nobody asked for.", remedy: out.refused.map(b => b.what).join(" ") }))
      return false
    }
    const changed = out.steps.some(s => s.changed)
    if (!changed) {
      tell(out.steps.flatMap(s => s.notes ?? []).join(" ") || "There was nothing for it to change.")
      return false
    }
    const boxes = out.difference?.pages.find(p => p.page === st.pageNo.peek())?.plates.flatMap(p => p.boxes ?? []) ?? []
    st.foldWith.set(0)
    foldAt(places.length > 0 ? places : boxes)
    st.chosen.set(-1)
    st.section.set("found")
    setTimeout(() => {
      document.querySelector("#part-found .history")?.scrollIntoView({ block: "nearest" })
      // The button that was pressed is gone, and the focus with it.
      if (document.activeElement === document.body) byId("side").focus({ preventScroll: true })
    }, 0)
    const left = out.after?.findings.length ?? 0
    tell(`Mended. ${plural(out.before.findings.length, "thing was", "things were")} found before; now ${left === 1 ? "1 is" : `${left} are`} left.`)
    return true
  } catch (e) {
    complain(e)
    return false
  } finally {
    busy.set(false)
  }
}
