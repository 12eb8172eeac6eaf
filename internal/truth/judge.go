package truth

import (
	"fmt"
	"sort"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/plates/plate"
)

// Limit is what two plates may differ by: mean |a-b| in 0..255, and the share of pixels out of the
// other's neighbourhood by more than 8.
type Limit struct{ MAD, Out float64 }

// The limits of the corpus, by the kind of plate. They forgive anti-aliasing and rounding, not
// missing or misplaced marks.
var (
	limitSpecial = Limit{1, .005}
	limitProcess = Limit{2, .01}
	limitText    = Limit{5, .02} // text-heavy plates, pages under half a megapixel
)

// smallPage is half a megapixel: edges are a large share of such a page.
const smallPage = 500_000

// limitFor picks the limit of a plate.
func limitFor(k PlateKind, pixels int) Limit {
	switch {
	case k.Text || pixels < smallPage:
		return limitText
	case k.Special:
		return limitSpecial
	}
	return limitProcess
}

// Measure is one comparison.
type Measure struct {
	MAD, Out float64
	OK       bool
	Missing  bool // one of the two has no such plate
}

func (m Measure) String() string {
	if m.Missing {
		return "no plate"
	}
	mark := ""
	if !m.OK {
		mark = " ✗"
	}
	return fmt.Sprintf("%.2f / %.2f %%%s", m.MAD, m.Out*100, mark)
}

// Row is one plate of one page.
type Row struct {
	File, Plate string
	Page        int
	OursGS      Measure
	OursMu      Measure
	GSMu        Measure
	// Why says, of a plate on which we do not agree with both, who is right by which clause.
	Why string
	// StandIn is set for plates with marks that each program makes its own way.
	StandIn string
}

// Verdict says how we stand: "both", "gs", "mutool", "none"; "against both" when the two agree with
// each other and not with us.
func (r *Row) Verdict() string {
	switch {
	case r.OursGS.OK && r.OursMu.OK:
		return "both"
	case r.GSMu.OK && !r.OursGS.OK && !r.OursMu.OK:
		return "against both"
	case r.OursGS.OK:
		return "gs"
	case r.OursMu.OK:
		return "mutool"
	}
	return "none"
}

// Judge compares the plates of a page; gs or mu may be nil when the interpreter gave nothing.
func Judge(file string, page int, ours *OurPage, gs, mu *Plates) []Row {
	kinds := map[string]PlateKind{}
	converted := false
	for n, k := range ours.Kind {
		converted = converted || k.Converted
		kinds[n] = k
	}
	a, b, c := stackOf(&ours.Plates, converted), stackOf(gs, converted), stackOf(mu, converted)
	if converted {
		for _, n := range colourant.ProcessNames[:3] {
			kinds[n[:1]+"+K"] = PlateKind{Text: ours.Kind[n].Text && ours.Kind[colourant.Black].Text, Converted: true}
		}
	}
	names := map[string]bool{}
	for _, s := range []*plate.Stack{a, b, c} {
		if s == nil {
			continue
		}
		for i, col := range s.Set.All() {
			if s.Plane(i) != nil {
				names[col.Name] = true
			}
		}
	}
	var rows []Row
	for n := range names {
		if converted && strings.Contains(" Cyan Magenta Yellow Black ", " "+n+" ") {
			continue
		}
		k, ok := kinds[n]
		if !ok {
			k = PlateKind{Special: true}
		}
		limit := limitFor(k, ours.W*ours.H)
		rows = append(rows, Row{File: file, Page: page, Plate: n, OursGS: measure(a, b, n, limit), OursMu: measure(a, c, n, limit), GSMu: measure(b, c, n, limit)})
	}
	sort.Slice(rows, func(i, j int) bool { return rows[i].Plate < rows[j].Plate })
	return rows
}

func stackOf(p *Plates, converted bool) *plate.Stack {
	if p == nil {
		return nil
	}
	var specials []colourant.Colourant
	planes := map[string][]byte{}
	for n, v := range p.Plane {
		planes[n] = v
		if !strings.Contains(" Cyan Magenta Yellow Black ", " "+n+" ") {
			specials = append(specials, colourant.Colourant{Name: n})
		}
	}
	if converted {
		for _, n := range colourant.ProcessNames[:3] {
			sum := make([]byte, p.W*p.H)
			for i := range sum {
				sum[i] = byte(min(255, int(at(p.Plane[n], i))+int(at(p.Plane[colourant.Black], i))))
			}
			name := n[:1] + "+K"
			planes[name] = sum
			specials = append(specials, colourant.Colourant{Name: name})
		}
	}
	st := plate.NewStack(plate.Header{Width: p.W, Height: p.H, DPI: DPI, Set: colourant.NewSet(specials...)})
	for i, c := range st.Set.All() {
		st.SetPlane(i, planes[c.Name])
	}
	return st
}

func at(plane []byte, i int) byte {
	if plane == nil {
		return 0
	}
	return plane[i]
}

func measure(a, b *plate.Stack, name string, limit Limit) Measure {
	if a == nil || b == nil {
		return Measure{Missing: true}
	}
	for _, d := range plate.Diff(a, b).Plates {
		if d.Name == name {
			// A plate only one side lists is the same as an empty one.
			return Measure{MAD: d.MAD, Out: d.Out, OK: d.MAD <= limit.MAD && d.Out <= limit.Out}
		}
	}
	return Measure{Missing: true}
}
