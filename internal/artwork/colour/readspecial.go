package colour

import (
	"errors"
	"fmt"
	"slices"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// separation reads [/Separation name alternate tint] (8.6.6.4). Only a missing name is beyond help:
// a colourant with a plate of its own needs neither alternate nor tint transform.
func (r *Reader) separation(sc *spaceScope, a pdf.Array) (*Separation, error) {
	name, ok := r.colourantName(a[1])
	if !ok {
		return nil, errors.New("the Separation colour space has no name")
	}
	s := &Separation{Name: name}
	s.Alternate, s.Tint = r.alternate(sc, a, 1, name)
	return s, nil
}

// colourantName reads a name; a string in its place is met in old files.
func (r *Reader) colourantName(o pdf.Object) (string, bool) {
	switch n := r.doc.Resolve(o).(type) {
	case pdf.Name:
		return string(n), true
	case pdf.String:
		return string(n), true
	}
	return "", false
}

// alternate reads entries 2 and 3 of a Separation or DeviceN array of n components.
func (r *Reader) alternate(sc *spaceScope, a pdf.Array, n int, names ...string) (Space, Function) {
	var alternate Space
	err := errors.New("it is missing")
	if len(a) > 2 {
		alternate, err = r.space(sc, a[2])
		if err == nil && !usableAlternate(alternate) {
			err = fmt.Errorf("%s is not allowed there", alternate)
		}
	}
	if err != nil {
		r.unusable(sc, "alternate-space-damaged", err, fmt.Sprintf("The alternate colour space of %s cannot be used: %v.", quoted(names), err),
			"Wherever the press has no such toner, it prints in black instead of its stand-in colour.", names...)
		return CMYK, newDarkening(n, CMYK)
	}
	var f Function
	err = errors.New("it is missing")
	if len(a) > 3 {
		f, err = r.function(a[3], 0)
		if err == nil && (f.Inputs() != n || f.Outputs() < alternate.Components()) {
			err = fmt.Errorf("it turns %d numbers into %d, not %d into %d", f.Inputs(), f.Outputs(), n, alternate.Components())
		}
	}
	if err != nil {
		r.unusable(sc, "tint-transform-damaged", err, fmt.Sprintf("The tint transform of %s cannot be used: %v.", quoted(names), err),
			"Wherever the press has no such toner, it prints from white to black instead of in its stand-in colour.", names...)
		return alternate, newDarkening(n, alternate)
	}
	if f.Outputs() > limits.MaxComponents {
		f = newDarkening(n, alternate)
	}
	return alternate, f
}

func quoted(names []string) string {
	if len(names) == 1 {
		return fmt.Sprintf("%.60q", names[0])
	}
	return fmt.Sprintf("a colour space of %d colourants", len(names))
}

func newDarkening(inputs int, alternate Space) Function {
	f := &darkening{inputs: inputs}
	switch {
	case alternate.Family() == FamilyLab:
		f.white, f.black = []float64{100, 0, 0}, []float64{0, 0, 0}
	case alternate.Components() == 4:
		f.white, f.black = []float64{0, 0, 0, 0}, []float64{0, 0, 0, 1}
	case alternate.Components() == 3:
		f.white, f.black = []float64{1, 1, 1}, []float64{0, 0, 0}
	default:
		f.white, f.black = []float64{1}, []float64{0}
	}
	return f
}

// deviceN reads [/DeviceN names alternate tint attributes] (8.6.6.5).
func (r *Reader) deviceN(sc *spaceScope, a pdf.Array) (Space, error) {
	list, ok := r.doc.Array(a[1])
	if !ok || len(list) == 0 {
		return nil, errors.New("the DeviceN colour space has no names")
	}
	if len(list) > limits.MaxComponents {
		return nil, fmt.Errorf("a DeviceN colour space of %d colourants: %w (%d)", len(list), errOverLimit, limits.MaxComponents)
	}
	s := &DeviceN{}
	for _, o := range list {
		name, ok := r.colourantName(o)
		if !ok {
			return nil, errors.New("a colourant of the DeviceN colour space has no name")
		}
		if name != "None" && slices.Contains(s.Names, name) {
			r.sink.Add(finding.Finding{ID: "colourant-named-twice", Severity: finding.Warning, Class: finding.Malformed,
				What:   fmt.Sprintf("A DeviceN colour space names %.60q twice.", name),
				Why:    "Only one of the two amounts can print.",
				Remedy: "Assign the colour anew in the design program.",
				Place:  finding.Place{Object: sc.object, Colourants: []string{name}}})
		}
		s.Names = append(s.Names, name)
	}
	s.Alternate, s.Tint = r.alternate(sc, a, len(s.Names), s.Names...)
	if len(a) > 4 {
		if d, ok := r.doc.Dict(a[4]); ok {
			r.attributes(sc, s, d)
		}
	}
	return s, nil
}

// attributes reads a DeviceN attributes dictionary (Tables 70 to 72).
func (r *Reader) attributes(sc *spaceScope, s *DeviceN, d pdf.Dict) {
	subtype, _ := r.doc.Name(d["Subtype"])
	s.NChannel = subtype == "NChannel"
	if colorants, ok := r.doc.Dict(d["Colorants"]); ok {
		s.Colorants = map[string]*Separation{}
		for _, name := range sortedKeys(colorants, limits.MaxComponents) {
			got, err := r.space(sc, colorants[name])
			if err != nil {
				continue // the component then falls back with the whole space
			}
			if sep, ok := got.(*Separation); ok {
				s.Colorants[string(name)] = sep
			}
		}
	}
	if process, ok := r.doc.Dict(d["Process"]); ok {
		r.process(sc, s, process)
	}
	if hints, ok := r.doc.Dict(d["MixingHints"]); ok {
		s.Hints = r.MixingHints(hints)
	}
}

func (r *Reader) process(sc *spaceScope, s *DeviceN, d pdf.Dict) {
	space, err := r.space(sc, d["ColorSpace"])
	if err == nil && (!usableAlternate(space) || space.Family() == FamilyLab) {
		err = fmt.Errorf("%s is not allowed there", space)
	}
	names, _ := r.doc.Array(d["Components"])
	var components []string
	for _, o := range names {
		if n, ok := r.colourantName(o); ok {
			components = append(components, n)
		}
	}
	if err == nil && len(components) != space.Components() {
		err = fmt.Errorf("it has %d names for %d components", len(components), space.Components())
	}
	if err != nil {
		r.unusable(sc, "process-space-damaged", err, fmt.Sprintf("The process colours of an NChannel colour space cannot be used: %v.", err),
			"Its components count as named colourants.", s.Names...)
		return
	}
	s.Process, s.ProcessComponents = space, components
}

// MixingHints reads a mixing hints dictionary (Table 72), of a DeviceN space or an output intent.
func (r *Reader) MixingHints(d pdf.Dict) *MixingHints {
	h := &MixingHints{}
	if sol, ok := r.doc.Dict(d["Solidities"]); ok {
		h.Solidities = map[string]float64{}
		for _, name := range sortedKeys(sol, limits.MaxComponents+1) {
			if v, ok := r.doc.Num(sol[name]); ok {
				h.Solidities[string(name)] = clamp(v, 0, 1)
			}
		}
	}
	order, _ := r.doc.Array(d["PrintingOrder"])
	for _, o := range order[:min(len(order), limits.MaxComponents)] {
		if n, ok := r.colourantName(o); ok {
			h.PrintingOrder = append(h.PrintingOrder, n)
		}
	}
	if gain, ok := r.doc.Dict(d["DotGain"]); ok {
		h.DotGain = map[string]Function{}
		for _, name := range sortedKeys(gain, limits.MaxComponents+1) {
			if f, err := r.function(gain[name], 0); err == nil && f.Inputs() == 1 && f.Outputs() == 1 {
				h.DotGain[string(name)] = f
			}
		}
	}
	return h
}

// sortedKeys are the keys of a dictionary in byte order, at most limit.
func sortedKeys(d pdf.Dict, limit int) []pdf.Name {
	keys := make([]pdf.Name, 0, len(d))
	for k := range d {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys[:min(len(keys), limit)]
}
