// How layers of toner look from the side, in the cut edge and in the core sample.

/** A toner as the page tells of it, first laid first. */
export interface Layer {
  name: string
  /** process, white, metallic, clear, fluorescent, spot … */
  kind: string
  /** CSS colour of its solid on the page's stock. */
  colour: string
  /** Of its solid. */
  thickness_um: number
}

/** Fills the path that was begun: clear is hatched, for it has no colour; metal is strewn with flakes that lie flat; every layer has an
 * edge, so that white shows on white. */
export function fillLayer(c: CanvasRenderingContext2D, l: Layer, line: string, ratio: number): void {
  if (isClear(l)) {
    c.globalAlpha = 0.12
    c.fillStyle = line
    c.fill()
    c.globalAlpha = 0.75
    c.fillStyle = hatch(c, line, ratio)
    c.fill()
  } else {
    c.fillStyle = l.colour
    c.fill()
    if (isMetal(l)) {
      c.fillStyle = flakes(c, ratio)
      c.fill()
    }
  }
  c.globalAlpha = 0.55
  c.strokeStyle = line
  c.lineWidth = 0.75 * ratio
  c.stroke()
  c.globalAlpha = 1
}

export const isClear = (l: Layer) => l.kind === "clear"
export const isMetal = (l: Layer) => l.kind === "metallic"

/** Patterns by what they look like: made once for a canvas. */
const patterns = new WeakMap<CanvasRenderingContext2D, Map<string, CanvasPattern>>()

function pattern(c: CanvasRenderingContext2D, name: string, w: number, h: number, draw: (d: OffscreenCanvasRenderingContext2D) => void): CanvasPattern | string {
  let known = patterns.get(c)
  if (!known) patterns.set(c, known = new Map())
  let p = known.get(name)
  if (!p) {
    const tile = new OffscreenCanvas(w, h), d = tile.getContext("2d")
    if (!d) return "transparent"
    draw(d)
    const made = c.createPattern(tile, "repeat")
    if (!made) return "transparent"
    known.set(name, p = made)
  }
  return p
}

function hatch(c: CanvasRenderingContext2D, line: string, ratio: number): CanvasPattern | string {
  const s = Math.max(4, Math.round(5 * ratio))
  return pattern(c, `hatch ${line} ${s}`, s, s, d => {
    d.strokeStyle = line
    d.lineWidth = Math.max(1, ratio * 0.9)
    d.beginPath()
    for (const shift of [-s, 0, s]) {
      d.moveTo(shift - 1, s + 1)
      d.lineTo(shift + s + 1, -1)
    }
    d.stroke()
  })
}

function flakes(c: CanvasRenderingContext2D, ratio: number): CanvasPattern | string {
  const w = Math.round(23 * ratio), h = Math.max(5, Math.round(7 * ratio))
  return pattern(c, `flakes ${w}`, w, h, d => {
    const flake = (x: number, y: number, length: number, light: number) => {
      d.fillStyle = light > 0 ? `rgb(255 255 255 / ${light})` : `rgb(0 0 0 / ${-light})`
      d.fillRect(Math.round(x * w), Math.round(y * h), Math.max(2, Math.round(length * w)), Math.max(1, Math.round(ratio)))
    }
    flake(0.02, 0.1, 0.3, 0.7)
    flake(0.45, 0.1, 0.2, -0.35)
    flake(0.7, 0.4, 0.26, 0.55)
    flake(0.2, 0.5, 0.34, -0.3)
    flake(0.05, 0.78, 0.2, 0.45)
    flake(0.5, 0.8, 0.3, 0.75)
  })
}
