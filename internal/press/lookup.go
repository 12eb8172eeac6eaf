package press

import (
	"maps"
	"slices"

	"laydown/internal/colourant"
)

// Toner finds a toner by its exact name.
func (p *Press) Toner(name string) (*Toner, bool) {
	for i := range p.Toners {
		if p.Toners[i].Name == name {
			return &p.Toners[i], true
		}
	}
	return nil, false
}

// Mix finds a mix by its exact name.
func (p *Press) Mix(name string) (*Mix, bool) {
	for i := range p.Mixes {
		if p.Mixes[i].Name == name {
			return &p.Mixes[i], true
		}
	}
	return nil, false
}

// StandIn is the stand-in colour of the toner or mix of this name.
func (p *Press) StandIn(name string) (look [4]Percent, ok bool) {
	if t, ok := p.Toner(name); ok {
		return t.StandIn, true
	}
	if m, ok := p.Mix(name); ok {
		return m.StandIn, true
	}
	return look, false
}

// KindOf tells the kind of the toner or mix of this name. A mix has the kind of its parts when
// they agree, else Spot.
func (p *Press) KindOf(name string) (colourant.Kind, bool) {
	if t, ok := p.Toner(name); ok {
		return t.Kind, true
	}
	m, ok := p.Mix(name)
	if !ok {
		return colourant.Spot, false
	}
	kind, first := colourant.Spot, true
	for _, part := range m.Parts {
		t, ok := p.Toner(part.Toner)
		if !ok || !first && t.Kind != kind {
			return colourant.Spot, true
		}
		kind, first = t.Kind, false
	}
	return kind, true
}

// Suggest names the toners and mixes a colourant name of artwork may have meant: first those that
// list it as an alias, then near spellings. It is empty for an exact name.
func (p *Press) Suggest(name string) []string {
	if _, ok := p.KindOf(name); ok {
		return nil
	}
	var out []string
	if t, ok := p.tonerByAlias(name); ok {
		out = append(out, t.Name)
	}
	for _, m := range p.Mixes {
		if hasFolded(m.Aliases, name) {
			out = append(out, m.Name)
		}
	}
	near := map[string]string{} // spelling -> name
	var spellings []string
	add := func(name string, aliases []string) {
		for _, s := range append([]string{name}, aliases...) {
			near[s] = name
			spellings = append(spellings, s)
		}
	}
	for _, t := range p.Toners {
		add(t.Name, t.Aliases)
	}
	for _, m := range p.Mixes {
		add(m.Name, m.Aliases)
	}
	for _, s := range Nearest(name, spellings) {
		if n := near[s]; !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func (p *Press) tonerByAlias(name string) (*Toner, bool) {
	for i := range p.Toners {
		if hasFolded(p.Toners[i].Aliases, name) {
			return &p.Toners[i], true
		}
	}
	return nil, false
}

func hasFolded(list []string, name string) bool {
	f := fold(name)
	return slices.ContainsFunc(list, func(s string) bool { return fold(s) == f })
}

func (p *Press) tonerNames() []string {
	out := make([]string, len(p.Toners))
	for i := range p.Toners {
		out[i] = p.Toners[i].Name
	}
	return out
}

// SpecialsInLaydown lists every toner that is not a process toner, in the order in which the sets
// first name them, stations from the stock upwards. It fits colourant.NewSet.
func (p *Press) SpecialsInLaydown() []colourant.Colourant {
	var out []colourant.Colourant
	for _, set := range p.Sets {
		for _, name := range set.Stations {
			t, ok := p.Toner(name)
			c := colourant.Colourant{Name: name}
			if ok {
				c.Kind = t.Kind
			}
			if ok && t.Kind != colourant.Process && !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	return out
}

// SetsCarrying lists the sets that hold all the named toners, in the order of the definition. A
// mix counts as its parts.
func (p *Press) SetsCarrying(toners []string) []*Set {
	need := p.parts(toners)
	var out []*Set
	for i := range p.Sets {
		if !slices.ContainsFunc(need, func(n string) bool { return !slices.Contains(p.Sets[i].Stations, n) }) {
			out = append(out, &p.Sets[i])
		}
	}
	return out
}

// parts replaces mixes by their toners and drops repeats; unknown names stay.
func (p *Press) parts(names []string) []string {
	var out []string
	add := func(n string) {
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for _, n := range names {
		if m, ok := p.Mix(n); ok {
			for _, part := range m.Parts {
				add(part.Toner)
			}
			continue
		}
		add(n)
	}
	return out
}

// HasProcess tells whether any set carries all four process toners.
func (p *Press) HasProcess() bool { return len(p.SetsCarrying(colourant.ProcessNames[:])) > 0 }

// Held is the tint range with what was left out filled in: 0 to 100 %, and only 100 % for a toner
// that may not be tinted. Advised stays 0 when nothing is advised.
func (t TintRange) Held() (least, most, advised Percent) {
	least, most, advised = t.Least, t.Most, t.Advised
	if most == 0 {
		most = 100
	}
	if !t.Tints() {
		least = 100
	}
	return least, most, advised
}

// Tints tells whether the toner may be tinted at all.
func (t TintRange) Tints() bool { return t.MayTint == nil || *t.MayTint }

// Defaults of the finest detail by kind: usual advice of the trade, common practice without a
// source; the figures at which detail becomes doubtful, not those at which it is lost.
var (
	finestProcess = Finest{Line: LengthFromPoints(0.25), Reversed: LengthFromPoints(0.5), Type: LengthFromPoints(5)}
	finestSpecial = Finest{Line: LengthFromPoints(0.5), Reversed: LengthFromPoints(1), Type: LengthFromPoints(6)}
)

// FinestHeld is the smallest detail of the toner with what was left out filled in by kind.
func (t *Toner) FinestHeld() Finest {
	d := finestSpecial
	if t.Kind == colourant.Process {
		d = finestProcess
	}
	f := t.Finest
	if f.Line == 0 {
		f.Line = d.Line
	}
	if f.Reversed == 0 {
		f.Reversed = d.Reversed
	}
	if f.Type == 0 {
		f.Type = d.Type
	}
	return f
}

// GlossWord is the stock's gloss, by surface when the definition leaves it out.
func (s *Stock) GlossWord() string {
	switch {
	case s.Gloss != "":
		return s.Gloss
	case s.Surface == SurfaceUncoated:
		return GlossMatte
	case s.Surface == SurfaceCoated:
		return GlossSatin
	}
	return GlossHigh
}

func sortedKeys[M ~map[string]V, V any](m M) []string { return slices.Sorted(maps.Keys(m)) }

// Shares are the percentages of a stand-in colour as shares of 1.
func Shares(c [4]Percent) (out [4]float64) {
	for i, v := range c {
		out[i] = float64(v) / 100
	}
	return out
}
