package font

import "laydown/internal/geom"

// type1 interprets one Type 1 charstring (Adobe Type 1 Font Format, chapter 6) with the standard
// OtherSubrs of chapter 8: flex, hint replacement, and the blends of multiple masters.
type type1 struct {
	font     *type1Font
	pen      pen
	origin   geom.Point
	sb       geom.Point
	width    float64
	stack    []float64
	ps       []float64 // results of OtherSubrs, popped from the end
	flex     []geom.Point
	flexFrom geom.Point
	flexes   bool
	ops      int
	maxOps   int
	depth    int // of seac
	done     bool
}

const maxType1Stack = 256 // 24 in the format

func (r *type1) run(code []byte, depth int) error {
	if depth > maxSubrDepth {
		return errGlyph
	}
	for i := 0; i < len(code) && !r.done; {
		if r.ops++; r.ops > r.maxOps {
			return errTooLarge
		}
		c := code[i]
		i++
		v := 0.0
		switch {
		case c >= 32 && c <= 246:
			v = float64(int(c) - 139)
		case c >= 247 && c <= 250 && i < len(code):
			v = float64((int(c)-247)*256 + int(code[i]) + 108)
			i++
		case c >= 251 && c <= 254 && i < len(code):
			v = float64(-(int(c)-251)*256 - int(code[i]) - 108)
			i++
		case c == 255 && i+4 <= len(code):
			v = float64(int32(be32(code[i:])))
			i += 4
		case c >= 247:
			return errGlyph
		case c == 11: // return
			return nil
		case c == 10: // callsubr
			n, ok := r.pop()
			if !ok || n < 0 || int(n) >= len(r.font.subrs) {
				return errGlyph
			}
			if err := r.run(r.font.subrs[int(n)], depth+1); err != nil {
				return err
			}
			continue
		case c == 12:
			if i >= len(code) {
				return errGlyph
			}
			if err := r.escape(code[i]); err != nil {
				return err
			}
			i++
			continue
		default:
			if err := r.operator(c); err != nil {
				return err
			}
			continue
		}
		if len(r.stack) >= maxType1Stack {
			return errGlyph
		}
		r.stack = append(r.stack, v)
	}
	return nil
}

func (r *type1) pop() (float64, bool) {
	if len(r.stack) == 0 {
		return 0, false
	}
	v := r.stack[len(r.stack)-1]
	r.stack = r.stack[:len(r.stack)-1]
	return v, true
}

// args returns the n topmost operands.
func (r *type1) args(n int) ([]float64, bool) {
	if len(r.stack) < n {
		return nil, false
	}
	return r.stack[len(r.stack)-n:], true
}

func (r *type1) move(dx, dy float64) {
	if r.flexes {
		r.pen.cur.X += dx
		r.pen.cur.Y += dy
		return
	}
	r.pen.moveBy(dx, dy)
}

// type1Args is how many operands each one-byte operator takes.
var type1Args = [32]int{4: 1, 5: 2, 6: 1, 7: 1, 8: 6, 13: 2, 21: 2, 22: 1, 30: 4, 31: 4}

func (r *type1) operator(c byte) error {
	a, ok := r.args(type1Args[c])
	if !ok {
		return errGlyph
	}
	p := &r.pen
	switch c {
	case 4: // vmoveto
		r.move(0, a[0])
	case 5: // rlineto
		p.lineBy(a[0], a[1])
	case 6: // hlineto
		p.lineBy(a[0], 0)
	case 7: // vlineto
		p.lineBy(0, a[0])
	case 8: // rrcurveto
		p.curveBy(a[0], a[1], a[2], a[3], a[4], a[5])
	case 9: // closepath
		p.close()
	case 13: // hsbw
		r.setMetrics(a[0], 0, a[1])
	case 14: // endchar
		r.done = true
	case 21: // rmoveto
		r.move(a[0], a[1])
	case 22: // hmoveto
		r.move(a[0], 0)
	case 30: // vhcurveto
		p.curveBy(0, a[0], a[1], a[2], a[3], 0)
	case 31: // hvcurveto
		p.curveBy(a[0], 0, a[1], a[2], 0, a[3])
	default:
		// Hints, and operators of no meaning: the operands go.
	}
	r.stack = r.stack[:0]
	return nil
}

func (r *type1) setMetrics(sbx, sby, width float64) {
	r.sb = geom.Point{X: sbx, Y: sby}
	r.width = width
	r.pen.cur = geom.Point{X: r.origin.X + sbx, Y: r.origin.Y + sby}
}

func (r *type1) escape(c byte) error {
	switch c {
	case 6: // seac
		a, ok := r.args(5)
		if !ok {
			return errGlyph
		}
		r.done = true
		return r.seac(a[0], a[1], a[2], a[3], a[4])
	case 7: // sbw
		a, ok := r.args(4)
		if !ok {
			return errGlyph
		}
		r.setMetrics(a[0], a[1], a[2])
	case 12: // div
		b, _ := r.pop()
		a, ok := r.pop()
		if !ok || b == 0 {
			return errGlyph
		}
		r.stack = append(r.stack, a/b)
		return nil
	case 16:
		return r.otherSubr()
	case 17: // pop
		v := 0.0
		if n := len(r.ps); n > 0 {
			v, r.ps = r.ps[n-1], r.ps[:n-1]
		}
		if len(r.stack) >= maxType1Stack {
			return errGlyph
		}
		r.stack = append(r.stack, v)
		return nil
	case 33: // setcurrentpoint: only flex uses it, which has left the point where it belongs
	default:
		// dotsection, vstem3, hstem3
	}
	r.stack = r.stack[:0]
	return nil
}

func (r *type1) otherSubr() error {
	which, _ := r.pop()
	count, ok := r.pop()
	n := int(count)
	if !ok || n < 0 || n > len(r.stack) {
		return errGlyph
	}
	args := append([]float64(nil), r.stack[len(r.stack)-n:]...)
	r.stack = r.stack[:len(r.stack)-n]
	r.ps = r.ps[:0]
	switch which {
	case 0: // end of flex: height, x, y
		r.flexes = false
		if len(r.flex) == 7 {
			// The first point is the reference point; the path goes on from where it was.
			f := r.flex
			r.pen.cur = r.flexFrom
			r.pen.curveTo(f[1], f[2], f[3])
			r.pen.curveTo(f[4], f[5], f[6])
		}
		if n >= 3 {
			r.ps = append(r.ps, args[2], args[1])
		}
		r.flex = r.flex[:0]
	case 1: // start of flex
		r.flexes = true
		r.flex = r.flex[:0]
		r.flexFrom = r.pen.cur
	case 2: // a point of flex
		if r.flexes && len(r.flex) < 7 {
			r.flex = append(r.flex, r.pen.cur)
		}
	case 3: // hint replacement
		r.ps = append(r.ps, args...)
	case 12, 13: // counter control
	case 14, 15, 16, 17, 18:
		k := [...]int{1, 2, 3, 4, 6}[int(which)-14]
		w := r.font.weights
		if len(w) == 0 || n != k*len(w) {
			return errGlyph
		}
		for i := k - 1; i >= 0; i-- {
			v := args[i]
			for m := 1; m < len(w); m++ {
				v += float64(args[k+i*(len(w)-1)+m-1] * w[m])
			}
			r.ps = append(r.ps, v)
		}
	default:
		for i := n - 1; i >= 0; i-- {
			r.ps = append(r.ps, args[i])
		}
	}
	return nil
}

// seac draws a base and an accent named by StandardEncoding; the accent's side bearing point comes to
// adx, ady from the composite's.
func (r *type1) seac(asb, adx, ady, bchar, achar float64) error {
	if r.depth > 0 {
		return errGlyph // parts are plain glyphs
	}
	for i, code := range []float64{bchar, achar} {
		if !(code >= 0 && code <= 255) {
			return errGlyph
		}
		g, ok := r.font.index[standardEncoding()[int(code)]]
		if !ok {
			return errGlyph
		}
		part := type1{font: r.font, pen: pen{m: r.pen.m}, ops: r.ops, maxOps: r.maxOps, depth: 1}
		if i == 1 {
			part.origin = geom.Point{X: r.sb.X + adx - asb, Y: r.sb.Y + ady}
		}
		if err := part.run(r.font.glyphs[g], 0); err != nil {
			return err
		}
		part.pen.close()
		r.ops = part.ops
		r.pen.path.Verbs = append(r.pen.path.Verbs, part.pen.path.Verbs...)
		r.pen.path.Points = append(r.pen.path.Points, part.pen.path.Points...)
		r.pen.over = r.pen.over || part.pen.over
	}
	return nil
}
