// Tiles as sent (docs/maps.md, "Tile", after inflating) to three layers of RGBA8.

/** A tile ready for a graphics card. Where every plane has one value, one pixel stands for all: width and height are 1. */
export interface Decoded {
  width: number
  height: number
  /** Red, green, blue and alpha of each pixel by rows. */
  layers: [Uint8Array, Uint8Array, Uint8Array]
  /** Blocks of blockSide pixels, by rows from the top left, that hold metal; null where none does. */
  metal: Uint8Array | null
}

export const blockSide = 32

const planes = 12

/** Unpacks a tile of so many pixels; throws where the bytes do not fit. */
export function decodeTile(src: Uint8Array, width: number, height: number): Decoded {
  if (src.length === 2 * planes && everyConstant(src)) {
    width = 1
    height = 1
  }
  const n = width * height
  const layers: Decoded["layers"] = [new Uint8Array(4 * n), new Uint8Array(4 * n), new Uint8Array(4 * n)]
  let at = 0
  for (let p = 0; p < planes; p++) at = plane(src, at, layers[p >> 2]!, p & 3, width, n)
  if (at !== src.length) throw new Error("a tile has more in it than its planes")
  return { width, height, layers, metal: metalBlocks(layers[2], width, height) }
}

function metalBlocks(layer: Uint8Array, width: number, height: number): Uint8Array | null {
  const across = Math.ceil(width / blockSide)
  const blocks = new Uint8Array(across * Math.ceil(height / blockSide))
  let any = false
  for (let y = 0, o = 3; y < height; y++) {
    const row = Math.floor(y / blockSide) * across
    for (let x = 0; x < width; x++, o += 4) {
      if (layer[o] !== 0) {
        blocks[row + Math.floor(x / blockSide)] = 1
        any = true
      }
    }
  }
  return any ? blocks : null
}

function everyConstant(src: Uint8Array): boolean {
  for (let p = 0; p < planes; p++) if (src[2 * p] !== 0) return false
  return true
}

/** Reads the plane at byte at into every fourth byte of out from first on; answers where the next plane begins. */
function plane(src: Uint8Array, at: number, out: Uint8Array, first: number, width: number, n: number): number {
  const kind = src[at]
  if (kind === undefined || at + 2 > src.length) throw new Error("a tile ends too early")
  if (kind === 0) {
    const value = src[at + 1]!
    for (let i = 0, o = first; i < n; i++, o += 4) out[o] = value
    return at + 2
  }
  if (kind > 3) throw new Error(`a plane is stored in a way (${kind}) that this page does not know`)
  at++
  const end = at + n
  if (end > src.length) throw new Error("a tile ends too early")
  let o = first
  switch (kind) {
    case 1:
      for (let i = at; i < end; i++, o += 4) out[o] = src[i]!
      break
    case 2:
      for (let row = at; row < end; row += width) {
        let left = 0
        for (let i = row; i < row + width; i++, o += 4) out[o] = left = (left + src[i]!) & 255
      }
      break
    case 3: {
      const up = 4 * width
      let i = at
      for (; i < at + width; i++, o += 4) out[o] = src[i]!
      for (; i < end; i++, o += 4) out[o] = src[i]! + out[o - up]!
    }
  }
  return end
}
