// The cut edge.
export class CutEdge {}
