package pdf

import (
	"math"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Resolve follows references until a direct object, with a guard against cycles and depth;
// a missing or unreadable object is nil. Every reference of the program is followed here.
func (d *Document) Resolve(o Object) Object {
	for range limits.MaxRefHops {
		r, ok := o.(Ref)
		if !ok {
			return o
		}
		o = d.load(r.Num)
	}
	if r, ok := o.(Ref); ok {
		d.malformed("reference-cycle", finding.Warning, r.Num, "References lead round in a circle; the object is taken as missing.", remedySaveAgain)
	}
	return nil
}

// The typed look-ups resolve o and report whether it had the type. Num accepts Integer and Real.
// Dict also accepts a stream and gives its dictionary.

// Dict resolves to a dictionary.
func (d *Document) Dict(o Object) (Dict, bool) {
	switch v := d.Resolve(o).(type) {
	case Dict:
		return v, true
	case *Stream:
		return v.Dict, true
	}
	return nil, false
}

// Array resolves to an array.
func (d *Document) Array(o Object) (Array, bool) {
	v, ok := d.Resolve(o).(Array)
	return v, ok
}

// Stream resolves to a stream.
func (d *Document) Stream(o Object) (*Stream, bool) {
	v, ok := d.Resolve(o).(*Stream)
	return v, ok
}

// Name resolves to a name.
func (d *Document) Name(o Object) (Name, bool) {
	v, ok := d.Resolve(o).(Name)
	return v, ok
}

// Int resolves to a whole number (a Real with no fraction is accepted).
func (d *Document) Int(o Object) (int, bool) { return intFrom(d.Resolve(o)) }

func intFrom(o Object) (int, bool) {
	switch v := o.(type) {
	case Integer:
		return int(v), true
	case Real:
		if f := float64(v); f == math.Trunc(f) && math.Abs(f) < 1<<53 {
			return int(f), true
		}
	}
	return 0, false
}

// Num resolves to a finite number.
func (d *Document) Num(o Object) (float64, bool) {
	switch v := d.Resolve(o).(type) {
	case Integer:
		return float64(v), true
	case Real:
		f := float64(v)
		return f, !math.IsNaN(f) && !math.IsInf(f, 0)
	}
	return 0, false
}

// Bool resolves to a boolean.
func (d *Document) Bool(o Object) (bool, bool) {
	v, ok := d.Resolve(o).(Boolean)
	return bool(v), ok
}

// Nums resolves to an array of finite numbers; ok is false if any entry is not one.
func (d *Document) Nums(o Object) (v []float64, ok bool) {
	a, ok := d.Array(o)
	if !ok {
		return nil, false
	}
	v = make([]float64, len(a))
	for i := range a {
		if v[i], ok = d.Num(a[i]); !ok {
			return nil, false
		}
	}
	return v, true
}
