// Values that tell who reads them when they change.

type Run = { fn: () => void; deps: Set<Set<Run>>; early: boolean; made: Run[] }

let running: Run | null = null // whose reads are followed
let owner: Run | null = null // whose effects are made
let queue: Set<Run> | null = null

export interface Signal<T> {
  (): T
  set(v: T): void
  /** Reads without following. */
  peek(): T
}

/** A value; effects that read it run again when another is set. */
export function signal<T>(first: T): Signal<T> {
  let value = first
  const readers = new Set<Run>()
  const read = () => {
    if (running) {
      readers.add(running)
      running.deps.add(readers)
    }
    return value
  }
  return Object.assign(read, {
    set(v: T) {
      if (Object.is(v, value)) return
      value = v
      later(readers)
    },
    peek: () => value,
  })
}

/** A value worked out of others: followers run again only when it is another one; who just asks gets it worked out anew. */
export function derived<T>(fn: () => T): () => T {
  const s = signal<T>(undefined as T)
  effect(() => s.set(fn()), true)
  return () => running ? s() : fn()
}

function later(readers: Set<Run>) {
  if (!queue) {
    queue = new Set()
    queueMicrotask(flush)
  }
  for (const r of readers) queue.add(r)
}

/** Runs what waits until nothing does, what works out values before who reads them; a circle is an error rather than a standstill. */
function flush() {
  let budget = 100_000
  try {
    for (let r = next(); r; r = next()) {
      if (--budget < 0) throw new Error("effects set each other off without end")
      try {
        go(r)
      } catch (e) {
        reportError(e) // the others still run
      }
    }
  } finally {
    queue = null
  }
}

function next(): Run | undefined {
  if (!queue) return undefined
  let first: Run | undefined
  for (const r of queue) {
    if (r.early) { first = r; break }
    first ??= r
  }
  if (first) queue.delete(first)
  return first
}

function go(r: Run) {
  forget(r)
  const outer = running, outerOwner = owner
  running = owner = r
  try {
    r.fn()
  } finally {
    running = outer
    owner = outerOwner
  }
}

/** Follows nothing any more, and ends the effects it made. */
function forget(r: Run) {
  for (const d of r.deps) d.delete(r)
  r.deps.clear()
  for (const m of r.made.splice(0)) stop(m)
}

function stop(r: Run) {
  r.fn = () => {}
  forget(r)
  queue?.delete(r)
}

/**
 * Runs fn now and whenever a signal it read has changed; the result stops it. Early: before others that wait. Effects it makes end when it runs
 * again, as what they follow is made anew then.
 */
export function effect(fn: () => void, early = false): () => void {
  const r: Run = { fn, deps: new Set(), early, made: [] }
  owner?.made.push(r)
  go(r)
  return () => stop(r)
}

/** Reads signals without following them. Effects made in it are still those of the effect round it. */
export function untracked<T>(fn: () => T): T {
  const outer = running
  running = null
  try {
    return fn()
  } finally {
    running = outer
  }
}

/** Calls fn once calls have stopped for ms; stop drops what waits. */
export function debounce<A extends unknown[]>(ms: number, fn: (...a: A) => void): ((...a: A) => void) & { stop(): void } {
  let t = 0
  return Object.assign((...a: A) => {
    clearTimeout(t)
    t = setTimeout(() => fn(...a), ms)
  }, { stop: () => clearTimeout(t) })
}
