package plan

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

func isProcess(name string) bool { return slices.Contains(colourant.ProcessNames[:], name) }

// why explains the passes of every side, and what the wishes ask.
func (s *searcher) why(p *Plan, w without) []string {
	pages := map[string][]string{}
	var texts []string
	for i, passes := range p.sides {
		text := s.whySide(i, passes, w)
		if pages[text] == nil {
			texts = append(texts, text)
		}
		pages[text] = append(pages[text], fmt.Sprint(s.r.Sides[i].Page))
	}
	out := []string{}
	for _, text := range texts {
		word := "Page "
		if len(pages[text]) > 1 {
			word = "Pages "
		}
		out = append(out, fmt.Sprintf("%s%s: %s.", word, listed(pages[text]), text))
	}
	if p.SetChanges > 0 {
		out = append(out, fmt.Sprintf("The sets are in the press in this order: %s. Every page that wants a set is printed while it is in.", strings.Join(p.Sets, ", then ")))
	}
	for n, wish := range s.r.Wishes {
		if !w.has(GiveWish, wish.Text) && !s.acts(n, w) {
			out = append(out, fmt.Sprintf("The wish “%s” asks for no order: its toners meet nowhere.", wish.Text))
		}
	}
	return out
}

func (s *searcher) whySide(i int, passes []press.Pass, w without) (text string) {
	switch n := len(passes); {
	case n == 0:
		return "no toner, no pass"
	case n == 1:
		text = fmt.Sprintf("1 pass, as the set %s carries %s", passes[0].Set.Name, nounFor(s.question(i, w).Used))
	default:
		text = fmt.Sprintf("%d passes, and fewer are not possible: %s", n, s.reasons(i, s.core(s.question(i, w), n), w))
	}
	if processPasses(passes) > 1 {
		text += "; the process toners are laid in different passes, so their colours may be off each other"
	}
	return text
}

// nounFor keeps short lists and counts long ones.
func nounFor(toners []string) string {
	if len(toners) > 4 {
		return fmt.Sprintf("all %d toners", len(toners))
	}
	return listed(toners)
}

func processPasses(passes []press.Pass) (n int) {
	for _, p := range passes {
		if slices.ContainsFunc(p.Toners, isProcess) {
			n++
		}
	}
	return n
}

// acts tells whether a wish orders toners that meet anywhere.
func (s *searcher) acts(wish int, w without) bool {
	for i := range s.r.Sides {
		if wish2 := s.r.Wishes[wish]; i < len(wish2.Orders) {
			used := s.question(i, w).Used
			for _, u := range wish2.Orders[i] {
				if _, meet := s.r.Sides[i].meets(u.Lower, u.Upper); meet && slices.Contains(used, u.Lower) && slices.Contains(used, u.Upper) {
					return true
				}
			}
		}
	}
	return false
}

// core leaves of a question what alone still takes so many passes, or cannot be laid at all where passes is 0: nothing more
// can be left out of it.
func (s *searcher) core(q press.PassQuestion, passes int) press.PassQuestion {
	needs := func(q press.PassQuestion) bool {
		least, err := s.r.Press.Least(q)
		return err != nil || passes > 0 && least >= passes
	}
	// Process toners go first, so that as few of the four as can be are left.
	order := slices.Clone(q.Used)
	slices.SortStableFunc(order, func(a, b string) int { return boolRank(isProcess(b)) - boolRank(isProcess(a)) })
	for _, t := range order {
		less := press.PassQuestion{Used: slices.DeleteFunc(slices.Clone(q.Used), func(u string) bool { return u == t }),
			Under:    slices.DeleteFunc(slices.Clone(q.Under), func(u press.Under) bool { return u.Lower == t || u.Upper == t }),
			Together: slices.DeleteFunc(slices.Clone(q.Together), func(u [2]string) bool { return u[0] == t || u[1] == t })}
		if needs(less) {
			q = less
		}
	}
	for i := len(q.Under) - 1; i >= 0; i-- {
		less := q
		less.Under = slices.Delete(slices.Clone(q.Under), i, i+1)
		if needs(less) {
			q = less
		}
	}
	for i := len(q.Together) - 1; i >= 0; i-- {
		less := q
		less.Together = slices.Delete(slices.Clone(q.Together), i, i+1)
		if needs(less) {
			q = less
		}
	}
	return q
}

func boolRank(b bool) int {
	if b {
		return 1
	}
	return 0
}

// reasons words a core: which sets carry its toners, which wishes order them.
func (s *searcher) reasons(side int, core press.PassQuestion, w without) string {
	var parts []string
	if len(core.Under) == 0 && len(core.Together) == 0 {
		parts = append(parts, "no set carries "+listed(core.Used)+" together")
	}
	parts = append(parts, s.carriers(core.Used))
	for _, wish := range s.wishesOf(side, core, w) {
		parts = append(parts, fmt.Sprintf("“%s” is wished", wish))
	}
	for _, u := range core.Together {
		parts = append(parts, fmt.Sprintf("%s and %s lie on each other and must share a pass, as this press lays no toner on that of an earlier pass", u[0], u[1]))
	}
	return strings.Join(parts, "; ")
}

// wishesOf names the wishes that the orders of a core come from.
func (s *searcher) wishesOf(side int, core press.PassQuestion, w without) (texts []string) {
	for _, wish := range s.r.Wishes {
		if side >= len(wish.Orders) || w.has(GiveWish, wish.Text) {
			continue
		}
		if slices.ContainsFunc(wish.Orders[side], func(u press.Under) bool { return slices.Contains(core.Under, u) }) && !slices.Contains(texts, wish.Text) {
			texts = append(texts, wish.Text)
		}
	}
	return texts
}

// unusual lists the pairs laid against the usual order where they lie on each other, unless that was wished.
func (s *searcher) unusual(p *Plan) {
	for i, passes := range p.sides {
		laid := press.LaydownOrder(passes)
		q := s.question(i, p.GivesUp)
		for hi, upper := range laid {
			for _, lower := range laid[:hi] {
				m, meet := s.r.Sides[i].meets(lower, upper)
				kl, _ := s.r.Press.KindOf(lower)
				ku, _ := s.r.Press.KindOf(upper)
				if !meet || m.AreaMM2 < leastLying || press.UsualHeight(kl) <= press.UsualHeight(ku) || slices.Contains(q.Under, press.Under{Lower: lower, Upper: upper}) {
					continue
				}
				p.Unusual = append(p.Unusual, Unusual{s.r.Sides[i].Page, lower, upper, unusualWords(lower, kl, upper, ku, m.AreaMM2)})
			}
		}
	}
}

func unusualWords(lower string, kl colourant.Kind, upper string, ku colourant.Kind, area float64) string {
	effect := "which usually lies the other way round"
	switch {
	case ku == colourant.OpaqueWhite:
		effect = "and hides it"
	case kl == colourant.Clear:
		effect = "which dulls its gloss"
	case ku == colourant.Process:
		effect = "which tints its shine"
	}
	if ku == colourant.OpaqueWhite {
		return fmt.Sprintf("%s is laid over %s on %s %s.", upper, lower, areaWords(area), effect)
	}
	return fmt.Sprintf("%s is laid under %s on %s, %s.", lower, upper, areaWords(area), effect)
}

// areaWords writes an area in the unit a person would use.
func areaWords(mm2 float64) string {
	switch {
	case mm2 < 10:
		return fmt.Sprintf("%.1f mm²", mm2)
	case mm2 < 10_000:
		return fmt.Sprintf("%.0f mm²", mm2)
	}
	return fmt.Sprintf("%.0f cm²", mm2/100)
}
