// Long work: started, followed to its end, stopped. One stream of events serves all tabs of the browser.

import * as api from "../api"
import * as st from "../state"
import { drop, jobs, know, take } from "../state"

type Told = { kind: "job"; job: api.Job } | { kind: "artwork"; artwork: api.Artwork } | { kind: "gone"; id: string } | { kind: "drafts" } | { kind: "state"; state: api.State }

/** Reads presses, stocks and drafts anew. */
export async function definitions() {
  const [p, k, s] = await Promise.all([api.presses(), api.stocks(), api.state()])
  st.presses.set(p)
  st.stocks.set(k)
  st.drafts.set(s.drafts ?? [])
}

/** The work was stopped by hand; nobody needs to be told. */
export class Stopped extends Error {}

/** Milliseconds before a stream that was refused is asked for again. */
const pause = 4000

/** Follows the server's events. The tab that holds the lock reads the stream and passes it on to the others. */
export function listen(lost: (yes: boolean) => void) {
  const others = new BroadcastChannel("laydown-events")
  const hear = (t: Told) => {
    if (t.kind === "job") know(jobs, t.job.id, t.job)
    else if (t.kind === "artwork") take(t.artwork)
    else if (t.kind === "state") void begun(t.state)
    else if (t.kind === "gone") drop(t.id)
    else void definitions()
  }
  others.onmessage = e => hear(e.data as Told)
  const begin = () => {
    const stream = new EventSource("/api/events")
    const pass = (t: Told) => {
      hear(t)
      others.postMessage(t)
    }
    stream.addEventListener("state", e => pass({ kind: "state", state: JSON.parse(e.data as string) as api.State }))
    stream.addEventListener("job", e => pass({ kind: "job", job: JSON.parse(e.data as string) as api.Job }))
    stream.addEventListener("artwork", e => pass({ kind: "artwork", artwork: JSON.parse(e.data as string) as api.Artwork }))
    stream.addEventListener("gone", e => pass({ kind: "gone", id: (JSON.parse(e.data as string) as { id: string }).id }))
    stream.addEventListener("draft", () => { hear({ kind: "drafts" }); others.postMessage({ kind: "drafts" }) })
    stream.onopen = () => lost(false)
    stream.onerror = () => {
      lost(true)
      // After an answer that is no stream the browser does not try again.
      if (stream.readyState === EventSource.CLOSED) setTimeout(begin, pause)
    }
  }
  // The lock is held as long as the tab is there.
  const lead = () => new Promise<void>(begin)
  if (navigator.locks) void navigator.locks.request("laydown-events", lead)
  else begin()
}

/** Takes what the stream begins with. What is known here and not in it is asked for: it is gone, or came meanwhile. */
async function begun(s: api.State) {
  knowJobs(s.jobs)
  for (const a of s.artworks) take(a)
  for (const a of st.artworks.peek().filter(a => !s.artworks.some(b => b.id === a.id))) {
    try {
      take(await api.artwork(a.id))
    } catch (e) {
      if (e instanceof api.ApiError && e.status === 404) drop(a.id)
    }
  }
}

/** Takes the jobs there are: one that ended unheard must not be waited for. */
export function knowJobs(list: readonly api.Job[]) {
  jobs.set(new Map(list.map(j => [j.id, j])))
}

const ended = (j: api.Job) => j.state === "done" || j.state === "failed" || j.state === "stopped"

/** Waits until a job has ended and gives its result; asks now and then, should an event get lost. */
export async function follow<R>(started: api.Job<R>): Promise<R> {
  know(jobs, started.id, jobs.peek().get(started.id) ?? started)
  for (let wait = 150; ; wait = Math.min(2000, wait * 1.5)) {
    const known = jobs.peek().get(started.id)
    if (known && ended(known)) break
    await new Promise(r => setTimeout(r, wait))
    const heard = jobs.peek().get(started.id)
    if (!heard || !ended(heard)) know(jobs, started.id, await api.job<R>(started.id))
  }
  const j = await api.job<R>(started.id)
  know(jobs, j.id, j)
  if (j.state === "stopped") throw new Stopped("stopped")
  if (j.state === "failed") throw new api.ApiError(422, j.error ?? { what: "It could not be done." })
  return j.result as R
}

/** The jobs of an artwork that still run. */
export function runningOf(id: string): api.Job[] {
  return [...jobs().values()].filter(j => j.artwork === id && !ended(j))
}
