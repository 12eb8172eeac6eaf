package colour

// printer is a pipeline from the connection space to a device that has the shape of nearly all output
// profiles (lut16Type, lut8Type: curves, a grid of three inputs, curves), with everything that can be
// worked out beforehand folded in. It serves millions of colours.
type printer struct {
	encode [3][2]float64  // scale and offset to 0..1
	in     [3][]curveStep // to 65536ths of a grid step
	scale  [3]float64     // of an input without curve
	grid   *iccGrid
	out    [4][]curveStep // nil = as it is
}

// curveStep is a point of a curve and the rise to the next.
type curveStep struct{ v, rise float64 }

// steps turns a table into points, times scale. A table that is a straight line from 0 to 1 to within its own
// 16 bits is none: nil.
func steps(t []float64, scale float64) []curveStep {
	straight := true
	out := make([]curveStep, len(t))
	for i, v := range t {
		out[i].v = float64(v * scale)
		if d := v - float64(i)/float64(len(t)-1); d > 0.6/65535 || d < -0.6/65535 {
			straight = false
		}
		if i > 0 {
			out[i-1].rise = out[i].v - out[i-1].v
		}
	}
	if straight {
		return nil
	}
	return out
}

func along(t []curveStep, x float64) float64 {
	x = float64(unitOf(x) * float64(len(t)-1))
	i := int(x)
	s := &t[i]
	return s.v + float64((x-float64(i))*s.rise)
}

// newPrinter folds a pipeline, nil when it has another shape.
func newPrinter(p *iccPipeline) *printer {
	s := p.stages
	if len(s) != 3 || len(s[0].curves) != 3 || s[1].grid == nil || s[1].grid.in != 3 || !s[1].grid.linear || s[2].grid != nil || s[2].matrix != nil {
		return nil
	}
	f := &printer{grid: s[1].grid}
	zero := p.pcs.encode([3]float64{})
	one := p.pcs.encode([3]float64{1, 1, 1})
	for i, c := range s[0].curves {
		if c.table == nil {
			return nil
		}
		f.encode[i] = [2]float64{one[i] - zero[i], zero[i]}
		f.scale[i] = f.grid.scale[i]
		f.in[i] = steps(c.table, f.scale[i])
	}
	for i, c := range s[2].curves {
		if c.table == nil {
			return nil
		}
		f.out[i] = steps(c.table, 1)
	}
	return f
}

// print converts numbers of the connection space to the device.
func (f *printer) print(v *[4]float64, c [3]float64) {
	g := f.grid
	var w [3]uint64
	base := 0
	for i := range w {
		x := float64(c[i]*f.encode[i][0]) + f.encode[i][1]
		if t := f.in[i]; t != nil {
			x = along(t, x)
		} else {
			x = float64(unitOf(x) * f.scale[i])
		}
		p := uint64(x + 0.5)
		k := int(p >> 16)
		w[i] = p & (gridOne - 1)
		if k >= g.points[i]-1 {
			k, w[i] = k-1, gridOne
		}
		base += k * g.stride[i]
	}
	a, b := g.cube(base, w[0], w[1], w[2])
	v[0], v[1] = float64(uint32(a))*gridUnit, float64(uint32(b))*gridUnit
	v[2], v[3] = float64(a>>32)*gridUnit, float64(b>>32)*gridUnit
	for i := range f.out {
		if t := f.out[i]; t != nil {
			v[i] = along(t, v[i])
		}
	}
}

// print converts numbers of the connection space to device values 0..1.
func (p *iccPipeline) print(v *[4]float64, c [3]float64) {
	if p.fast != nil {
		p.fast.print(v, c)
	} else {
		*v = p.pcs.encode(c)
		p.run(v)
	}
	for i, x := range v {
		v[i] = unitOf(x)
	}
}
