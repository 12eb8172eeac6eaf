// Where the page begins.
import { state } from "../api"
import { Viewer } from "../viewer/viewer"

const canvas = document.querySelector<HTMLCanvasElement>("#sheet")
if (canvas) new Viewer(canvas)
void state().then(s => { document.title = `laydown ${s.version}` })
