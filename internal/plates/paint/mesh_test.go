package paint

import (
	"math"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/plates/plate"
)

// meshOf is a shading of triangles with one value a vertex.
func meshOf(s colour.Space, points []geom.Point, values [][]float64, triangles ...int32) *displist.Shading {
	m := &displist.Mesh{Triangles: triangles, Vertices: points, Comps: values}
	for _, p := range points {
		m.Bounds = m.Bounds.Union(geom.Rect{X0: p.X, Y0: p.Y, X1: p.X + 1e-9, Y1: p.Y + 1e-9})
	}
	return &displist.Shading{Type: 4, Space: s, M: geom.Identity, Mesh: m}
}

func patchesOf(s colour.Space, patches ...displist.Patch) *displist.Shading {
	return &displist.Shading{Type: 7, Space: s, M: geom.Identity, Mesh: &displist.Mesh{Patches: patches}}
}

// flatPatch is a patch over a rectangle, evenly spread; change moves its points.
func flatPatch(x0, y0, x1, y1 float64, c [4]float64, change func(p *[16]geom.Point)) displist.Patch {
	var p displist.Patch
	for i := range 4 {
		for j := range 4 {
			p.P[4*i+j] = geom.Point{X: x0 + (x1-x0)*float64(i)/3, Y: y0 + (y1-y0)*float64(j)/3}
		}
	}
	for k, v := range c {
		p.C[k] = []float64{v}
	}
	if change != nil {
		change(&p.P)
	}
	return p
}

// surface is the point of a patch, and its colour.
func surface(p *displist.Patch, u, v float64) (at geom.Point, value float64) {
	b := func(t float64) [4]float64 {
		return [4]float64{(1 - t) * (1 - t) * (1 - t), 3 * t * (1 - t) * (1 - t), 3 * t * t * (1 - t), t * t * t}
	}
	bu, bv := b(u), b(v)
	for i := range 4 {
		for j := range 4 {
			at.X += bu[i] * bv[j] * p.P[4*i+j].X
			at.Y += bu[i] * bv[j] * p.P[4*i+j].Y
		}
	}
	return at, (1-u)*(1-v)*p.C[0][0] + (1-u)*v*p.C[1][0] + u*v*p.C[2][0] + u*(1-v)*p.C[3][0]
}

// Do triangles go evenly from corner to corner, and do two of them make a square?
func TestTrianglesInterpolate(t *testing.T) {
	at := []geom.Point{{X: 0, Y: 0}, {X: 8, Y: 0}, {X: 0, Y: 4}, {X: 8, Y: 4}}
	values := [][]float64{{0}, {1}, {0}, {1}}
	row := "12345678\n12345678\n12345678\n12345678"
	for name, sh := range map[string]*displist.Shading{
		"triangles": meshOf(white, at, values, 0, 1, 2, 2, 1, 3),
		"turned":    meshOf(white, at, values, 0, 3, 2, 1, 0, 3),
		"patch":     patchesOf(white, flatPatch(0, 0, 8, 4, [4]float64{0, 0, 1, 1}, nil)),
		"parameter": func() *displist.Shading {
			s := meshOf(white, at, [][]float64{{3}, {5}, {3}, {5}}, 0, 1, 2, 2, 1, 3)
			s.Domain = []float64{3, 5}
			s.Function = &formula{1, 1, func(out, in []float64) { out[0] = (in[0] - 3) / 2 }}
			return s
		}(),
	} {
		t.Run(name, func(t *testing.T) {
			sameGrid(t, plate.TextGrid(render(t, jobOf(list(8, 4, paintedWith(8, 4, sh))))),
				"Cyan -\nMagenta -\nYellow -\nBlack -\nWhite\n"+row+"\nGold -")
		})
	}
}

// Do neighbours, of any shape, leave no pixel between them?
func TestMeshesHaveNoSeams(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	const side = 61
	for k := range 40 {
		n := 2 + r.IntN(9)
		step := float64(side) / float64(n-1)
		var points []geom.Point
		var values [][]float64
		for j := range n {
			for i := range n {
				p := geom.Point{X: side * float64(i) / float64(n-1), Y: side * float64(j) / float64(n-1)}
				if i > 0 && j > 0 && i < n-1 && j < n-1 {
					p.X += (r.Float64() - 0.5) * step * 0.9
					p.Y += (r.Float64() - 0.5) * step * 0.9
				}
				points = append(points, p)
				values = append(values, []float64{0.5})
			}
		}
		at := func(i, j int) int32 { return int32(j*n + i) }
		var triangles []int32
		var patches []displist.Patch
		for j := range n - 1 {
			for i := range n - 1 {
				triangles = append(triangles, at(i, j), at(i+1, j), at(i, j+1), at(i, j+1), at(i+1, j), at(i+1, j+1))
			}
		}
		// Patches with curved edges that their neighbours share, and of very different size.
		curve := func(a, b int32, low bool) (p, q geom.Point) {
			s := rand.New(rand.NewPCG(uint64(k), uint64(min(a, b))*1000+uint64(max(a, b))))
			pa, pb := points[min(a, b)], points[max(a, b)]
			bow := step * 0.3
			if low {
				bow = 0
			}
			mid := func(f float64) geom.Point {
				return geom.Point{X: pa.X + (pb.X-pa.X)*f + (s.Float64()-.5)*bow, Y: pa.Y + (pb.Y-pa.Y)*f + (s.Float64()-.5)*bow}
			}
			p, q = mid(1.0/3), mid(2.0/3)
			if a > b {
				return q, p
			}
			return p, q
		}
		for j := range n - 1 {
			for i := range n - 1 {
				c := [4]int32{at(i, j), at(i, j+1), at(i+1, j+1), at(i+1, j)} // (u,v) = (0,0), (0,1), (1,1), (1,0)
				edge := func(x, y int32) (geom.Point, geom.Point) {
					out := points[x].X == points[y].X && (points[x].X == 0 || points[x].X == side) || points[x].Y == points[y].Y && (points[x].Y == 0 || points[x].Y == side)
					return curve(x, y, out)
				}
				var p displist.Patch
				P := &p.P
				P[0], P[3], P[15], P[12] = points[c[0]], points[c[1]], points[c[2]], points[c[3]]
				P[1], P[2] = edge(c[0], c[1])
				P[13], P[14] = edge(c[3], c[2])
				P[4], P[8] = edge(c[0], c[3])
				P[7], P[11] = edge(c[1], c[2])
				for a := 1; a < 3; a++ {
					for b := 1; b < 3; b++ {
						u, v := float64(a)/3, float64(b)/3
						f := func(s, e geom.Point, t float64) geom.Point {
							return geom.Point{X: s.X + (e.X-s.X)*t, Y: s.Y + (e.Y-s.Y)*t}
						}
						x, y := f(P[b], P[12+b], u), f(P[4*a], P[4*a+3], v)
						P[4*a+b] = f(x, y, 0.5)
					}
				}
				for q := range p.C {
					p.C[q] = []float64{0.5}
				}
				patches = append(patches, p)
			}
		}
		for name, sh := range map[string]*displist.Shading{"triangles": meshOf(white, points, values, triangles...), "patches": patchesOf(white, patches...)} {
			j := jobOf(list(side, side, paintedWith(side, side, sh)))
			j.DPI = 72 * float64(1+k%3)
			s := render(t, j)
			bare := 0
			for y := range s.Height {
				for x := range s.Width {
					if v := s.At(4, x, y); v != 128 {
						bare++
					}
				}
			}
			if bare > 0 {
				t.Errorf("%s, %d x %d: %d pixels are bare", name, n, n, bare)
			}
		}
	}
}

// Are pixels of a bent patch within a quarter of a pixel of the surface, and is v, then u, on top where it folds?
func TestPatchesFollowTheirSurface(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	const side, fine = 60, 500
	for k := range 12 {
		p := flatPatch(8, 8, 52, 52, [4]float64{0.1, 0.4, 1, 0.7}, func(p *[16]geom.Point) {
			for i := range p {
				p[i].X += (r.Float64() - 0.5) * float64(4+4*k)
				p[i].Y += (r.Float64() - 0.5) * float64(4+4*k)
			}
		})
		s := render(t, jobOf(list(side, side, paintedWith(side, side, patchesOf(white, p)))))
		// All values the surface has near each pixel, and the last one at its centre.
		var lo, hi [side][side]float64
		var last [side][side]float64
		var round [side][side]uint8 // quarters of the pixel's middle the surface reaches
		for j := range fine + 1 {
			for i := range fine + 1 {
				at, v := surface(&p, float64(i)/fine, float64(j)/fine)
				for dy := -1; dy <= 1; dy++ {
					for dx := -1; dx <= 1; dx++ {
						x, y := int(math.Floor(at.X))+dx, int(math.Floor(at.Y))+dy
						if x < 0 || y < 0 || x >= side || y >= side {
							continue
						}
						d := math.Hypot(at.X-float64(x)-0.5, at.Y-float64(y)-0.5)
						if d < 0.5 {
							if lo[y][x] == 0 || v < lo[y][x] {
								lo[y][x] = v
							}
							hi[y][x] = max(hi[y][x], v)
						}
						if d < 0.35 {
							q := 0
							if at.X > float64(x)+0.5 {
								q = 1
							}
							if at.Y > float64(y)+0.5 {
								q += 2
							}
							round[y][x] |= 1 << q
						}
						if d < 0.12 {
							last[y][x] = v
						}
					}
				}
			}
		}
		off, under := 0, 0
		for y := range side {
			for x := range side {
				got := float64(s.At(4, x, y)) / 255
				switch {
				case got == 0 && round[y][x] != 15:
				case got < lo[y][x]-0.01 || got > hi[y][x]+0.01:
					off++
				case last[y][x] != 0 && math.Abs(got-last[y][x]) > 0.06:
					under++
				}
			}
		}
		if off > 3 || under > 12 {
			t.Errorf("patch %d: %d pixels are off the surface, %d show what lies below", k, off, under)
		}
	}
}

// Does a function-based shading call its function at the centre of each pixel, inside its domain only?
func TestFunctionBased(t *testing.T) {
	sh := &displist.Shading{Type: 1, Space: white, M: geom.Identity, Coords: []float64{4, 0, 0, 4, 2, 0}, Domain: []float64{0, 1, 0, 1},
		Function: &formula{2, 1, func(out, in []float64) { out[0] = in[0] * in[1] }}}
	sameGrid(t, plate.HexGrid(render(t, jobOf(list(8, 4, paintedWith(8, 4, sh))))), `Cyan -
		Magenta -
		Yellow -
		Black -
		White
		00 00 04 0c 14 1c 00 00
		00 00 0c 24 3c 54 00 00
		00 00 14 3c 64 8b 00 00
		00 00 1c 54 8b c3 00 00
		Gold -`)
}

// Are colours bilinear between the corners of a patch, whatever its size, to one step of 8 bits?
func TestPatchColoursAreBilinear(t *testing.T) {
	for _, side := range []float64{5, 40, 200} {
		p := flatPatch(0, 0, side, side, [4]float64{0, 1, 0, 1}, nil)
		s := render(t, jobOf(list(side, side, paintedWith(side, side, patchesOf(white, p)))))
		worst := 0.0
		for y := range s.Height {
			for x := range s.Width {
				_, v := surface(&p, (float64(x)+.5)/side, (float64(y)+.5)/side)
				worst = max(worst, math.Abs(float64(s.At(4, x, y))-255*v)-0.5)
			}
		}
		limit := 1.0
		if side < 10 { // a step of tint for every 1/50 pixel
			limit = 2
		}
		if worst > limit {
			t.Errorf("side %g: off by %.2f steps beyond rounding", side, worst)
		}
	}
}
