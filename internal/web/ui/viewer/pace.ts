// How coarsely to draw while something moves: as finely as frames come in time.

/** Milliseconds that frames may take, and those aimed at when they took longer. */
export interface Budget { most: number; aim: number }

/** The coarsest grain: pixels of the screen along the side of a drawn one. */
export const coarsest = 6
/** Frames in a row that must have time to spare before pixels are drawn finer. */
const patient = 8

export class Pace {
  /** Pixels of the screen along the side of a drawn one. */
  grain = 1
  private known = false
  private before = 0
  private spare = 0

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
    // One slow frame may be another program's fault; two are not.
    const slow = first ? ms : Math.min(ms, this.before)
    this.before = ms
    if (slow > this.budget.most) {
      this.change(Math.max(grain + 1, this.reach(slow, grain)))
      return
    }
    this.spare = this.reach(ms, grain) < grain ? this.spare + 1 : 0
    if (this.spare >= patient) this.change(grain - 1)
  }

  private change(grain: number): void {
    this.grain = Math.min(Math.max(grain, 1), coarsest)
    this.before = this.spare = 0
  }

  /** The grain at which frames come in time if all of their cost is that of pixels. */
  private reach(ms: number, grain: number): number {
    if (ms <= this.budget.most && grain === 1) return 1
    return Math.min(Math.max(1, Math.ceil(grain * Math.sqrt(ms / this.budget.aim))), coarsest)
  }
}
