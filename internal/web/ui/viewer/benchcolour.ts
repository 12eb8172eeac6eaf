// The colour of the bench, as a style names it and as the server is told what lies behind a film.

/** sRGB 0 to 1. */
export type Colour = [number, number, number]

/** CIELAB (D50) of a colour as the backing of a tile address. */
export function labText(colour: Colour): string {
  const [r, g, b] = colour.map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4) as Colour
  // sRGB to XYZ of D50, by the matrix of IEC 61966-2-1 and the Bradford adaptation of ICC.1:2022 Annex E.
  const f = (t: number) => t > 216 / 24389 ? Math.cbrt(t) : (24389 / 27 * t + 16) / 116
  const x = f((0.4360747 * r + 0.3850649 * g + 0.1430804 * b) / 0.9642956)
  const y = f(0.2225045 * r + 0.7168786 * g + 0.0606169 * b)
  const z = f((0.0139322 * r + 0.0971045 * g + 0.7141733 * b) / 0.8251046)
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)].map(v => (Math.round(10 * v) / 10 + 0).toFixed(1)).join(",") // + 0: no -0
}

/** sRGB 0 to 1 of a CSS colour: #rgb, #rrggbb or rgb(r g b). */
export function colourOf(text: string): Colour | null {
  const hex = /^#([0-9a-f]{3}|[0-9a-f]{6})$/i.exec(text)?.[1]
  if (hex) {
    const d = hex.length / 3
    return [0, 1, 2].map(i => parseInt(hex.slice(i * d, i * d + d).padStart(2, hex[i * d]!), 16) / 255) as Colour
  }
  const n = /^rgb\(([^)]*)\)$/i.exec(text)?.[1]?.split(/[\s,/]+/).map(Number)
  return n && n.length >= 3 && n.every(v => v >= 0) ? [n[0]! / 255, n[1]! / 255, n[2]! / 255] : null
}
