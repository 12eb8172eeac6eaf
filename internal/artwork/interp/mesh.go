package interp

import (
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// meshReader takes the data of shading types 4 to 7 apart (8.7.4.5.5 to 8.7.4.5.8).
type meshReader struct {
	data  []byte
	at    int // in bits
	end   int
	space colour.Space // of the colours in the data; nil when they are parameters
	comps int          // numbers of a colour in the data

	coordBits, compBits, flagBits int
	decode                        []float64

	mesh *displist.Mesh
	room int // numbers that may still be read
	cut  error
	over bool // cut by a limit
}

func (m *machine) readMesh(s *displist.Shading, stream *pdf.Stream, space colour.Space) error {
	doc, d := m.r.Doc, stream.Dict
	data, err := doc.Data(stream)
	if err != nil && len(data) == 0 {
		return err
	}
	r := &meshReader{data: data, end: 8 * len(data), space: space, comps: space.Components(), mesh: &displist.Mesh{}, room: limits.MaxMeshNumbers - m.meshNumbers}
	if s.Function != nil {
		r.space, r.comps = nil, 1
	}
	bits := func(key pdf.Name) int {
		n, _ := doc.Int(d[key])
		if n < 1 || n > 32 {
			err = fmt.Errorf("its entry %s is %d", key, n)
		}
		return n
	}
	cut := err
	err = nil
	r.coordBits, r.compBits = bits("BitsPerCoordinate"), bits("BitsPerComponent")
	if s.Type != 5 {
		r.flagBits = bits("BitsPerFlag")
	}
	if err != nil {
		return err
	}
	if r.decode, err = m.entryNums(d, "Decode", 4+2*r.comps); err != nil {
		return err
	}
	if s.Function != nil {
		s.Domain = []float64{min(r.decode[4], r.decode[5]), max(r.decode[4], r.decode[5])}
	}
	row := 0
	if s.Type == 5 {
		if row, _ = doc.Int(d["VerticesPerRow"]); row < 2 {
			return fmt.Errorf("it has %d vertices in a row", row)
		}
	}
	switch s.Type {
	case 4:
		r.triangles()
	case 5:
		r.lattice(row)
	default:
		r.patches(s.Type == 7)
	}
	m.meshNumbers = limits.MaxMeshNumbers - r.room
	if cut == nil {
		cut = r.cut
	}
	if len(r.mesh.Triangles) == 0 && len(r.mesh.Patches) == 0 {
		if cut == nil {
			cut = fmt.Errorf("it has no data")
		}
		return cut
	}
	if cut != nil {
		class := finding.Malformed
		if r.over {
			class = finding.OverLimit
		}
		m.shadingCut(class, cut)
	}
	s.Mesh = r.mesh
	return nil
}

// bits takes the next n bits, up to 32.
func (r *meshReader) bits(n int) uint32 {
	v := uint64(0)
	for left := n; left > 0; {
		b := r.data[r.at/8]
		have := 8 - r.at%8
		take := min(have, left)
		v = v<<take | uint64(b>>(have-take))&(1<<take-1)
		r.at += take
		left -= take
	}
	return uint32(v)
}

// flag looks at the flag of the next record; 0 when the data end before.
func (r *meshReader) flag() int {
	if r.end-r.at < r.flagBits {
		return 0
	}
	at := r.at
	f := r.bits(r.flagBits) & 3
	r.at = at
	return int(f)
}

// align goes on to the next whole byte: each vertex or patch begins at one.
func (r *meshReader) align() { r.at = (r.at + 7) &^ 7 }

// more reports whether another record of so many points and colours (and a flag) is there, and may be
// read. Bytes too few for one are a fault unless they are blank.
func (r *meshReader) more(points, colours int) bool {
	need := r.flagBits + points*2*r.coordBits + colours*r.comps*r.compBits
	if r.cut != nil {
		return false
	}
	if r.end-r.at < need {
		for _, b := range r.data[r.at/8:] {
			if b != 0 && b != '\n' && b != '\r' && b != ' ' {
				r.cut = fmt.Errorf("its data end within a record")
				break
			}
		}
		return false
	}
	// A colour is a slice, which takes as much as three numbers.
	if r.room -= points*2 + colours*(3+max(r.comps, 1)); r.room < 0 {
		r.room = 0
		r.cut, r.over = fmt.Errorf("it has more data than are read"), true
		return false
	}
	return true
}

func (r *meshReader) decoded(bits, at int) float64 {
	lo, hi := r.decode[at], r.decode[at+1]
	return lo + float64(float64(r.bits(bits))*(hi-lo))/float64(uint64(1)<<bits-1)
}

func (r *meshReader) point() geom.Point {
	x := r.decoded(r.coordBits, 0)
	return geom.Point{X: x, Y: r.decoded(r.coordBits, 2)}
}

func (r *meshReader) colour() []float64 {
	c := make([]float64, r.comps)
	for i := range c {
		c[i] = r.decoded(r.compBits, 4+2*i)
	}
	if r.space == nil {
		return c
	}
	return shadingColour(r.space, c)
}

// vertex reads one vertex behind its flag.
func (r *meshReader) vertex() int32 {
	ms := r.mesh
	p := r.point()
	ms.Bounds = pointBounds(ms.Bounds, p, len(ms.Vertices) == 0)
	ms.Vertices = append(ms.Vertices, p)
	ms.Comps = append(ms.Comps, r.colour())
	r.align()
	return int32(len(ms.Vertices) - 1)
}

// triangles reads a free-form mesh: a flag says which side of the last triangle the next one stands on.
func (r *meshReader) triangles() {
	var a, b, c int32 = -1, -1, -1
	for r.more(1, 1) {
		flag := r.bits(r.flagBits) & 3
		if flag == 3 || flag != 0 && a < 0 {
			r.cut = fmt.Errorf("a triangle has the flag %d", flag)
			return
		}
		v := r.vertex()
		switch flag {
		case 1:
			a, b, c = b, c, v
		case 2:
			b, c = c, v
		default:
			a, b, c = v, -1, -1
			for _, next := range []*int32{&b, &c} {
				if !r.more(1, 1) {
					if r.cut == nil {
						r.cut = fmt.Errorf("its data end within a triangle")
					}
					return
				}
				r.bits(r.flagBits)
				*next = r.vertex()
			}
		}
		r.mesh.Triangles = append(r.mesh.Triangles, a, b, c)
	}
}

// lattice reads rows of vertices; each cell between four of them is two triangles.
func (r *meshReader) lattice(row int) {
	n := 0
	for r.more(1, 1) {
		r.vertex()
		n++
	}
	if r.cut == nil && n%row != 0 {
		r.cut = fmt.Errorf("its data end within a row")
	}
	for i := 1; i < n/row; i++ {
		for j := 1; j < row; j++ {
			v := int32(i*row + j)
			up := v - int32(row)
			r.mesh.Triangles = append(r.mesh.Triangles, up-1, up, v-1, up, v, v-1)
		}
	}
	// Vertices of a row that is not whole stand in no triangle.
}

// around are the indices in Patch.P of a patch's points in the order of the data: along its boundary,
// then, for tensor-product patches, the inner ones.
var around = [16]int{0, 1, 2, 3, 7, 11, 15, 14, 13, 12, 8, 4, 5, 6, 10, 9}

// patches reads Coons or tensor-product patches: a flag says which side of the last patch the next
// one shares.
func (r *meshReader) patches(tensor bool) {
	n := 12
	if tensor {
		n = 16
	}
	for {
		var p displist.Patch
		ms, flag, from, fromColour := r.mesh, r.flag(), 0, 0
		if flag != 0 {
			from, fromColour = 4, 2
		}
		if !r.more(n-from, 4-fromColour) {
			return
		}
		r.bits(r.flagBits)
		if flag != 0 {
			if len(ms.Patches) == 0 {
				r.cut = fmt.Errorf("the first patch has the flag %d", flag)
				return
			}
			last := &ms.Patches[len(ms.Patches)-1]
			for i := range 4 {
				p.P[around[i]] = last.P[around[(3*flag+i)%12]]
			}
			p.C[0], p.C[1] = last.C[flag], last.C[(flag+1)%4]
		}
		for i := from; i < n; i++ {
			p.P[around[i]] = r.point()
		}
		for i := fromColour; i < 4; i++ {
			p.C[i] = r.colour()
		}
		r.align()
		if !tensor {
			p.P = innerPoints(p.P)
		}
		for i, q := range p.P {
			ms.Bounds = pointBounds(ms.Bounds, q, i == 0 && len(ms.Patches) == 0)
		}
		ms.Patches = append(ms.Patches, p)
	}
}

// innerPoints computes the inner points of a Coons patch (8.7.4.5.8).
func innerPoints(p [16]geom.Point) [16]geom.Point {
	// The corner next to the point; the two points beside that corner; the corners beside it; the two
	// points across from it on the sides that leave these; the corner across.
	inner := func(corner, n1, n2, c1, c2, far1, far2, opposite int) geom.Point {
		of := func(v func(geom.Point) float64) float64 {
			return (float64(-4*v(p[corner])) + float64(6*(v(p[n1])+v(p[n2]))) - float64(2*(v(p[c1])+v(p[c2]))) + float64(3*(v(p[far1])+v(p[far2]))) - v(p[opposite])) / 9
		}
		return geom.Point{X: of(func(q geom.Point) float64 { return q.X }), Y: of(func(q geom.Point) float64 { return q.Y })}
	}
	p[5] = inner(0, 1, 4, 3, 12, 13, 7, 15)
	p[6] = inner(3, 2, 7, 0, 15, 14, 4, 12)
	p[9] = inner(12, 13, 8, 15, 0, 1, 11, 3)
	p[10] = inner(15, 14, 11, 12, 3, 2, 8, 0)
	return p
}
