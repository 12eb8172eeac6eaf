// What passes between the viewer and the page that holds it.

/** A rectangle in millimetres from the top left corner of the trim, y down. */
export interface Box { x: number; y: number; w: number; h: number }

/** A place in millimetres from the top left corner of the trim, y down. */
export interface Point { x: number; y: number }

/** One resolution of a page: level k of the tile addresses is levels[k]. */
export interface Level { dpi: number; width: number; height: number }

/** How flakes glint (docs/maps.md): side of a flake in µm, 0 = none; scatter of one flake in degrees. */
export interface Glint { flake_um: number; spread_deg: number; seed: number }

/** One page of one state of an artwork, as its tiles are asked for. */
export interface Source {
  id: string
  /** File version and setup; tiles of a rev never change. */
  rev: string
  page: number
  region: Box
  levels: Level[]
  /** Toners left out. */
  off?: readonly string[]
  /** A film seen from its other side. */
  through?: boolean
  /** What lies behind stock that light passes, as the tile address takes it; the viewer gives the bench's colour for a film. */
  backing?: string
  /** The stock is a film: the bench shows through. */
  film?: boolean
  glint?: Glint
}

/** What is looked at: the place in the middle of the canvas, and CSS pixels per millimetre. */
export interface View { x: number; y: number; zoom: number }

/** The lamp and how the sheet is held. */
export interface Light {
  /** Degrees of the lamp above the sheet, 0 to 90. */
  up: number
  /** Degrees round the sheet, clockwise from its top edge. */
  round: number
  /** Degrees by which the sheet faces its top edge and its right edge, -80 to 80. */
  tiltTop: number
  tiltRight: number
  /** false: measured, lamp at 45 degrees and viewer straight above, nothing shines. */
  lit: boolean
}

/** Side of a tile in pixels. */
export const tileSide = 256

/** The address of a tile. */
export function tileAddress(s: Source, level: number, x: number, y: number): string {
  const query = new URLSearchParams()
  for (const name of s.off ?? []) query.append("off", name)
  if (s.through) query.set("through", "1")
  if (s.backing) query.set("backing", s.backing)
  const text = query.toString()
  return `/api/tiles/${encodeURIComponent(s.id)}/${encodeURIComponent(s.rev)}/${s.page}/${level}/${x}/${y}${text && "?" + text}`
}
