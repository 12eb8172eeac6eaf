package pdf

import (
	"errors"
	"fmt"
	"sync/atomic"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Data returns the stream's bytes after all its filters. Filters of images (DCT, JPX, JBIG2, CCITT)
// are an error here: use ImageData. On damage it returns what could be decoded with a non-nil error
// that wraps ErrDamaged, ErrUnsupportedFilter or ErrBudget. The bytes must not be changed.
func (d *Document) Data(s *Stream) ([]byte, error) {
	return s.owner(d).decodeAll(s, s.owner(d).Resolve)
}

// owner is the document a stream was read from, d for one that was made.
func (s *Stream) owner(d *Document) *Document {
	if s.raw != nil && s.raw.doc != nil {
		return s.raw.doc
	}
	return d
}

func (d *Document) decodeAll(s *Stream, resolve func(Object) Object) ([]byte, error) {
	data, rest, err := d.decode(s, resolve, bounds{stream: limits.MaxDataBytes, data: true})
	if len(rest) > 0 {
		return nil, errors.Join(err, fmt.Errorf("%w: %s holds an image", ErrUnsupportedFilter, rest[0].Name))
	}
	return data, err
}

// ImageData decodes up to the first image filter (DCTDecode, JPXDecode, JBIG2Decode, CCITTFaxDecode)
// and returns the bytes from there with the filters left to do (nil when none). What an image holds
// beyond twice the samples its size asks for is left out, with a finding. The bytes must not be changed.
func (d *Document) ImageData(s *Stream) (data []byte, rest []Filter, err error) {
	o := s.owner(d)
	return o.decode(s, o.Resolve, bounds{stream: limits.MaxStreamBytes, samples: o.samplesSize(s.Dict)})
}

// samplesSize is how many bytes the samples of an image take with a byte for the predictor of each row,
// 0 when its dictionary does not say so clearly (8.9.5).
func (d *Document) samplesSize(dict Dict) int64 {
	w, ok1 := d.Int(dict["Width"])
	h, ok2 := d.Int(dict["Height"])
	if !ok1 || !ok2 || w <= 0 || h <= 0 || w > limits.MaxImageSide || h > limits.MaxImageSide {
		return 0
	}
	bits, n := 1, 1
	if mask, _ := d.Bool(dict["ImageMask"]); !mask {
		bits, _ = d.Int(dict["BitsPerComponent"])
		n = d.components(dict["ColorSpace"])
	}
	if n == 0 || bits != 1 && bits != 2 && bits != 4 && bits != 8 && bits != 16 {
		return 0
	}
	return int64(h) * (int64(w*n*bits+7)/8 + 1)
}

// components counts the components of a colour space, 0 for one that is not told at a glance.
func (d *Document) components(space Object) int {
	a, isArray := d.Array(space)
	family, _ := d.Name(space)
	if isArray && len(a) > 0 {
		family, _ = d.Name(a[0])
	}
	switch family {
	case "DeviceGray":
		return 1
	case "DeviceRGB":
		return 3
	case "DeviceCMYK":
		return 4
	}
	if len(a) < 2 {
		return 0 // the name of a resource
	}
	switch family {
	case "CalGray", "Separation", "Indexed":
		return 1
	case "CalRGB", "Lab":
		return 3
	case "ICCBased":
		profile, _ := d.Dict(a[1])
		n, _ := d.Int(profile["N"])
		return min(max(n, 0), limits.MaxComponents)
	case "DeviceN":
		names, _ := d.Array(a[1])
		return min(len(names), limits.MaxComponents)
	}
	return 0
}

// bounds is how far one stream may expand.
type bounds struct {
	stream  int64 // bytes after any of its filters
	samples int64 // bytes an image needs, 0 = not known
	data    bool  // it is charged to the budget of what is no image as well
}

// decode applies filters until an image filter or the end of the chain.
func (d *Document) decode(s *Stream, resolve func(Object) Object, b bounds) (data []byte, rest []Filter, err error) {
	if s.raw != nil && s.raw.doc != nil && s.Dict["F"] != nil {
		return nil, nil, fmt.Errorf("%w: the data of object %d is in another file", ErrUnsupportedFilter, s.Ref.Num)
	}
	chain, cerr := filterChain(s.Dict, resolve)
	if cerr != nil {
		return nil, nil, cerr
	}
	if s.raw != nil && s.raw.doc != nil && d.security != nil { // Crypt is done while reading, whichever it was
		chain = withoutCryptFilters(chain)
	}
	in, err := d.firstInput(s, chain, resolve)
	if err != nil && in.reader == nil && len(in.data) == 0 {
		return nil, nil, err
	}
	var total int64
	for i, f := range chain {
		if imageFilters[f.Name] {
			return in.data, chain[i:], err
		}
		limit, guess, surplus := d.room(s, b, total), int64(0), false
		if b.samples > 0 && i == len(chain)-1 {
			guess = b.samples
			if most := 2*b.samples + surplusSlack; most < limit {
				limit, surplus = most, true
			}
		}
		out, ferr := applyFilter(f, in, guess, limit)
		if in.reader != nil {
			in.reader.Reset(nil)
			streamReaders.Put(in.reader)
		}
		total += int64(len(out))
		d.charge(s, b, total)
		if surplus && errors.Is(ferr, ErrBudget) {
			d.sink.Add(finding.Finding{ID: "image-data-surplus", Severity: finding.Note, Class: finding.OverLimit,
				What:   "An image holds far more data than its size in pixels asks for; the rest was left out.",
				Remedy: remedySaveAgain, Place: finding.Place{Object: s.Ref.Num}})
			ferr = nil
		}
		in = input{data: out, size: int64(len(out))}
		if ferr != nil {
			err = errors.Join(err, fmt.Errorf("object %d, %s: %w", s.Ref.Num, f.Name, ferr))
			if len(out) == 0 {
				return nil, nil, err
			}
		}
	}
	return in.data, nil, err
}

// surplusSlack is what small images may hold beyond twice their size: whole tables are seen behind them.
const surplusSlack = 1 << 20

func withoutCryptFilters(chain []Filter) []Filter {
	keep := chain[:0]
	for _, f := range chain {
		if f.Name != "Crypt" {
			keep = append(keep, f)
		}
	}
	return keep
}

// room is how many bytes one filter of s may give, when those before it gave total.
func (d *Document) room(s *Stream, b bounds, total int64) int64 {
	already := int64(0)
	if s.raw != nil {
		already = d.chargedOf(s.raw).Load()
	}
	left := d.budget.Load()
	if b.data {
		left = min(left, d.dataBudget.Load())
	}
	return min(b.stream, max(left+max(already-total, 0), 0))
}

// charge takes the n bytes a stream expands to from the document's budgets, once for each stream however
// often it is decoded.
func (d *Document) charge(s *Stream, b bounds, n int64) {
	if s.raw == nil {
		return
	}
	charged := d.chargedOf(s.raw)
	for {
		c := charged.Load()
		if n <= c {
			return
		}
		if charged.CompareAndSwap(c, n) {
			d.budget.Add(c - n)
			if b.data {
				d.dataBudget.Add(c - n)
			}
			return
		}
	}
}

// chargedOf counts what r has been charged for. It outlives r: an object that was forgotten is read again.
func (d *Document) chargedOf(r *rawData) *atomic.Int64 {
	if r.doc == nil {
		return &r.charged
	}
	if v, ok := d.charged.Load(r.off); ok {
		return v.(*atomic.Int64)
	}
	v, _ := d.charged.LoadOrStore(r.off, &atomic.Int64{})
	return v.(*atomic.Int64)
}

// Filters is the stream's filter chain with long names and resolved parameters.
func (d *Document) Filters(s *Stream) ([]Filter, error) {
	return filterChain(s.Dict, s.owner(d).Resolve)
}

func filterChain(dict Dict, resolve func(Object) Object) ([]Filter, error) {
	var names Array
	switch v := resolve(dict["Filter"]).(type) {
	case Name:
		names = Array{v}
	case Array:
		names = v
	}
	if len(names) > limits.MaxFilters {
		return nil, fmt.Errorf("%w: %d filters on one stream", ErrUnsupportedFilter, len(names))
	}
	o := resolve(dict["DecodeParms"])
	if o == nil {
		o = resolve(dict["DP"]) // an abbreviation some writers use outside inline images
	}
	var parms Array
	switch v := o.(type) {
	case Dict:
		parms = Array{v}
	case Array:
		parms = v
	}
	chain := make([]Filter, 0, len(names))
	for i, o := range names {
		n, ok := resolve(o).(Name)
		if !ok {
			return chain, fmt.Errorf("%w: a filter without a name", ErrDamaged)
		}
		if long, ok := filterNames[n]; ok {
			n = long
		}
		f := Filter{Name: n}
		if i < len(parms) {
			if p, ok := resolve(parms[i]).(Dict); ok {
				f.Parms = Dict{}
				for k, v := range p {
					f.Parms[k] = resolve(v)
				}
			}
		}
		chain = append(chain, f)
	}
	return chain, nil
}
