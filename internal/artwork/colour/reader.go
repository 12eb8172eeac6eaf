package colour

import (
	"errors"
	"fmt"
	"sync"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Reader turns PDF objects into spaces and functions, caching by reference. Safe for concurrent use.
type Reader struct {
	doc  *pdf.Document
	sink finding.Sink

	mu       sync.Mutex
	spaces   map[spaceKey]spaceResult
	direct   map[directKey]spaceResult
	funcs    map[pdf.Ref]functionResult
	profiles map[pdf.Ref]*Profile // nil for unusable ones
}

// spaceKey is an indirect space and what the resources say of device spaces inside it.
type spaceKey struct {
	ref      pdf.Ref
	defaults defaultRefs
}

// directKey is a space written as a direct array, found again by its first entry.
type directKey struct {
	first    *pdf.Object
	defaults defaultRefs
}

type defaultRefs struct {
	refs [3]pdf.Ref
	off  bool // inside a default space, where there are none
}

type spaceResult struct {
	space Space
	err   error
}

type functionResult struct {
	f   Function
	err error
}

// maxDirectSpaces bounds the cache of direct arrays.
const maxDirectSpaces = 4096

// NewReader reports damage to sink.
func NewReader(doc *pdf.Document, sink finding.Sink) *Reader {
	return &Reader{doc: doc, sink: sink, spaces: map[spaceKey]spaceResult{}, direct: map[directKey]spaceResult{},
		funcs: map[pdf.Ref]functionResult{}, profiles: map[pdf.Ref]*Profile{}}
}

// Space reads a colour space: a name (device space, Pattern, or a key of res' ColorSpace
// dictionary) or an array. Default spaces of res (8.6.5.6) replace device spaces. A nil error is
// also returned for spaces that stand in for damaged ones (with a finding); the error is for "no
// space can be made of this".
func (r *Reader) Space(o pdf.Object, res pdf.Dict) (Space, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	named, _ := r.doc.Dict(res["ColorSpace"])
	return r.space(&spaceScope{named: named}, o)
}

// spaceScope is where a space is read: its resources, how deep, and which object reports name.
type spaceScope struct {
	named     pdf.Dict
	inDefault bool
	depth     int
	object    int
}

func (sc spaceScope) deeper() *spaceScope { sc.depth++; return &sc }

var defaultNames = [3]pdf.Name{"DefaultGray", "DefaultRGB", "DefaultCMYK"}

// key is the part of a cache key that stands for the default spaces; ok is false when they are
// written directly, so that no key can tell them apart.
func (sc *spaceScope) key() (k defaultRefs, ok bool) {
	if sc.inDefault {
		return defaultRefs{off: true}, true
	}
	for i, n := range defaultNames {
		switch o := sc.named[n].(type) {
		case nil:
		case pdf.Ref:
			k.refs[i] = o
		default:
			return k, false
		}
	}
	return k, true
}

func (r *Reader) space(sc *spaceScope, o pdf.Object) (Space, error) {
	if sc.depth > limits.MaxSpaceDepth {
		return nil, fmt.Errorf("colour spaces lie within each other more than %d deep: %w", limits.MaxSpaceDepth, errOverLimit)
	}
	defaults, cacheable := sc.key()
	if ref, ok := o.(pdf.Ref); ok {
		inner := sc.deeper()
		inner.object = ref.Num
		if !cacheable {
			return r.spaceDirect(inner, r.doc.Resolve(o))
		}
		key := spaceKey{ref, defaults}
		if got, ok := r.spaces[key]; ok {
			return got.space, got.err
		}
		// A space that reaches itself finds this entry.
		r.spaces[key] = spaceResult{err: errors.New("the colour space refers to itself")}
		s, err := r.spaceDirect(inner, r.doc.Resolve(o))
		r.spaces[key] = spaceResult{s, err}
		return s, err
	}
	if a, ok := o.(pdf.Array); ok && len(a) > 1 && cacheable {
		key := directKey{&a[0], defaults}
		if got, ok := r.direct[key]; ok {
			return got.space, got.err
		}
		s, err := r.spaceDirect(sc.deeper(), o)
		if len(r.direct) < maxDirectSpaces {
			r.direct[key] = spaceResult{s, err}
		}
		return s, err
	}
	return r.spaceDirect(sc.deeper(), o)
}

func (r *Reader) spaceDirect(sc *spaceScope, o pdf.Object) (Space, error) {
	switch o := o.(type) {
	case pdf.Name:
		return r.namedSpace(sc, o)
	case pdf.Array:
		return r.arraySpace(sc, o)
	case *pdf.Stream: // a profile without its array, as some programs write
		if _, ok := o.Dict["N"]; ok {
			return r.iccSpace(sc, o.Ref, o)
		}
	case nil:
		return nil, errors.New("the colour space is missing")
	}
	return nil, fmt.Errorf("a colour space is a name or an array, not %T", o)
}

func (r *Reader) namedSpace(sc *spaceScope, name pdf.Name) (Space, error) {
	switch name {
	case "DeviceGray", "CalGray":
		return r.deviceSpace(sc, 0), nil
	case "DeviceRGB", "CalRGB":
		return r.deviceSpace(sc, 1), nil
	case "DeviceCMYK", "CalCMYK":
		return r.deviceSpace(sc, 2), nil
	case "Pattern":
		return &Pattern{}, nil
	}
	if o, ok := sc.named[name]; ok {
		return r.space(sc, o)
	}
	switch name { // abbreviations belong to inline images, but are met elsewhere
	case "G":
		return r.deviceSpace(sc, 0), nil
	case "RGB":
		return r.deviceSpace(sc, 1), nil
	case "CMYK":
		return r.deviceSpace(sc, 2), nil
	}
	return nil, fmt.Errorf("the colour space %.60q is not among the resources", string(name))
}

// deviceSpace is device space i (gray, RGB, CMYK) or its default space (8.6.5.6). Device spaces
// inside a default space stay themselves.
func (r *Reader) deviceSpace(sc *spaceScope, i int) Space {
	device := [3]Space{Gray, RGB, CMYK}[i]
	if sc.inDefault {
		return device
	}
	o, ok := sc.named[defaultNames[i]]
	if !ok {
		return device
	}
	inner := *sc
	inner.inDefault = true
	s, err := r.space(&inner, o)
	if err == nil {
		switch s.Family() {
		case FamilyPattern, FamilyIndexed, FamilyLab:
			err = fmt.Errorf("%s is not allowed there", s)
		default:
			if s.Components() != device.Components() {
				err = fmt.Errorf("%s has %d components", s, s.Components())
			}
		}
	}
	if err != nil {
		r.damaged(sc, "default-colour-space-unusable", fmt.Sprintf("The default for %s cannot be used: %v.", device, err),
			"The colours are taken as plain device colours instead.")
		return device
	}
	return s
}

func (r *Reader) arraySpace(sc *spaceScope, a pdf.Array) (Space, error) {
	if len(a) == 0 {
		return nil, errors.New("the colour space is an empty array")
	}
	family, ok := r.doc.Name(a[0])
	if !ok {
		return nil, errors.New("the colour space array does not begin with a name")
	}
	if len(a) == 1 {
		return r.namedSpace(sc, family)
	}
	switch family {
	case "DeviceGray", "DeviceRGB", "DeviceCMYK", "CalCMYK":
		return r.namedSpace(sc, family)
	case "CalGray", "CalRGB", "Lab":
		return r.cieSpace(sc, family, a[1]), nil
	case "ICCBased":
		st, ok := r.doc.Stream(a[1])
		if !ok {
			return nil, errors.New("the ICCBased colour space has no profile")
		}
		return r.iccSpace(sc, st.Ref, st)
	case "Indexed", "I":
		return r.indexedSpace(sc, a)
	case "Separation":
		return r.separation(sc, a)
	case "DeviceN":
		return r.deviceN(sc, a)
	case "Pattern":
		under, err := r.space(sc, a[1])
		if err != nil {
			return nil, err
		}
		if under.Family() == FamilyPattern {
			return nil, errors.New("a pattern space lies under a pattern space")
		}
		return &Pattern{Under: under}, nil
	}
	return nil, fmt.Errorf("the colour space family %.40q is unknown", string(family))
}

// damaged reports a malformed construct that something else stands in for.
func (r *Reader) damaged(sc *spaceScope, id finding.ID, what, why string) {
	r.sink.Add(finding.Finding{ID: id, Severity: finding.Warning, Class: finding.Malformed, What: what, Why: why,
		Remedy: "Export the artwork again, or open it in the design program and assign the colour anew.",
		Place:  finding.Place{Object: sc.object}, Incomplete: true})
}

// unusable is damaged with the class taken from the error.
func (r *Reader) unusable(sc *spaceScope, id finding.ID, err error, what, why string, colourants ...string) {
	f := finding.Finding{ID: id, Severity: finding.Warning, Class: classOf(err), What: what, Why: why,
		Remedy: "Export the artwork again, or open it in the design program and assign the colour anew.",
		Place:  finding.Place{Object: sc.object, Colourants: colourants}, Incomplete: true}
	r.sink.Add(f)
}

func classOf(err error) finding.Class {
	switch {
	case errors.Is(err, errOverLimit), errors.Is(err, pdf.ErrBudget):
		return finding.OverLimit
	case errors.Is(err, errUnsupported), errors.Is(err, pdf.ErrUnsupportedFilter):
		return finding.Unsupported
	}
	return finding.Malformed
}
