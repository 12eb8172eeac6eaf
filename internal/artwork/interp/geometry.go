package interp

import (
	"math"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// maxCoord bounds list space: 1e7 points are 3.5 km. Coordinates beyond are drawn to the bound,
// which no sheet can show.
const maxCoord = 1e7

// PageMatrix maps default user space to list space: the corner of the MediaBox to the origin,
// turned as viewed (Rotate is clockwise, 7.7.3.3), y down, UserUnit applied.
func PageMatrix(pg *pdf.Page) geom.Matrix {
	b, u := pg.MediaBox, pg.UserUnit
	switch pg.Rotate {
	case 90:
		return geom.Matrix{B: u, C: u, E: -float64(b[1] * u), F: -float64(b[0] * u)}
	case 180:
		return geom.Matrix{A: -u, D: u, E: float64(b[2] * u), F: -float64(b[1] * u)}
	case 270:
		return geom.Matrix{B: -u, C: -u, E: float64(b[3] * u), F: float64(b[2] * u)}
	}
	return geom.Matrix{A: u, D: -u, E: -float64(b[0] * u), F: float64(b[3] * u)}
}

// pageGeometry fills in the boxes: CropBox defaults to MediaBox, the others to CropBox, and each is
// clipped to MediaBox (14.11.2). A box outside the MediaBox counts as absent and is reported.
func (m *machine) pageGeometry() {
	pg := m.page
	p := &m.list.Page
	p.Number, p.Object = pg.Number, pg.Ref.Num
	p.UserUnit, p.Rotate = pg.UserUnit, pg.Rotate
	p.ToList = PageMatrix(pg)
	box := func(b [4]float64) geom.Rect { return p.ToList.Bounds(geom.RectOf(b[0], b[1], b[2], b[3])) }
	p.Media = box(pg.MediaBox)
	p.Crop = box(pg.CropBox).Intersect(p.Media)
	_, written := pg.Dict["CropBox"]
	p.HasCrop = written || pg.CropBox != pg.MediaBox
	if p.Crop.Empty() {
		p.Crop, p.HasCrop = p.Media, false
	}
	optional := func(name string, b *[4]float64) (geom.Rect, bool) {
		if b == nil {
			return p.Crop, false
		}
		r := box(*b).Intersect(p.Media)
		if r.Empty() {
			m.report(finding.Finding{ID: "page-box-outside", Severity: finding.Warning, Class: finding.Malformed,
				What:   "The page's " + name + " has no area inside its MediaBox and is ignored.",
				Remedy: "Set the page boxes again where the artwork is exported.",
				Place:  finding.Place{Object: pg.Ref.Num}})
			return p.Crop, false
		}
		return r, true
	}
	p.Bleed, p.HasBleed = optional("BleedBox", pg.BleedBox)
	p.Trim, p.HasTrim = optional("TrimBox", pg.TrimBox)
	p.Art, p.HasArt = optional("ArtBox", pg.ArtBox)
}

// clampPoint keeps a point finite and within maxCoord.
func clampPoint(p geom.Point) geom.Point {
	if p.X >= -maxCoord && p.X <= maxCoord && p.Y >= -maxCoord && p.Y <= maxCoord {
		return p
	}
	return geom.Point{X: clampCoord(p.X), Y: clampCoord(p.Y)}
}

func clampCoord(v float64) float64 {
	if v != v {
		return 0
	}
	return min(max(v, -maxCoord), maxCoord)
}

func clampRect(r geom.Rect) geom.Rect {
	return geom.Rect{X0: clampCoord(r.X0), Y0: clampCoord(r.Y0), X1: clampCoord(r.X1), Y1: clampCoord(r.Y1)}
}

// usable reports whether a matrix is finite and small enough for list space.
func usable(a geom.Matrix) bool {
	const limit = 1e12
	for _, v := range [...]float64{a.A, a.B, a.C, a.D, a.E, a.F} {
		if !(math.Abs(v) < limit) {
			return false
		}
	}
	return true
}

// boxMM converts a list space box to millimetres from the trim, for findings.
func boxMM(p *displist.Page, r geom.Rect) *finding.BoxMM {
	if r.Empty() {
		return nil
	}
	return &finding.BoxMM{X: (r.X0 - p.Trim.X0) / geom.PointsPerMM, Y: (r.Y0 - p.Trim.Y0) / geom.PointsPerMM,
		W: r.W() / geom.PointsPerMM, H: r.H() / geom.PointsPerMM}
}
