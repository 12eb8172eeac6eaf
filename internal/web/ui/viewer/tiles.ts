// The store of tiles: fetched in the order they are missed, decoded, handed to the renderer, forgotten when the least
// lately used are too many.

import { decodeTile, type Decoded } from "./decode"
import type { Held } from "./renderer"
import { tileAddress, tileSide, type Source } from "./sheet"

/** What the store asks of its owner. */
export interface Keeper {
  hold(t: Decoded): Held
  drop(h: Held): void
  /** A tile came or was given up. */
  changed(): void
  /** A tile could not be had: the status of the answer (0: none) and a sentence. Told once for each rev and status. */
  failed(source: Source, status: number, what: string): void
  fetch(address: string, signal: AbortSignal): Promise<Response>
}

/** A tile that is there: held is null where nothing lies on the bench. */
export interface Tile {
  readonly address: string
  readonly width: number
  readonly height: number
  readonly held: Held | null
}

/** A tile that is missed; least rank first. */
export interface Wish {
  source: Source
  level: number
  x: number
  y: number
  rank: number
}

interface Entry extends Tile {
  used: number
}

interface Fetch { stop: AbortController }

/** Requests at a time: fewer than a browser allows one host, so that others come through. */
const together = 4
/** Milliseconds before a tile that failed is asked for again: at first, each time twice as long, and at most. */
const patience = 1500
const mostPatience = 30_000

export class Tiles {
  /** Bytes that the tiles held may take. */
  readonly limit: number
  /** Bytes held, the most there ever were, and tiles held. */
  bytes = 0
  most = 0
  fetched = 0
  private readonly entries = new Map<string, Entry>()
  private readonly fetches = new Map<string, Fetch>()
  private readonly faults = new Map<string, { count: number; until: number }>()
  private readonly told = new Set<string>()
  private wishes: Wish[] = []
  private now = 0
  private timer = 0

  constructor(private readonly keeper: Keeper, limit: number) {
    this.limit = limit
  }

  get count(): number { return this.entries.size }

  /** Requests running and wishes waiting. */
  get waiting(): number { return this.fetches.size + this.wishes.length }

  /** Begins a frame: tiles looked up from now on are kept before those that were not. */
  tick(): void { this.now++ }

  /** A tile, if it is there. */
  look(source: Source, level: number, x: number, y: number): Tile | undefined {
    const e = this.entries.get(address(source, level, x, y))
    if (e) e.used = this.now
    return e
  }

  /** Replaces what is missed. Running requests of tiles that are not missed any more are stopped. */
  want(wishes: Wish[]): void {
    const asked = new Set<string>()
    const time = performance.now()
    let retry = Infinity
    this.wishes = []
    for (const w of wishes) {
      const key = address(w.source, w.level, w.x, w.y)
      if (asked.has(key)) continue
      asked.add(key)
      if (this.entries.has(key) || this.fetches.has(key)) continue
      const fault = this.faults.get(key)
      if (fault && fault.until > time) {
        retry = Math.min(retry, fault.until)
        continue
      }
      this.wishes.push(w)
    }
    this.wishes.sort((a, b) => b.rank - a.rank)
    for (const [key, f] of this.fetches) {
      if (!asked.has(key)) {
        f.stop.abort()
        this.fetches.delete(key)
      }
    }
    clearTimeout(this.timer)
    if (retry < Infinity) this.timer = setTimeout(() => this.keeper.changed(), retry - time + 1)
    this.start()
  }

  private start(): void {
    while (this.fetches.size < together) {
      const w = this.wishes.pop()
      if (!w) return
      void this.fetch(w)
    }
  }

  private async fetch(w: Wish): Promise<void> {
    const key = address(w.source, w.level, w.x, w.y)
    const f: Fetch = { stop: new AbortController() }
    this.fetches.set(key, f)
    try {
      const res = await this.keeper.fetch(key, f.stop.signal)
      const answer = res.ok && res.status !== 204 ? new Uint8Array(await res.arrayBuffer()) : null
      if (this.fetches.get(key) !== f) return // stopped
      if (res.status === 204) {
        this.put(key, 0, 0, null)
      } else if (!answer) {
        throw new Refusal(res.status, await sentence(res))
      } else {
        const size = w.source.levels[w.level]!
        const width = Math.min(tileSide, size.width - w.x * tileSide), height = Math.min(tileSide, size.height - w.y * tileSide)
        this.put(key, width, height, this.keeper.hold(decodeTile(answer, width, height)))
      }
      this.fetched++
      this.faults.delete(key)
    } catch (e) {
      if (this.fetches.get(key) !== f) return // stopped
      const status = e instanceof Refusal ? e.status : 0
      const known = this.faults.get(key)?.count ?? 0
      const gone = status >= 400 && status < 500 && status !== 429
      // What is gone stays gone; a server that was busy or away comes back.
      this.faults.set(key, { count: known + 1, until: gone ? Infinity : performance.now() + Math.min(mostPatience, patience * 2 ** known) })
      const once = `${w.source.rev} ${status}`
      if (!this.told.has(once)) {
        this.told.add(once)
        this.keeper.failed(w.source, status, e instanceof Error ? e.message : String(e))
      }
    } finally {
      if (this.fetches.get(key) === f) { // not stopped
        this.fetches.delete(key)
        this.start()
        this.keeper.changed()
      }
    }
  }

  private put(key: string, width: number, height: number, held: Held | null): void {
    this.entries.set(key, { address: key, width, height, held, used: this.now })
    this.bytes += held?.bytes ?? 0
    this.trim()
    this.most = Math.max(this.most, this.bytes)
  }

  /** Forgets tiles until those held fit. A frame asks for fewer than fit, so that what it looked up stays. */
  private trim(): void {
    if (this.bytes <= this.limit) return
    const old = [...this.entries.values()].sort((a, b) => a.used - b.used)
    for (const e of old) {
      if (this.bytes <= this.limit * 0.9) return
      this.forget(e)
    }
  }

  private forget(e: Entry): void {
    this.entries.delete(e.address)
    if (!e.held) return
    this.bytes -= e.held.bytes
    this.keeper.drop(e.held)
  }

  /** Forgets everything, for a renderer that lost it (lost) or to begin anew. */
  clear(lost = false): void {
    for (const f of this.fetches.values()) f.stop.abort()
    this.fetches.clear()
    this.wishes = []
    this.faults.clear()
    if (!lost) for (const e of this.entries.values()) if (e.held) this.keeper.drop(e.held)
    this.entries.clear()
    this.bytes = 0
    clearTimeout(this.timer)
  }
}

class Refusal extends Error {
  constructor(readonly status: number, what: string) { super(what) }
}

async function sentence(res: Response): Promise<string> {
  const said = await res.json().catch(() => null) as { error?: { what?: string } } | null
  return said?.error?.what ?? `The server answered ${res.status}.`
}

/** Addresses are built for every tile of every frame: the parts that do not change are kept with their source. */
const heads = new WeakMap<Source, [string, string]>()

function address(s: Source, level: number, x: number, y: number): string {
  let parts = heads.get(s)
  if (!parts) {
    const whole = tileAddress(s, 0, 0, 0), at = whole.indexOf("?")
    const path = at < 0 ? whole : whole.slice(0, at)
    parts = [path.slice(0, path.length - "0/0/0".length), at < 0 ? "" : whole.slice(at)]
    heads.set(s, parts)
  }
  return `${parts[0]}${level}/${x}/${y}${parts[1]}`
}
