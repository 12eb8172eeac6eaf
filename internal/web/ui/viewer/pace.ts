// How coarsely to draw while something moves: as finely as frames come in time.

/** Milliseconds that frames may take, and those aimed at when they took longer. */
export interface Budget { most: number; aim: number }

/** The coarsest grain: pixels of the screen along the side of a drawn one. */
export const coarsest = 6
/** So many frames late, one after the other, make pixels coarser; so many, half of them with time to spare, finer. */
const late = 4
const spare = 8

export class Pace {
  /** Pixels of the screen along the side of a drawn one. */
  grain = 1
  private known = false
  /** What the last frames of this grain took. */
  private readonly last: number[] = []

  constructor(private readonly budget: Budget) {}

  /** Before frames were timed while something moved: what a full frame is likely to take. */
  guess(ms: number): void {
    if (!this.known) this.grain = this.reach(ms, 1)
  }

  /** A frame of a grain took so many milliseconds. */
  took(ms: number, grain: number): void {
    if (grain !== this.grain) return
    const first = !this.known
    this.known = true
    this.last.push(ms)
    // One slow frame may be another program's fault, and so may three: then fewer pixels would not help.
    const least = first ? ms : this.last.length < late ? 0 : Math.min(...this.last.slice(-late))
    if (least > this.budget.most) {
      this.change(Math.max(grain + 1, this.reach(least, grain)))
    } else if (this.last.length >= spare) {
      const usual = [...this.last].sort((a, b) => a - b)[spare >> 1]!
      if (this.reach(usual, grain) < grain) this.change(grain - 1)
      else this.last.shift()
    }
  }

  private change(grain: number): void {
    this.grain = Math.min(Math.max(grain, 1), coarsest)
    this.last.length = 0
  }

  /** The grain at which frames come in time if all of their cost is that of pixels. */
  private reach(ms: number, grain: number): number {
    if (ms <= this.budget.most && grain === 1) return 1
    return Math.min(Math.max(1, Math.ceil(grain * Math.sqrt(ms / this.budget.aim))), coarsest)
  }
}
