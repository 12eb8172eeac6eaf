// The sheet on a canvas.

export class Viewer {
  constructor(readonly canvas: HTMLCanvasElement) {}
}
