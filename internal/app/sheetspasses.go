package app

import (
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/handover/sheets"
	"laydown/internal/plan"
	"laydown/internal/plan/sheet"
)

// passes are those of the job as marks and bars are drawn in them; none where there are none.
func (m *imposer) passes(seen *pagesSeen) []sheets.Pass {
	m.out.Passes = []SheetPass{}
	if f, is := impossible(seen.none); is {
		f.Why += " The marks of the sheets are those of one pass in black."
		m.sink.Add(f)
		return nil
	}
	var out []sheets.Pass
	for i := range seen.passes {
		p := &seen.passes[i]
		pass := sheets.Pass{Name: p.Set.Name, On: p.Lays}
		process := false
		for _, name := range p.Toners {
			t, ok := m.s.Press.Toner(name)
			if !ok {
				continue
			}
			x := sheets.Toner{Name: name, Process: t.Kind == colourant.Process, White: t.Kind == colourant.OpaqueWhite, Clear: t.Kind == colourant.Clear, Solid: !t.Tint.Tints()}
			for i, v := range t.StandIn {
				x.StandIn[i] = float64(v) / 100
			}
			process = process || x.Process
			pass.Toners = append(pass.Toners, x)
		}
		pass.Black = process && slices.Contains(p.Set.Stations, colourant.Black)
		out = append(out, pass)
		m.out.Passes = append(m.out.Passes, SheetPass{Set: p.Set.Name, Toners: p.Toners})
	}
	return out
}

// stack is sheets that are printed alike.
type stack struct {
	good  int // 0 = not known
	sides [2][]int
}

// stacks are the different sheets of a plan; records are one, whatever is on them. With work-and-turn and work-and-tumble both
// sides have the same pages.
func (m *imposer) stacks(p *sheet.Plan) (out []stack) {
	counted := p.Job.Records > 0 || m.out.Wanted > 0
	for i := range p.Count {
		sh := p.Sheet(i)
		s := stack{}
		if counted {
			s.good = sh.Run
		}
		s.sides[0] = pagesOf(&sh.Front)
		switch {
		case sh.Back != nil:
			s.sides[1] = pagesOf(sh.Back)
		case sh.Scheme == sheet.WorkAndTurn || sh.Scheme == sheet.WorkAndTumble:
			s.sides[1] = s.sides[0]
		}
		if p.Job.Records > 0 && i > 0 {
			out[0].good += s.good
			continue // all lay the same: records are planned as one
		}
		out = append(out, s)
	}
	return out
}

func pagesOf(s *sheet.Side) (out []int) {
	for _, p := range s.Placements {
		if !slices.Contains(out, p.Page) {
			out = append(out, p.Page)
		}
	}
	return out
}

// feed counts the sheets into and out of every pass, stack by stack, worked back from the good ones as plan does.
func (m *imposer) feed(p *sheet.Plan, passes []StackPass) {
	if len(m.out.Passes) == 0 {
		return
	}
	for _, s := range m.stacks(p) {
		want, came := s.good, make([]int, len(passes))
		for i := len(passes) - 1; i >= 0; i-- {
			o := &m.out.Passes[i]
			had := false
			out := want
			for k, to := range []*[]string{&o.Front, &o.Back} {
				toners := laysOn(&passes[i], s.sides[k])
				if len(toners) == 0 {
					continue
				}
				had = true
				for _, t := range toners {
					if !slices.Contains(*to, t) {
						*to = append(*to, t)
					}
				}
				if s.good > 0 {
					want = plan.Into(m.s.Press.Waste, want)
				}
			}
			if came[i] = out; had {
				o.In, o.Out = o.In+want, o.Out+out
			}
		}
		m.out.Needed += want
		m.out.came = append(m.out.came, came)
	}
	for i := range m.out.Passes {
		o := &m.out.Passes[i]
		for _, side := range []*[]string{&o.Front, &o.Back} {
			*side = slices.DeleteFunc(slices.Clone(o.Toners), func(t string) bool { return !slices.Contains(*side, t) })
		}
	}
}

// laysOn are the toners a pass lays on any of the pages.
func laysOn(p *StackPass, pages []int) (out []string) {
	for _, n := range pages {
		for _, t := range p.Lays(n) {
			if !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
	}
	return out
}
