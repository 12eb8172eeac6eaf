package press

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

// Validation of what types cannot say. Every fault points at its value and says what to write.

const (
	maxNameBytes   = 127 // PDF names (ISO 32000-1 Annex C)
	maxSheet       = Length(10_000)
	nameAll        = "All"  // reserved colourant names (ISO 32000-2, 8.6.6.4)
	nameNone       = "None" //
	defaultAverage = Area(1)
)

func (s *source) validatePress(p *Press) {
	s.definitionName(p.Name)
	s.text("title", p.Title)
	s.sheet(p)
	if p.Resolution < 72 || p.Resolution > 9600 {
		s.errorAt("resolution", "600dpi and 1200dpi are usual", "a resolution of %v is outside 72dpi to 9600dpi", p.Resolution)
	}
	s.toners(p)
	s.mixes(p)
	s.sets(p)
	s.notNegative("register.within", p.Register.Within)
	if p.Register.Between < p.Register.Within {
		s.errorAt("register.between", "a second pass is never better in register than one pass",
			"register between passes (%v) is smaller than within one (%v)", p.Register.Between, p.Register.Within)
	}
	if p.Pile.PerPass <= 0 {
		s.errorAt("pile.per_pass", "260% is a usual limit", "the pile limit must be above 0%%")
	}
	if p.Pile.Sum < p.Pile.PerPass {
		s.errorAt("pile.sum", "the limit of all passes together is at least that of one",
			"the pile limit in sum (%v) is smaller than per pass (%v)", p.Pile.Sum, p.Pile.PerPass)
	}
	if p.Pile.Area <= 0 || p.Pile.Area > 1e4 {
		s.errorAt("pile.area", "1mm2 is usual", "the averaging area must be above 0mm2 and at most 10000mm2")
	}
	s.price(p)
	s.speed(&p.Speed)
	s.waste(&p.Waste)
	s.oneOf("black_point", p.BlackPoint, BlackCompensate, BlackKeep)
}

func (s *source) definitionName(name string) {
	if name == "" || strings.ContainsAny(name, `/\`) || strings.TrimSpace(name) != name {
		s.errorAt("name", "use a short word such as two-set", "%q cannot be a name on the command line", name)
	}
}

func (s *source) text(path, v string) {
	if strings.TrimSpace(v) == "" {
		s.errorAt(path, "write some text", "%sis empty", keyOf(path))
	}
}

func (s *source) notNegative(path string, l Length) {
	if l < 0 {
		s.errorAt(path, "write it without the minus sign", "%sis negative", keyOf(path))
	}
}

func (s *source) sheet(p *Press) {
	for _, d := range []struct {
		path string
		v    Length
	}{{"sheet.width", p.Sheet.Width}, {"sheet.height", p.Sheet.Height}} {
		s.sheetSide(d.path, d.v)
	}
	m := p.Sheet.Margins
	s.notNegative("sheet.margins.lead", m.Lead)
	s.notNegative("sheet.margins.trail", m.Trail)
	s.notNegative("sheet.margins.side", m.Side)
	if p.Sheet.Height > 0 && m.Lead+m.Trail >= p.Sheet.Height {
		s.errorAt("sheet.margins", "lead and trail margins of 4mm to 6mm are usual", "the margins leave nothing of the sheet's height")
	}
	if p.Sheet.Width > 0 && 2*m.Side >= p.Sheet.Width {
		s.errorAt("sheet.margins.side", "side margins of 4mm to 6mm are usual", "the margins leave nothing of the sheet's width")
	}
}

func (s *source) sheetSide(path string, v Length) {
	if v <= 0 || v > maxSheet {
		s.errorAt(path, "write the size of the sheet, as 330mm", "a sheet side of %v is not possible", v)
	}
}

// colourantName checks a name artwork may use and that no other colourant has.
func (s *source) colourantName(path, name string, taken map[string]string) {
	other, used := taken[name]
	switch {
	case name == "" || len(name) > maxNameBytes:
		s.errorAt(path, "", "a colourant name has 1 to %d bytes", maxNameBytes)
	case name == nameAll || name == nameNone:
		s.errorAt(path, "choose another name", "%q is a reserved colourant name", name)
	case used:
		s.errorAt(path, "a colourant name leads to one toner only", "%q is used already on line %d", name, s.placeOf(other).line)
	default:
		taken[name] = path
	}
}

func (s *source) toners(p *Press) {
	if len(p.Toners) == 0 {
		s.errorAt("toners", "list the toners of the press", "there is no toner")
	}
	if len(p.Toners) > limits.MaxColourants {
		s.errorAt("toners", "", "%d toners are more than %d", len(p.Toners), limits.MaxColourants)
	}
	taken := map[string]string{}
	for i := range p.Toners {
		s.colourantName(fmt.Sprintf("toners[%d].name", i), p.Toners[i].Name, taken)
	}
	for i := range p.Mixes {
		s.colourantName(fmt.Sprintf("mixes[%d].name", i), p.Mixes[i].Name, taken)
		for j, a := range p.Mixes[i].Aliases {
			s.colourantName(fmt.Sprintf("mixes[%d].aliases[%d]", i, j), a, taken)
		}
	}
	for i := range p.Toners {
		for j, a := range p.Toners[i].Aliases {
			s.colourantName(fmt.Sprintf("toners[%d].aliases[%d]", i, j), a, taken)
		}
	}
	for i := range p.Toners {
		s.toner(&p.Toners[i], fmt.Sprintf("toners[%d]", i))
		s.neverOn(&p.Toners[i], fmt.Sprintf("toners[%d].never_on", i), p)
	}
}

func (s *source) toner(t *Toner, path string) {
	process := slices.Contains(colourant.ProcessNames[:], t.Name)
	if process != (t.Kind == colourant.Process) {
		if process {
			s.errorAt(path+".kind", "write kind: process", "%q is a process toner", t.Name)
		} else {
			s.errorAt(path+".kind", "process toners are "+joinAnd(quoted(colourant.ProcessNames[:]))+"; choose another kind",
				"%q cannot be a process toner", t.Name)
		}
	}
	s.standIn(path+".stand_in", t.StandIn)
	s.appearance(&t.Appearance, path+".appearance")
	s.light(t, path+".appearance")
	s.tint(&t.Tint, path+".tint")
	s.notNegative(path+".finest.line", t.Finest.Line)
	s.notNegative(path+".finest.reversed", t.Finest.Reversed)
	s.notNegative(path+".finest.type", t.Finest.Type)
	if t.Mass <= 0 || t.Mass > 100 {
		s.errorAt(path+".mass", "4gsm to 12gsm is usual for toner", "a toner layer of %v is not possible", t.Mass)
	}
	s.money(path+".price_per_kg", t.PricePerKg)
}

func (s *source) neverOn(t *Toner, path string, p *Press) {
	for i, name := range t.NeverOn {
		at := fmt.Sprintf("%s[%d]", path, i)
		switch {
		case name == t.Name:
			s.errorAt(at, "remove it", "a toner always lies on itself where it is laid twice")
		case name != UnderProcess:
			s.tonerRef(at, name, p)
		}
	}
}

func joinAnd(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

func (s *source) standIn(path string, c [4]Percent) {
	sum := Percent(0)
	for i, v := range c {
		if v < 0 || v > 100 {
			s.errorAt(fmt.Sprintf("%s[%d]", path, i), "a share of a CMYK colour is 0% to 100%", "%v is out of range", v)
		}
		sum += v
	}
	if sum <= 0 {
		s.errorAt(path, "give it a light tint that a screen can show", "a stand-in colour of nothing is invisible in artwork")
	}
}

func (s *source) lab(path string, c *Lab) {
	if c == nil {
		return
	}
	if c[0] < 0 || c[0] > 100 {
		s.errorAt(path+"[0]", "L* runs from 0 (black) to 100 (white)", "L* of %g is out of range", c[0])
	}
	for i := 1; i < 3; i++ {
		if math.Abs(c[i]) > 128 {
			s.errorAt(fmt.Sprintf("%s[%d]", path, i), "a* and b* run from -128 to 128", "%s of %g is out of range", [...]string{"L*", "a*", "b*"}[i], c[i])
		}
	}
}

func (s *source) oneOf(path, v string, words ...string) {
	if v != "" && !slices.Contains(words, v) {
		s.errorAt(path, didYouMean(v, words), "%q is not known here", v)
	}
}

func (s *source) appearance(a *Appearance, path string) {
	s.lab(path+".on_white", a.OnWhite)
	s.lab(path+".on_black", a.OnBlack)
	s.oneOf(path+".gloss", a.Gloss, GlossMatte, GlossSatin, GlossHigh)
	if a.Opacity < 0 || a.Opacity > 100 {
		s.errorAt(path+".opacity", "it is the lightness on black in percent of that on white", "an opacity of %v is not between 0%% and 100%%", a.Opacity)
	}
	if a.OnBlack != nil && a.OnWhite == nil {
		s.errorAt(path+".on_black", "give on_white too", "a colour on black alone does not tell how the toner looks on white")
	}
	if a.OnBlack != nil && a.Opacity > 0 {
		s.errorAt(path+".opacity", "remove it", "on_black tells the opacity already")
	}
	if a.OnBlack != nil && a.OnWhite != nil && a.OnBlack[0] > a.OnWhite[0]+2 {
		s.errorAt(path+".on_black", "have the two been swapped?", "the toner is lighter on black (L* %g) than on white (L* %g)", a.OnBlack[0], a.OnWhite[0])
	}
}

func (s *source) tint(t *TintRange, path string) {
	for _, v := range []struct {
		key string
		p   Percent
	}{{"least", t.Least}, {"most", t.Most}, {"advised", t.Advised}} {
		if v.p < 0 || v.p > 100 {
			s.errorAt(path+"."+v.key, "a tint is 0% to 100%", "%v is out of range", v.p)
		}
	}
	most := t.Most
	if most == 0 {
		most = 100
	}
	if t.Least > most {
		s.errorAt(path+".least", "have the two been swapped?", "the least tint (%v) is above the most (%v)", t.Least, most)
	}
	if t.Advised != 0 && (t.Advised < t.Least || t.Advised > most) {
		s.errorAt(path+".advised", "advise a tint the toner holds", "the advised tint %v is outside %v to %v", t.Advised, t.Least, most)
	}
	if t.MayTint != nil && !*t.MayTint && (t.Least != 0 || t.Most != 0 || t.Advised != 0 && t.Advised != 100) {
		s.errorAt(path+".may_tint", "write true, or remove least, most and advised", "a toner of solids only has no range of tints")
	}
}

func (s *source) mixes(p *Press) {
	for i := range p.Mixes {
		m, path := &p.Mixes[i], fmt.Sprintf("mixes[%d]", i)
		s.standIn(path+".stand_in", m.StandIn)
		if len(m.Parts) == 0 {
			s.errorAt(path+".parts", "list the toners it is blended of", "mix %q has no parts", m.Name)
		}
		seen := map[string]bool{}
		for j, part := range m.Parts {
			pp := fmt.Sprintf("%s.parts[%d]", path, j)
			s.tonerRef(pp+".toner", part.Toner, p)
			if seen[part.Toner] {
				s.errorAt(pp+".toner", "keep one of them", "%q is twice in the mix", part.Toner)
			}
			seen[part.Toner] = true
			if part.Tint <= 0 || part.Tint > 100 {
				s.errorAt(pp+".tint", "a part's tint is above 0% and at most 100%", "%v is out of range", part.Tint)
			}
		}
	}
}

func (s *source) tonerRef(path, name string, p *Press) {
	if _, ok := p.Toner(name); ok {
		return
	}
	if t, ok := p.tonerByAlias(name); ok {
		s.errorAt(path, fmt.Sprintf("write %q", t.Name), "%q is an alias, not the name of a toner", name)
		return
	}
	s.errorAt(path, didYouMean(name, p.tonerNames()), "no toner of this press is named %q", name)
}

func (s *source) sets(p *Press) {
	if len(p.Sets) == 0 {
		s.errorAt("sets", "list at least one set with its stations", "nothing can be in the press")
	}
	if len(p.Sets) > limits.MaxSets {
		s.errorAt("sets", "", "%d sets are more than %d", len(p.Sets), limits.MaxSets)
	}
	names := map[string]bool{}
	carried := map[string]bool{}
	for i, set := range p.Sets {
		path := fmt.Sprintf("sets[%d]", i)
		s.text(path+".name", set.Name)
		if names[set.Name] {
			s.errorAt(path+".name", "name each set differently", "two sets are named %q", set.Name)
		}
		names[set.Name] = true
		if len(set.Stations) == 0 || len(set.Stations) > limits.MaxStations {
			s.errorAt(path+".stations", "list the toners, first laid first", "a set has 1 to %d stations", limits.MaxStations)
		}
		here := map[string]bool{}
		for j, name := range set.Stations {
			sp := fmt.Sprintf("%s.stations[%d]", path, j)
			s.tonerRef(sp, name, p)
			if here[name] {
				s.errorAt(sp, "a second layer of a toner is a second pass", "%q is twice in the set", name)
			}
			here[name], carried[name] = true, true
		}
	}
	for i, t := range p.Toners {
		if len(p.Sets) > 0 && !carried[t.Name] {
			s.errorAt(fmt.Sprintf("toners[%d].name", i), "add it to the stations of a set or remove it", "no set carries %q", t.Name)
		}
	}
}

func (s *source) validateStock(k *Stock) {
	s.definitionName(k.Name)
	s.text("title", k.Title)
	s.oneOf("surface", k.Surface, SurfaceCoated, SurfaceUncoated, SurfaceFilm, SurfaceMetallised)
	if k.Surface == "" {
		s.errorAt("surface", "coated, uncoated, film or metallised", "the surface is not given")
	}
	s.oneOf("gloss", k.Gloss, GlossMatte, GlossSatin, GlossHigh)
	s.lab("front", &k.Front)
	s.lab("back", k.Back)
	if k.Weight < 20 || k.Weight > 1500 {
		s.errorAt("weight", "paper and board have 60gsm to 600gsm", "a weight of %v is not possible", k.Weight)
	}
	if k.Thickness < 0 || k.Thickness > 5 {
		s.errorAt("thickness", "board of 300gsm is about 0.35mm thick", "a thickness of %v is not possible", k.Thickness)
	}
	if k.Spectra != nil {
		s.spectrum("spectra", k.Spectra.From, k.Spectra.Step, reflecting, map[string][]float64{"front": k.Spectra.Front, "back": k.Spectra.Back}, "front")
	}
	if k.Opacity < 0 || k.Opacity > 100 {
		s.errorAt("opacity", "0% is clear, 100% hides all", "an opacity of %v is not between 0%% and 100%%", k.Opacity)
	}
	for i, sh := range k.Sheets {
		s.sheetSide(fmt.Sprintf("sheets[%d].width", i), sh.Width)
		s.sheetSide(fmt.Sprintf("sheets[%d].height", i), sh.Height)
		s.oneOf(fmt.Sprintf("sheets[%d].grain", i), sh.Grain, AlongWidth, AlongHeight)
	}
	s.stockPrice(k.Price)
	if k.Hits < 0 || k.Hits > 100 {
		s.errorAt("hits", "leave it out when there is no limit", "%d hits are not possible", k.Hits)
	}
}

func (s *source) validateJob(j *Job) {
	s.text("artwork", j.Artwork)
	s.text("press", j.Press)
	s.text("stock", j.Stock)
	if f := j.Finished; f != nil {
		for _, d := range []struct {
			path string
			v    Length
		}{{"finished.width", f.Width}, {"finished.height", f.Height}} {
			if d.v <= 0 || d.v > maxSheet {
				s.errorAt(d.path, "write the trimmed size, as 148mm", "a finished side of %v is not possible", d.v)
			}
		}
	}
	if j.Bleed < 0 || j.Bleed > 50 {
		s.errorAt("bleed", "3mm is usual", "a bleed of %v is not possible", j.Bleed)
	}
	if j.Quantity < 0 || j.Quantity > mostQuantity {
		s.errorAt("quantity", "write how many finished pieces are wanted", "a quantity of %d is not possible", j.Quantity)
	}
	s.priceBreaks(j.Breaks)
	if j.Sides < 0 || j.Sides > 2 {
		s.errorAt("sides", "write 1 or 2", "a sheet has no %d sides", j.Sides)
	}
	for from, to := range j.Assign {
		if from == "" || to == "" {
			s.errorAt("assign."+from, "write name in the artwork: toner of the press", "an assignment needs two names")
		}
	}
	s.oneOf("lead", j.Lead, EdgeLeft, EdgeRight, EdgeTop, EdgeBottom)
	s.oneOf("seen", j.Seen, SeenFace, SeenThrough)
	for i, u := range j.Use {
		s.use(fmt.Sprintf("use[%d]", i), u)
	}
	if j.Sheets != nil {
		s.sheetWish(j.Sheets, j)
	}
	for i := range j.Zones {
		s.zone(&j.Zones[i], fmt.Sprintf("zones[%d]", i))
	}
	for i, u := range j.Wishes.Underlay {
		path := fmt.Sprintf("wishes.underlay[%d]", i)
		s.text(path+".toner", u.Toner)
		if len(u.Under) == 0 {
			s.errorAt(path+".under", "write process or name toners", "nothing is named for %q to lie under", u.Toner)
		}
		if u.Choke < 0 || u.Choke > 5 {
			s.errorAt(path+".choke", "0.1mm within one pass and 0.2mm between passes are usual", "a choke of %v is not possible", u.Choke)
		}
	}
	for i, c := range j.Wishes.Clear {
		path := fmt.Sprintf("wishes.clear[%d]", i)
		s.text(path+".toner", c.Toner)
		if len(c.Over) == 0 {
			s.errorAt(path+".over", "name layers or colourants of the artwork", "nothing is named for %q to lie over", c.Toner)
		}
	}
}

func (s *source) use(path, v string) {
	words := []string{UseFood, UseToy, UseWindow, UseGummed}
	if !slices.Contains(words, v) {
		s.errorAt(path, didYouMean(v, words), "%q is no use that calls for care", v)
	}
}

func (s *source) zone(z *Zone, path string) {
	words := []string{ZoneFold, ZoneGlue, ZoneWriteOn, ZonePerforation}
	if !slices.Contains(words, z.Kind) {
		s.errorAt(path+".kind", didYouMean(z.Kind, words), "%q is not a kind of zone", z.Kind)
	}
	if z.Page < 0 {
		s.errorAt(path+".page", "pages count from 1", "there is no page %d", z.Page)
	}
	s.notNegative(path+".width", z.Width)
	s.notNegative(path+".height", z.Height)
	if z.Width == 0 && z.Height == 0 {
		s.errorAt(path, "give width, height or both", "the zone has no extent")
	}
}

// validateJobNames checks the names a job uses against its press.
func (s *source) validateJobNames(j *Job, p *Press) {
	for _, from := range sortedKeys(j.Assign) {
		to := j.Assign[from]
		if _, ok := p.Mix(to); !ok {
			s.tonerRef("assign."+from, to, p)
		}
	}
	for i, u := range j.Wishes.Underlay {
		path := fmt.Sprintf("wishes.underlay[%d]", i)
		s.tonerRef(path+".toner", u.Toner, p)
		for k, name := range u.Under {
			if _, ok := p.Mix(name); !ok && name != UnderProcess {
				s.tonerRef(fmt.Sprintf("%s.under[%d]", path, k), name, p)
			}
		}
	}
	for i, c := range j.Wishes.Clear {
		s.tonerRef(fmt.Sprintf("wishes.clear[%d].toner", i), c.Toner, p)
	}
}
