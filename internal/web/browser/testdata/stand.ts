// A bare page for tests of the viewer: one canvas, one source.
import { Viewer, type Options, type Source } from "../../ui/viewer/viewer"
import { fit, GamutTable, easy } from "../../ui/viewer/gamut"
import { decodeTile } from "../../ui/viewer/decode"

const canvas = document.querySelector<HTMLCanvasElement>("#sheet")!

/** The page of the example as a source. */
async function source(page: number, more: Partial<Source> = {}): Promise<Source> {
  const p = await (await fetch(`/page/${page}`)).json()
  return { id: "a", rev: "r1", page, region: p.region, levels: p.levels, glint: p.glint, film: p.film, ...more }
}

function stand(options: Options = {}): Viewer {
  const copy = canvas.cloneNode(false) as HTMLCanvasElement
  document.querySelector("#sheet")!.replaceWith(copy)
  return new Viewer(copy, options)
}

Object.assign(window, { stand, source, Viewer, gamut: { fit, GamutTable, easy }, decodeTile })
