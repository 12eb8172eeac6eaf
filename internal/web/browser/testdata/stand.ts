// A bare page for tests of the viewer: one canvas, one source, a cut edge that is hidden.
import { CutEdge, rowOf, rowsOf } from "../../ui/viewer/cutedge"
import { decodeTile } from "../../ui/viewer/decode"
import { easy, fit, GamutTable } from "../../ui/viewer/gamut"
import { Pace } from "../../ui/viewer/pace"
import { Viewer, type Options, type Source } from "../../ui/viewer/viewer"

/** A page that the stand serves, as a source. */
async function source(page: number, more: Partial<Source> = {}): Promise<Source> {
  const p = await (await fetch(`/page/${page}`)).json()
  return { id: "a", rev: "r1", page, region: p.region, levels: p.levels, glint: p.glint, film: p.film, ...more }
}

/** A viewer on a canvas of its own. */
function stand(options: Options = {}): Viewer {
  const old = document.querySelector<HTMLCanvasElement>("#sheet")!
  const canvas = old.cloneNode(false) as HTMLCanvasElement
  old.replaceWith(canvas)
  return new Viewer(canvas, options)
}

/** What a canvas shows, enlarged as the browser enlarges it; only in the task that drew it. */
function enlarged(canvas: HTMLCanvasElement, width: number, height: number): ImageData {
  const c = new OffscreenCanvas(width, height).getContext("2d")!
  c.drawImage(canvas, 0, 0, width, height)
  return c.getImageData(0, 0, width, height)
}

/** Two frames of the browser, so that sizes that were observed are told. */
const frames = () => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))

Object.assign(window, { stand, source, frames, enlarged, Pace, Viewer, CutEdge, rowOf, rowsOf, decodeTile, gamut: { fit, GamutTable, easy } })
