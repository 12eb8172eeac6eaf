package colour

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Function reads a function of type 0, 2, 3 or 4, or an array of n functions joined into one. The
// name Identity is the function that copies one number.
func (r *Reader) Function(o pdf.Object) (Function, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.function(o, 0)
}

func (r *Reader) function(o pdf.Object, depth int) (Function, error) {
	if depth > limits.MaxFunctionDepth {
		return nil, fmt.Errorf("functions lie within each other more than %d deep: %w", limits.MaxFunctionDepth, errOverLimit)
	}
	ref, ok := o.(pdf.Ref)
	if !ok {
		return r.functionDirect(o, pdf.Ref{}, depth)
	}
	if got, ok := r.funcs[ref]; ok {
		return got.f, got.err
	}
	r.funcs[ref] = functionResult{err: errors.New("the function refers to itself")}
	f, err := r.functionDirect(r.doc.Resolve(o), ref, depth)
	r.funcs[ref] = functionResult{f, err}
	return f, err
}

func (r *Reader) functionDirect(o pdf.Object, ref pdf.Ref, depth int) (Function, error) {
	switch o := o.(type) {
	case pdf.Array:
		return r.functionArray(o, depth)
	case pdf.Dict:
		return r.functionDict(o, nil, ref, depth)
	case *pdf.Stream:
		return r.functionDict(o.Dict, o, ref, depth)
	case pdf.Name:
		if o == "Identity" {
			return Identity(1), nil
		}
	}
	return nil, fmt.Errorf("a function is a dictionary or a stream, not %T", o)
}

func (r *Reader) functionArray(a pdf.Array, depth int) (Function, error) {
	if len(a) == 0 || len(a) > limits.MaxFunctionParts {
		return nil, fmt.Errorf("an array of %d functions", len(a))
	}
	f := &joined{}
	for _, o := range a {
		p, err := r.function(o, depth+1)
		if err != nil {
			return nil, err
		}
		if len(f.parts) > 0 && p.Inputs() != f.parts[0].Inputs() {
			return nil, errors.New("the functions of an array take different numbers of inputs")
		}
		f.outputs += p.Outputs()
		f.parts = append(f.parts, p)
	}
	if f.outputs > limits.MaxFunctionParts {
		return nil, fmt.Errorf("an array of functions with %d outputs: %w", f.outputs, errOverLimit)
	}
	if len(f.parts) == 1 {
		return f.parts[0], nil
	}
	return f, nil
}

func (r *Reader) functionDict(d pdf.Dict, st *pdf.Stream, ref pdf.Ref, depth int) (Function, error) {
	typ, ok := r.doc.Int(d["FunctionType"])
	if !ok {
		return nil, errors.New("the function has no type")
	}
	domain, ok := r.bounds(d["Domain"])
	if !ok {
		return nil, errors.New("the function has no domain")
	}
	var rng []float64
	if d["Range"] != nil {
		if rng, ok = r.bounds(d["Range"]); !ok {
			return nil, errors.New("the range of the function is damaged")
		}
	}
	if len(domain)/2 > limits.MaxComponents || len(rng)/2 > limits.MaxFunctionParts {
		return nil, fmt.Errorf("a function of %d inputs and %d outputs: %w", len(domain)/2, len(rng)/2, errOverLimit)
	}
	switch typ {
	case 0:
		return r.sampledFunction(d, st, ref, domain, rng)
	case 2:
		return r.exponentialFunction(d, domain, rng)
	case 3:
		return r.stitchingFunction(d, domain, rng, depth)
	case 4:
		return r.calculatorFunction(st, ref, domain, rng)
	}
	return nil, fmt.Errorf("a function of type %d is %w", typ, errUnsupported)
}

// bounds reads pairs; a pair the wrong way round is turned.
func (r *Reader) bounds(o pdf.Object) ([]float64, bool) {
	v, ok := r.doc.Nums(o)
	if !ok || len(v) < 2 {
		return nil, false
	}
	v = slices.Clone(v[:len(v)/2*2])
	for i := 0; i < len(v); i += 2 {
		if v[i] > v[i+1] {
			v[i], v[i+1] = v[i+1], v[i]
		}
	}
	return v, true
}

func (r *Reader) sampledFunction(d pdf.Dict, st *pdf.Stream, ref pdf.Ref, domain, rng []float64) (Function, error) {
	if st == nil || rng == nil {
		return nil, errors.New("the sampled function has no samples or no range")
	}
	m, n := len(domain)/2, len(rng)/2
	if m > maxSampledInputs {
		return nil, fmt.Errorf("a sampled function of %d inputs is %w", m, errUnsupported)
	}
	bits, _ := r.doc.Int(d["BitsPerSample"])
	if bits < 1 || bits > 32 {
		return nil, fmt.Errorf("a sampled function of %d bits per sample is %w", bits, errUnsupported)
	}
	sizes, ok := r.doc.Nums(d["Size"])
	if v, one := r.doc.Int(d["Size"]); one {
		sizes, ok = []float64{float64(v)}, true
	}
	if !ok || len(sizes) < m {
		return nil, errors.New("the sampled function has no sizes")
	}
	size, nodes := make([]int, m), 1
	for i := range m {
		s := sizes[i]
		if s < 1 || s != math.Trunc(s) {
			return nil, fmt.Errorf("the sampled function has the size %g", s)
		}
		if s > limits.MaxFunctionSamples || nodes*int(s)*n > limits.MaxFunctionSamples {
			return nil, fmt.Errorf("a sampled function of more than %d samples: %w", limits.MaxFunctionSamples, errOverLimit)
		}
		size[i] = int(s)
		nodes *= size[i]
	}
	if order, ok := r.doc.Int(d["Order"]); ok && order == 3 {
		r.sink.Add(finding.Finding{ID: "function-cubic", Severity: finding.Note,
			What:   "A table of colours asks for cubic interpolation and is read with straight lines between its values.",
			Why:    "Both meet at the values themselves; the difference between them is too small to see in print.",
			Remedy: "Nothing needs to be done.",
			Place:  finding.Place{Object: ref.Num}})
	}
	encode, ok := r.doc.Nums(d["Encode"])
	if !ok || len(encode) < 2*m {
		encode = nil
		for _, s := range size {
			encode = append(encode, 0, float64(s-1))
		}
	}
	decode, ok := r.doc.Nums(d["Decode"])
	if !ok || len(decode) < 2*n {
		decode = rng
	}
	data, err := r.doc.Data(st)
	if err != nil && len(data) == 0 {
		return nil, err
	}
	if need := (nodes*n*bits + 7) / 8; len(data) < need {
		r.sink.Add(finding.Finding{ID: "function-data-short", Severity: finding.Warning, Class: finding.Malformed,
			What:       fmt.Sprintf("The table of a function has %d bytes instead of %d.", len(data), need),
			Why:        "Colours computed with it may print differently from the design.",
			Remedy:     "Export the artwork again.",
			Place:      finding.Place{Object: ref.Num},
			Incomplete: true})
	}
	return newSampled(domain, rng, encode[:2*m], decode[:2*n], size, bits, data), nil
}

func (r *Reader) exponentialFunction(d pdf.Dict, domain, rng []float64) (Function, error) {
	f := &exponential{domain: domain[:2], rng: rng, c0: []float64{0}, c1: []float64{1}, n: 1}
	if n, ok := r.doc.Num(d["N"]); ok {
		f.n = n
	}
	c0, ok0 := r.doc.Nums(d["C0"])
	c1, ok1 := r.doc.Nums(d["C1"])
	ok0, ok1 = ok0 && len(c0) > 0, ok1 && len(c1) > 0
	if ok0 {
		f.c0 = c0
	}
	if ok1 {
		f.c1 = c1
	}
	if len(f.c0) != len(f.c1) {
		if ok0 && ok1 {
			return nil, fmt.Errorf("the exponential function has %d values at one end and %d at the other", len(c0), len(c1))
		}
		return nil, errors.New("the exponential function has one end only")
	}
	if len(f.c0) > limits.MaxFunctionParts {
		return nil, fmt.Errorf("an exponential function of %d outputs: %w", len(f.c0), errOverLimit)
	}
	return f, nil
}

func (r *Reader) stitchingFunction(d pdf.Dict, domain, rng []float64, depth int) (Function, error) {
	list, ok := r.doc.Array(d["Functions"])
	if !ok || len(list) == 0 {
		return nil, errors.New("the stitching function has no parts")
	}
	if len(list) > limits.MaxFunctionParts {
		return nil, fmt.Errorf("a stitching function of %d parts: %w", len(list), errOverLimit)
	}
	f := &stitching{domain: domain[:2], rng: rng}
	for _, o := range list {
		p, err := r.function(o, depth+1)
		if err != nil {
			return nil, err
		}
		if p.Inputs() != 1 || p.Outputs() != firstOutputs(f.parts, p) {
			return nil, errors.New("the parts of a stitching function do not fit each other")
		}
		f.parts = append(f.parts, p)
	}
	if len(list) > 1 {
		bounds, ok := r.doc.Nums(d["Bounds"])
		if !ok || len(bounds) < len(list)-1 {
			return nil, errors.New("the stitching function has too few bounds")
		}
		f.bounds = bounds[:len(list)-1]
	}
	f.sorted = slices.IsSorted(f.bounds)
	f.encode, ok = r.doc.Nums(d["Encode"])
	if !ok || len(f.encode) < 2*len(list) {
		return nil, errors.New("the stitching function has too few encodings")
	}
	return f, nil
}

func firstOutputs(parts []Function, p Function) int {
	if len(parts) == 0 {
		return p.Outputs()
	}
	return parts[0].Outputs()
}

func (r *Reader) calculatorFunction(st *pdf.Stream, ref pdf.Ref, domain, rng []float64) (Function, error) {
	if st == nil || rng == nil {
		return nil, errors.New("the calculator function has no program or no range")
	}
	if n := max(len(domain), len(rng)) / 2; n > calculatorStack {
		return nil, fmt.Errorf("a calculator function of %d numbers: %w", n, errOverLimit)
	}
	data, err := r.doc.Data(st)
	if err != nil && len(data) == 0 {
		return nil, err
	}
	steps, err := compileCalculator(data)
	if err != nil {
		return nil, err
	}
	f := &calculator{domain: domain, rng: rng, steps: steps, code: compileRegisters(steps, len(domain)/2, len(rng)/2)}
	if !f.check() {
		r.sink.Add(finding.Finding{ID: "function-results-wrong", Severity: finding.Warning, Class: finding.Malformed,
			What:       fmt.Sprintf("A calculator function does not end with the %d numbers it has to give.", f.Outputs()),
			Why:        "Colours computed with it may print differently from the design.",
			Remedy:     "Export the artwork again.",
			Place:      finding.Place{Object: ref.Num},
			Incomplete: true})
	}
	return f, nil
}
