package font

import "math"

// type2 interprets one charstring (The Type 2 Charstring Format, Adobe Technical Note 5177). Hints
// are read past: at press resolutions they change nothing a toner could show.
type type2 struct {
	font      *cffFont
	priv      *cffPrivate
	pen       pen
	stack     []float64
	transient [32]float64
	width     float64
	sized     bool // the width operand has been looked for
	stems     int
	ops       int
	maxOps    int
	done      bool
	inSeac    bool
}

// maxType2Stack is 48 in the format; producers exceed it, CFF2 allows 513.
const maxType2Stack = 513

// takeWidth removes the width operand that may come before the arguments of the first
// stack-clearing operator; extra tells whether there is one operand more than the operator takes.
func (r *type2) takeWidth(extra bool) {
	if r.sized {
		return
	}
	r.sized = true
	if extra && len(r.stack) > 0 {
		if !r.inSeac {
			r.width = r.priv.nominalWidth + r.stack[0]
		}
		r.stack = r.stack[1:]
	}
}

func (r *type2) pop() float64 {
	if len(r.stack) == 0 {
		return 0
	}
	v := r.stack[len(r.stack)-1]
	r.stack = r.stack[:len(r.stack)-1]
	return v
}

func (r *type2) push(v float64) error {
	if len(r.stack) >= maxType2Stack {
		return errGlyph
	}
	r.stack = append(r.stack, v)
	return nil
}

func subrBias(n int) int {
	switch {
	case n < 1240:
		return 107
	case n < 33900:
		return 1131
	}
	return 32768
}

func (r *type2) call(x *cffIndex, depth int) error {
	if len(r.stack) == 0 || depth >= maxSubrDepth {
		return errGlyph
	}
	i := int(r.pop()) + subrBias(x.n)
	if i < 0 || i >= x.n {
		return errGlyph
	}
	return r.run(x.at(i), depth+1)
}

func (r *type2) run(code []byte, depth int) error {
	for i := 0; i < len(code) && !r.done; {
		if r.ops++; r.ops > r.maxOps {
			return errTooLarge
		}
		c := code[i]
		i++
		var err error
		switch {
		case c >= 32 && c <= 246:
			err = r.push(float64(int(c) - 139))
		case c >= 247 && c <= 250 && i < len(code):
			err = r.push(float64((int(c)-247)*256 + int(code[i]) + 108))
			i++
		case c >= 251 && c <= 254 && i < len(code):
			err = r.push(float64(-(int(c)-251)*256 - int(code[i]) - 108))
			i++
		case c == 28 && i+2 <= len(code):
			err = r.push(float64(int16(be16(code[i:]))))
			i += 2
		case c == 255 && i+4 <= len(code):
			err = r.push(float64(int32(be32(code[i:]))) / 65536)
			i += 4
		case c == 28 || c >= 247:
			return errGlyph // cut short inside a number
		case c == 10:
			err = r.call(&r.priv.subrs, depth)
		case c == 29:
			err = r.call(&r.font.global, depth)
		case c == 11:
			return nil
		case c == 19 || c == 20: // hintmask, cntrmask: vstem may be left out before them
			r.stemHints()
			i += (r.stems + 7) / 8
		case c == 12:
			if i >= len(code) {
				return errGlyph
			}
			err = r.escape(code[i])
			i++
		default:
			err = r.operator(c, depth)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *type2) stemHints() {
	r.takeWidth(len(r.stack)%2 == 1)
	r.stems += len(r.stack) / 2
	r.stack = r.stack[:0]
}

// operator does the one-byte operators that clear the stack.
func (r *type2) operator(c byte, depth int) error {
	p := &r.pen
	switch c {
	case 1, 3, 18, 23:
		r.stemHints()
		return nil
	case 4, 22: // vmoveto, hmoveto
		r.takeWidth(len(r.stack) > 1)
		v := r.pop()
		if c == 4 {
			p.moveBy(0, v)
		} else {
			p.moveBy(v, 0)
		}
	case 21: // rmoveto
		r.takeWidth(len(r.stack) > 2)
		dy := r.pop()
		p.moveBy(r.pop(), dy)
	case 14: // endchar
		r.takeWidth(len(r.stack) == 1 || len(r.stack) == 5)
		r.done = true
		if len(r.stack) >= 4 && !r.inSeac {
			return r.seac(r.stack[len(r.stack)-4:])
		}
	default:
		a := r.stack
		r.sized = true
		switch c {
		case 5: // rlineto
			r.lines(a)
		case 6, 7: // hlineto, vlineto
			horizontal := c == 6
			for _, d := range a {
				if horizontal {
					p.lineBy(d, 0)
				} else {
					p.lineBy(0, d)
				}
				horizontal = !horizontal
			}
		case 8: // rrcurveto
			r.curves(a)
		case 24: // rcurveline
			if len(a) >= 2 {
				r.curves(a[:len(a)-2])
				r.lines(a[len(a)-2:])
			}
		case 25: // rlinecurve
			if len(a) >= 6 {
				r.lines(a[:len(a)-6])
				r.curves(a[len(a)-6:])
			}
		case 26, 27: // vvcurveto, hhcurveto
			cross := 0.0
			if len(a)%4 == 1 {
				cross, a = a[0], a[1:]
			}
			for ; len(a) >= 4; a = a[4:] {
				if c == 26 {
					p.curveBy(cross, a[0], a[1], a[2], 0, a[3])
				} else {
					p.curveBy(a[0], cross, a[1], a[2], a[3], 0)
				}
				cross = 0
			}
		case 30, 31: // vhcurveto, hvcurveto
			horizontal := c == 31
			for ; len(a) >= 4; a = a[4:] {
				last := 0.0
				if len(a) == 5 {
					last = a[4]
				}
				if horizontal {
					p.curveBy(a[0], 0, a[1], a[2], last, a[3])
				} else {
					p.curveBy(0, a[0], a[1], a[2], a[3], last)
				}
				horizontal = !horizontal
			}
		default:
			// Reserved operators clear the stack and are passed over.
		}
	}
	r.stack = r.stack[:0]
	return nil
}

func (r *type2) lines(a []float64) {
	for ; len(a) >= 2; a = a[2:] {
		r.pen.lineBy(a[0], a[1])
	}
}

func (r *type2) curves(a []float64) {
	for ; len(a) >= 6; a = a[6:] {
		r.pen.curveBy(a[0], a[1], a[2], a[3], a[4], a[5])
	}
}

// seac builds an accented character of two others named by StandardEncoding: the four-operand form
// of endchar (Appendix C of Technical Note 5177).
func (r *type2) seac(a []float64) error {
	r.pen.close()
	for i, code := range []float64{a[2], a[3]} {
		if !(code >= 0 && code <= 255) {
			return errGlyph
		}
		g, ok := r.font.glyphByName(standardEncoding()[int(code)])
		if !ok {
			return errGlyph
		}
		part := type2{font: r.font, priv: r.font.private(g), pen: pen{m: r.pen.m}, ops: r.ops, maxOps: r.maxOps, inSeac: true}
		if i == 1 {
			part.pen.cur.X, part.pen.cur.Y = a[0], a[1]
		}
		if err := part.run(r.font.charStrings.at(g), 0); err != nil {
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

// escape does the two-byte operators.
func (r *type2) escape(c byte) error {
	p := &r.pen
	a := r.stack
	switch c {
	case 34: // hflex
		if len(a) >= 7 {
			p.curveBy(a[0], 0, a[1], a[2], a[3], 0)
			p.curveBy(a[4], 0, a[5], -a[2], a[6], 0)
		}
	case 35: // flex
		if len(a) >= 12 {
			r.curves(a[:12])
		}
	case 36: // hflex1
		if len(a) >= 9 {
			p.curveBy(a[0], a[1], a[2], a[3], a[4], 0)
			p.curveBy(a[5], 0, a[6], a[7], a[8], -(a[1] + a[3] + a[7]))
		}
	case 37: // flex1
		if len(a) >= 11 {
			dx := a[0] + a[2] + a[4] + a[6] + a[8]
			dy := a[1] + a[3] + a[5] + a[7] + a[9]
			r.curves(a[:6])
			if math.Abs(dx) > math.Abs(dy) {
				p.curveBy(a[6], a[7], a[8], a[9], a[10], -dy)
			} else {
				p.curveBy(a[6], a[7], a[8], a[9], -dx, a[10])
			}
		}
	default:
		return r.arithmetic(c)
	}
	r.stack = r.stack[:0]
	return nil
}

func (r *type2) arithmetic(c byte) error {
	truth := func(b bool) float64 {
		if b {
			return 1
		}
		return 0
	}
	switch c {
	case 3: // and
		b, a := r.pop(), r.pop()
		return r.push(truth(a != 0 && b != 0))
	case 4: // or
		b, a := r.pop(), r.pop()
		return r.push(truth(a != 0 || b != 0))
	case 5: // not
		return r.push(truth(r.pop() == 0))
	case 9: // abs
		return r.push(math.Abs(r.pop()))
	case 10: // add
		b, a := r.pop(), r.pop()
		return r.push(a + b)
	case 11: // sub
		b, a := r.pop(), r.pop()
		return r.push(a - b)
	case 12: // div
		b, a := r.pop(), r.pop()
		if b == 0 {
			return errGlyph
		}
		return r.push(a / b)
	case 14: // neg
		return r.push(-r.pop())
	case 15: // eq
		b, a := r.pop(), r.pop()
		return r.push(truth(a == b))
	case 18: // drop
		r.pop()
	case 20: // put
		i, v := r.pop(), r.pop()
		if i >= 0 && i < float64(len(r.transient)) {
			r.transient[int(i)] = v
		}
	case 21: // get
		i := r.pop()
		if i >= 0 && i < float64(len(r.transient)) {
			return r.push(r.transient[int(i)])
		}
		return r.push(0)
	case 22: // ifelse
		v2, v1, s2, s1 := r.pop(), r.pop(), r.pop(), r.pop()
		if v1 <= v2 {
			return r.push(s1)
		}
		return r.push(s2)
	case 23: // random: any value in (0, 1] conforms, and the same page must give the same plates
		return r.push(0.5)
	case 24: // mul
		b, a := r.pop(), r.pop()
		return r.push(float64(a * b))
	case 26: // sqrt
		return r.push(math.Sqrt(math.Max(0, r.pop())))
	case 27: // dup
		v := r.pop()
		if err := r.push(v); err != nil {
			return err
		}
		return r.push(v)
	case 28: // exch
		b, a := r.pop(), r.pop()
		if err := r.push(b); err != nil {
			return err
		}
		return r.push(a)
	case 29: // index
		i := max(0, int(r.pop()))
		if i >= len(r.stack) {
			return errGlyph
		}
		return r.push(r.stack[len(r.stack)-1-i])
	case 30: // roll
		j, n := int(r.pop()), int(r.pop())
		if n < 0 || n > len(r.stack) {
			return errGlyph
		}
		r.ops += n / 8
		rollStack(r.stack[len(r.stack)-n:], j)
	case 0: // dotsection, deprecated
		r.stack = r.stack[:0]
	default:
		r.stack = r.stack[:0]
	}
	return nil
}

// rollStack turns s by j places towards the top.
func rollStack(s []float64, j int) {
	n := len(s)
	if n == 0 {
		return
	}
	j = ((j % n) + n) % n
	t := append(append([]float64(nil), s[n-j:]...), s[:n-j]...)
	copy(s, t)
}
