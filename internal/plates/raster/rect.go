package raster

// scanRect is Scan for one axis-parallel rectangle: three kinds of row, each made once.
func (s *Scanner) scanRect(e *Edges, clip IntRect, row func(y int, spans []Span)) {
	a, b := e.list[0], e.list[1]
	x0, x1 := min(a.x0, b.x0), max(a.x0, b.x0)
	y0, y1 := min(a.y0, a.y1), max(a.y0, a.y1)
	if x0 == x1 {
		return
	}
	made := int32(0) // the height s.spans were made for
	for y := clip.Y0; y < clip.Y1; y++ {
		h := min(y1, int32(y+1)<<shift) - max(y0, int32(y)<<shift)
		if h != made {
			s.rectRow(x0, x1, h, clip)
			made = h
		}
		if len(s.spans) > 0 {
			row(y, s.spans)
		}
	}
}

// rectRow makes the spans of a row of which h is inside.
func (s *Scanner) rectRow(x0, x1, h int32, clip IntRect) {
	c0, c1 := x0>>shift, x1>>shift
	hh := int64(h)
	s.spans = s.spans[:0]
	add := func(a, b int32, area int64) {
		a, b = max(a, int32(clip.X0)), min(b, int32(clip.X1))
		c := coverFrom(area, 0)
		if a >= b || c == 0 {
			return
		}
		if n := len(s.spans); n > 0 && s.spans[n-1].X1 == a && s.spans[n-1].Cover == c {
			s.spans[n-1].X1 = b
			return
		}
		s.spans = append(s.spans, Span{a, b, c})
	}
	if c0 == c1 {
		add(c0, c0+1, hh*2*int64(x1-x0))
		return
	}
	add(c0, c0+1, hh*2*int64((c0+1)<<shift-x0))
	add(c0+1, c1, hh*2*one)
	add(c1, c1+1, hh*2*int64(x1-c1<<shift))
}
