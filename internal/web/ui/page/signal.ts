// Values that tell who reads them when they change.

type Run = { fn: () => void; deps: Set<Set<Run>> }

let running: Run | null = null
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
  effect(() => s.set(fn()))
  return () => running ? s() : fn()
}

function later(readers: Set<Run>) {
  if (!queue) {
    queue = new Set()
    queueMicrotask(flush)
  }
  for (const r of readers) queue.add(r)
}

/** Runs what waits, until nothing does; a circle of effects is an error rather than a standstill. */
function flush() {
  for (let round = 0; queue && queue.size > 0; round++) {
    const now = queue
    queue = new Set()
    if (round > 100) {
      queue = null
      throw new Error("effects set each other off without end")
    }
    for (const r of now) go(r)
  }
  queue = null
}

function go(r: Run) {
  for (const d of r.deps) d.delete(r)
  r.deps.clear()
  const outer = running
  running = r
  try {
    r.fn()
  } finally {
    running = outer
  }
}

/** Runs fn now and whenever a signal it read has changed; the result stops it. */
export function effect(fn: () => void): () => void {
  const r: Run = { fn, deps: new Set() }
  go(r)
  return () => {
    for (const d of r.deps) d.delete(r)
    r.deps.clear()
    r.fn = () => {}
  }
}

/** Reads signals without following them. */
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
