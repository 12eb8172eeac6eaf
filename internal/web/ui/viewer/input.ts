// Pointer, touch and wheel on the sheet, as on a map. Keys are the page's.

/** What a drag does that the page took for itself. Coordinates are CSS pixels of the canvas. */
export interface Drag {
  move(px: number, py: number, e: PointerEvent): void
  end?(e: PointerEvent): void
}

export interface Hands {
  panBy(dx: number, dy: number): void
  zoomBy(factor: number, at: { x: number; y: number }): void
  /** A drag that begins here may be the page's: answers it, or null to let the sheet move. */
  claim(px: number, py: number, e: PointerEvent): Drag | null
  /** A tap or click that was no drag. */
  tap(px: number, py: number, e: PointerEvent): void
  /** The pointer without a button; null: it left. */
  hover(px: number, py: number, e: PointerEvent | null): void
}

/** A pointer may tremble so many CSS pixels and still tap. */
const tremble = 4
/** Wheel steps: CSS pixels that double the zoom, and those of a pinch on a trackpad. */
const wheelDouble = 240
const pinchDouble = 70
/** Height of a line, for wheels that count lines. */
const line = 20

interface Finger { x: number; y: number; startX: number; startY: number; moved: boolean; drag: Drag | null }

/** Listens to a canvas until the signal. */
export function listen(canvas: HTMLCanvasElement, hands: Hands, signal: AbortSignal): void {
  const fingers = new Map<number, Finger>()
  canvas.style.touchAction = "none"
  const on = <K extends keyof HTMLElementEventMap>(kind: K, f: (e: HTMLElementEventMap[K]) => void, passive = true) =>
    canvas.addEventListener(kind, f, { signal, passive })
  const place = (e: MouseEvent): [number, number] => {
    const box = canvas.getBoundingClientRect()
    return [e.clientX - box.left, e.clientY - box.top]
  }

  on("pointerdown", e => {
    if (e.button !== 0 && e.button !== 1) return
    const [x, y] = place(e)
    canvas.setPointerCapture(e.pointerId)
    const drag = fingers.size === 0 && e.button === 0 ? hands.claim(x, y, e) : null
    fingers.set(e.pointerId, { x, y, startX: x, startY: y, moved: false, drag })
    // A second finger makes a pinch, whatever the first was about.
    if (fingers.size > 1) for (const f of fingers.values()) f.moved = true
  })

  on("pointermove", e => {
    const [x, y] = place(e)
    const f = fingers.get(e.pointerId)
    if (!f) {
      hands.hover(x, y, e)
      return
    }
    if (!f.moved && Math.hypot(x - f.startX, y - f.startY) < tremble) return
    f.moved = true
    if (fingers.size === 1) {
      if (f.drag) f.drag.move(x, y, e)
      else hands.panBy(x - f.x, y - f.y)
    } else if (fingers.size === 2) {
      const other = [...fingers.values()].find(o => o !== f)
      if (other) {
        const before = Math.hypot(f.x - other.x, f.y - other.y), now = Math.hypot(x - other.x, y - other.y)
        hands.panBy((x - f.x) / 2, (y - f.y) / 2)
        if (before > 1 && now > 1) hands.zoomBy(now / before, { x: (x + other.x) / 2, y: (y + other.y) / 2 })
      }
    }
    f.x = x
    f.y = y
  })

  const lift = (e: PointerEvent, tapped: boolean) => {
    const f = fingers.get(e.pointerId)
    if (!f) return
    fingers.delete(e.pointerId)
    f.drag?.end?.(e)
    if (tapped && !f.moved && e.button === 0) hands.tap(f.startX, f.startY, e)
  }
  on("pointerup", e => lift(e, true))
  on("pointercancel", e => lift(e, false))
  on("pointerleave", e => { if (!fingers.has(e.pointerId)) hands.hover(0, 0, null) })

  on("wheel", e => {
    e.preventDefault()
    const [x, y] = place(e)
    const pixels = e.deltaY * (e.deltaMode === WheelEvent.DOM_DELTA_LINE ? line : e.deltaMode === WheelEvent.DOM_DELTA_PAGE ? canvas.clientHeight : 1)
    if (e.shiftKey) hands.panBy(-pixels, 0)
    else hands.zoomBy(2 ** (-pixels / (e.ctrlKey ? pinchDouble : wheelDouble)), { x, y })
  }, false)

  on("dblclick", e => {
    const [x, y] = place(e)
    hands.zoomBy(e.shiftKey || e.altKey ? 0.5 : 2, { x, y })
  })
}
