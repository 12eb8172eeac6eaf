// The lamp in the frame of the sheet (package look, light.go): x to the right, y to the top, z out of its face.

import type { Glint, Light } from "./sheet"

export type Vector = [number, number, number]

/** A lamp ready for shading. Lengths are in mm, light in the unit of a perfect diffuser under the lamp at 45 degrees. */
export interface Lamp {
  /** Unit vectors to the lamp from the middle of the sheet, and to the viewer. */
  to: Vector
  eye: Vector
  /** From the middle of the sheet to the lamp; 0 = so far that its light is parallel. */
  distance: number
  strength: number
  ambient: number
  /** Half the tangent of the angle that the lamp fills. */
  widening: number
  glint: GlintCap | null
}

/** Glint under a lamp. */
export interface GlintCap {
  /** Flakes per square millimetre of metal. */
  density: number
  /** Steradians of half-way vectors that lamp and scatter fill. */
  cap: number
  /** Cells of half-way vectors per unit of slope. */
  cells: number
  seed: number
  /** mm: one flake covers a square of this side. */
  flake: number
}

const degree = Math.PI / 180

/** The desk lamp of pictures: half the angle it fills, its light, and that of the room. */
const desk = { radius: 3, strength: 0.92, ambient: 0.08 }

/** The lamp of a light for a sheet whose longer side is so many millimetres. */
export function makeLamp(l: Light, side: number, glint: Glint | undefined): Lamp {
  if (!l.lit) {
    const s = Math.SQRT1_2
    return { to: [0, s, s], eye: [0, 0, 1], distance: 0, strength: 1, ambient: 0, widening: 0, glint: null }
  }
  const up = l.up * degree, round = l.round * degree
  const st = Math.sin(l.tiltTop * degree), ct = Math.cos(l.tiltTop * degree)
  const sr = Math.sin(l.tiltRight * degree), cr = Math.cos(l.tiltRight * degree)
  // The sheet's axes: turned about x until it faces up by tiltTop, then about y.
  const axes: Vector[] = [[cr, 0, -sr], [-sr * st, ct, -cr * st], [sr * ct, st, cr * ct]]
  const into = (v: Vector): Vector => axes.map(a => a[0] * v[0] + a[1] * v[1] + a[2] * v[2]) as Vector
  return {
    to: into([Math.cos(up) * Math.sin(round), Math.cos(up) * Math.cos(round), Math.sin(up)]),
    eye: into([0, 0, 1]),
    distance: 2 * side,
    strength: desk.strength,
    ambient: desk.ambient,
    widening: Math.tan(desk.radius * degree) / 2,
    glint: glint && glint.flake_um > 0 ? cap(glint) : null,
  }
}

function cap(g: Glint): GlintCap {
  const tan = Math.tan(Math.max(Math.hypot(desk.radius / 2, g.spread_deg), 0.5) * degree)
  return { density: 1e6 / (g.flake_um * g.flake_um), cap: Math.PI * tan * tan, cells: 1 / (1.5 * tan), seed: g.seed, flake: g.flake_um / 1000 }
}
