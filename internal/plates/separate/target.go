package separate

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/press"
)

// Target is what is separated for: the plates and how names reach them. It must not be changed once
// in use; then it is safe for concurrent use.
type Target struct {
	Set     *colourant.Set
	Mounted []bool               // per plate; false for process toners no set of the press carries; nil = all mounted
	Names   map[string]int       // artwork name to plate index, process and assigned names included
	Mixes   map[string][]MixPart // artwork name to parts, assigned names included
	// Converter converts through the output profile of the press or of the file's output intent, or naively. An
	// ICCBased CMYK space with this very profile is taken as DeviceCMYK (8.6.5.7).
	Converter *colour.Converter
}

// MixPart is one toner of a mix at the mix's full tint.
type MixPart struct {
	Plate int
	Tint  float64 // 0..1
}

// Names that no toner can have (8.6.6.4).
const (
	nameAll  = "All"
	nameNone = "None"
)

// NewTarget returns the target of a press: Cyan, Magenta, Yellow, Black, then the special toners of
// its sets in laydown order. Names are matched byte for byte: an alias of a toner is not mounted
// unless assign, which maps artwork names to names of toners or mixes of the press, says so. A nil
// conv converts naively. The error tells a definition or an assignment that cannot be followed.
func NewTarget(p *press.Press, assign map[string]string, conv *colour.Converter) (*Target, error) {
	kinds := map[string]colourant.Kind{}
	for _, toner := range p.Toners {
		kinds[toner.Name] = toner.Kind
	}
	stations := make([][]string, 0, len(p.Sets))
	carried := map[string]bool{}
	for _, set := range p.Sets {
		stations = append(stations, set.Stations)
		for _, name := range set.Stations {
			if name == nameAll || name == nameNone || name == "" {
				return nil, fmt.Errorf("press %q: a toner cannot be called %q", p.Name, name)
			}
			carried[name] = true
		}
	}
	var specials []colourant.Colourant
	for _, name := range laydownOrder(stations) {
		if !isProcessName(name) {
			specials = append(specials, colourant.Colourant{Name: name, Kind: kinds[name]})
		}
	}
	if n := len(specials) + len(colourant.ProcessNames); n > limits.MaxColourants {
		return nil, fmt.Errorf("press %q carries %d toners; at most %d get plates", p.Name, n, limits.MaxColourants)
	}
	t := newTarget(colourant.NewSet(specials...), conv)
	for i, name := range colourant.ProcessNames {
		t.Mounted[i] = carried[name]
	}
	for _, mix := range p.Mixes {
		if _, taken := t.Names[mix.Name]; taken || mix.Name == nameAll || mix.Name == nameNone {
			return nil, fmt.Errorf("press %q: the mix %q has the name of a toner", p.Name, mix.Name)
		}
		if parts, ok := t.mixParts(mix, carried); ok {
			t.Mixes[mix.Name] = parts
		}
	}
	return t, t.assign(p, assign)
}

// newTarget has every colourant of set mounted under its own name.
func newTarget(set *colourant.Set, conv *colour.Converter) *Target {
	if conv == nil {
		conv = colour.NewConverter(nil)
	}
	t := &Target{Set: set, Mounted: make([]bool, set.Len()), Names: map[string]int{}, Mixes: map[string][]MixPart{}, Converter: conv}
	for i, c := range set.All() {
		t.Names[c.Name] = i
		t.Mounted[i] = true
	}
	return t
}

// mixParts resolves a mix; ok is false when one of its toners is in no set, so that it cannot be mixed.
func (t *Target) mixParts(mix press.Mix, carried map[string]bool) (parts []MixPart, ok bool) {
	for _, p := range mix.Parts {
		i, known := t.Set.Lookup(p.Toner)
		if !known || !carried[p.Toner] {
			return nil, false
		}
		parts = append(parts, MixPart{Plate: i, Tint: unit(float64(p.Tint) / 100)})
	}
	return parts, len(parts) > 0
}

// assign adds the names a job maps to toners. The chosen toner is looked up under its own name, so
// that assignments cannot chain.
func (t *Target) assign(p *press.Press, names map[string]string) error {
	own := map[string]int{}
	for name, i := range t.Names {
		own[name] = i
	}
	ownMixes := map[string][]MixPart{}
	for name, parts := range t.Mixes {
		ownMixes[name] = parts
	}
	for _, name := range sortedKeys(names) {
		toner := names[name]
		if isProcessName(name) || name == nameAll || name == nameNone {
			return fmt.Errorf("the colourant name %q has a fixed meaning and cannot be assigned to %q", name, toner)
		}
		if i, ok := own[toner]; ok && t.mounted(i) {
			delete(t.Mixes, name)
			t.Names[name] = i
		} else if parts, ok := ownMixes[toner]; ok {
			delete(t.Names, name)
			t.Mixes[name] = parts
		} else {
			return fmt.Errorf("the colourant name %q is assigned to %q, which press %q does not carry; it carries %s",
				name, toner, p.Name, t.carriedNames(own, ownMixes))
		}
	}
	return nil
}

func (t *Target) carriedNames(own map[string]int, mixes map[string][]MixPart) string {
	var names []string
	for _, c := range t.Set.All() {
		if t.mounted(own[c.Name]) {
			names = append(names, c.Name)
		}
	}
	return strings.Join(append(names, sortedKeys(mixes)...), ", ")
}

// NewTargetFromLists returns the target that has a plate for every colourant name of the lists, for
// artwork looked at without a press. Names beyond limits.MaxColourants are reported to sink and go
// through their alternates. A nil conv converts naively.
func NewTargetFromLists(conv *colour.Converter, sink finding.Sink, lists ...*displist.List) *Target {
	var specials []colourant.Colourant
	seen := map[string]bool{}
	var beyond []string
	var first finding.Place
	for _, list := range lists {
		for _, n := range list.Names {
			if seen[n.Name] || isProcessName(n.Name) || n.Name == nameAll || n.Name == nameNone {
				continue
			}
			seen[n.Name] = true
			if len(specials)+len(colourant.ProcessNames) < limits.MaxColourants {
				specials = append(specials, colourant.Colourant{Name: n.Name})
				continue
			}
			beyond = append(beyond, n.Name)
			if len(beyond) == 1 {
				first = finding.Place{Page: list.Page.Number, Object: n.Object}
			}
		}
	}
	if len(beyond) > 0 {
		first.Colourants = beyond[:min(len(beyond), 10)]
		sink.Add(finding.Finding{ID: "too-many-colourants", Severity: finding.Warning, Class: finding.OverLimit, Incomplete: true,
			What:   fmt.Sprintf("The artwork uses more than %d colourants; %d of them get no plate of their own, %q first.", limits.MaxColourants, len(beyond), beyond[0]),
			Why:    "They are shown in their stand-in colours made of process toner.",
			Remedy: "Remove colourants that are not needed, or name a press.",
			Place:  first})
	}
	return newTarget(colourant.NewSet(specials...), conv)
}

func (t *Target) mounted(plate int) bool { return plate >= len(t.Mounted) || t.Mounted[plate] }

// Components is the number of components an Ink has in a context: process components of the blend
// space and all specials.
func (t *Target) Components(ctx Context) int {
	return ctx.Space.ProcessComponents() + t.Set.Len() - len(colourant.ProcessNames)
}

// component is the place of a plate in the inks of a context; ok is false for process plates when
// the blend space is not CMYK: there are no such planes then.
func (t *Target) component(plate int, ctx Context) (i int, ok bool) {
	if plate < len(colourant.ProcessNames) {
		return plate, ctx.Space == BlendCMYK
	}
	return plate - len(colourant.ProcessNames) + ctx.Space.ProcessComponents(), true
}

// ComponentNames names the components of the inks of a context, for dumps: the plates in CMYK; in
// other spaces "R", "G", "B" or "Gray" (each as the tint 1 minus the additive value) and the specials.
func (t *Target) ComponentNames(ctx Context) []string {
	names := [][]string{colourant.ProcessNames[:], {"R", "G", "B"}, {"Gray"}}[ctx.Space]
	names = slices.Clone(names)
	for _, c := range t.Set.All()[len(colourant.ProcessNames):] {
		names = append(names, c.Name)
	}
	return names
}

func isProcessName(name string) bool { return slices.Contains(colourant.ProcessNames[:], name) }
