package displist

import (
	"fmt"
	"strings"
)

func (t *Tiling) text() string {
	s := fmt.Sprintf("box %s  steps %s %s  matrix %s", rectText(t.BBox), num(t.XStep), num(t.YStep), matrixText(t.M))
	if !t.Coloured {
		s += "  uncoloured"
	}
	if t.Blending {
		s += "  needs blending"
	}
	return s
}

func (s *Shading) text() string {
	var a []string
	add := func(format string, args ...any) { a = append(a, fmt.Sprintf(format, args...)) }
	if s.Coords != nil {
		add("coords %s", numsText(s.Coords))
	}
	if s.Domain != nil {
		add("domain %s", numsText(s.Domain))
	}
	for i, end := range []string{"start", "end"} {
		if s.Extend[i] {
			add("extended at the %s", end)
		}
	}
	if s.Function != nil && s.Mesh == nil {
		add("from %s to %s", numsText(s.value(0)), numsText(s.value(1)))
	}
	if m := s.Mesh; m != nil {
		if m.Patches != nil {
			add("%d patches", len(m.Patches))
		} else {
			add("%d triangles of %d vertices", len(m.Triangles)/3, len(m.Vertices))
		}
		add("within %s", rectText(m.Bounds))
	}
	if s.BBox != nil {
		add("box %s", rectText(*s.BBox))
	}
	if s.Background != nil {
		add("background %s", numsText(s.Background))
	}
	add("matrix %s", matrixText(s.M))
	return strings.Join(a, "  ")
}

// value is the colour at the start (end 0) or the end of the domain.
func (s *Shading) value(end int) []float64 {
	in := []float64{s.Domain[end]}
	if s.Type == 1 {
		in = []float64{s.Domain[end], s.Domain[2+end]}
	}
	out := make([]float64, s.Function.Outputs())
	s.Function.Eval(out, in)
	return out
}
