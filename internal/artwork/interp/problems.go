package interp

import (
	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

// problems gathers a page's findings, folding those of one ID and wording, so that a hostile stream
// of a million damaged operators costs one finding.
type problems struct {
	list  []finding.Finding
	index map[problemKey]int
}

type problemKey struct {
	id   finding.ID
	what string
}

// report adds a finding about the page; its place is completed with the page number.
func (m *machine) report(f finding.Finding) {
	if f.Incomplete {
		m.list.Incomplete = true
	}
	key := problemKey{f.ID, f.What}
	if i, ok := m.problems.index[key]; ok {
		g := &m.problems.list[i]
		g.Count = max(g.Count, 1) + 1
		g.Incomplete = g.Incomplete || f.Incomplete
		return
	}
	if m.problems.index == nil {
		m.problems.index = map[problemKey]int{}
	}
	f.Place.Page = m.page.Number
	m.problems.index[key] = len(m.problems.list)
	m.problems.list = append(m.problems.list, f)
}

// here is the place of the operator that runs.
func (m *machine) here() finding.Place {
	p := finding.Place{Page: m.page.Number}
	if m.f != nil {
		p.Object, p.Offset = m.f.object(m.offset), m.offset
		if m.f.oc != nil {
			p.Layer = m.f.oc.layer.Name
		}
	}
	return p
}

// hereAt is here with a box.
func (m *machine) hereAt(r geom.Rect) finding.Place {
	p := m.here()
	if m.space.user.Empty() {
		p.Box = boxMM(&m.list.Page, r)
	} else {
		p.Box = boxMM(&m.list.Page, m.space.user)
	}
	return p
}

// damaged reports an operator that was skipped.
func (m *machine) damaged(op string) {
	m.report(finding.Finding{ID: "operator-damaged", Severity: finding.Warning, Class: finding.Malformed, Incomplete: true,
		What:   "A drawing instruction (" + printable(op) + ") has missing or wrong values and was skipped.",
		Why:    "The page may lack something there, or draw it in another place or colour.",
		Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
}

// missing reports a resource that the content names but the file does not define.
func (m *machine) missing(kind, name string) {
	m.report(finding.Finding{ID: "resource-missing", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
		What:   "The page uses the " + kind + " " + printable(name) + ", which the file does not define.",
		Why:    "What should be drawn with it is missing.",
		Remedy: "Export the artwork again from the program that made it.", Place: m.here()})
}

// overLimit reports a cap that was passed and, with stop, ends the page.
func (m *machine) overLimit(what string, stop bool) {
	m.report(finding.Finding{ID: "page-over-limit", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
		What:   what,
		Why:    "The rest of it is not drawn, so the plates are not those of the whole page.",
		Remedy: "Simplify the page: flatten deeply nested groups, or place heavy parts as images.", Place: m.here()})
	if stop {
		m.stopped = true
	}
}

// printable shows a name from a file without control bytes and of bounded length.
func printable(s string) string {
	const limit = 64
	b := make([]byte, 0, min(len(s), limit)+4)
	for i := 0; i < len(s) && i < limit; i++ {
		if c := s[i]; c < 0x20 || c >= 0x7f {
			b = append(b, '?')
		} else {
			b = append(b, c)
		}
	}
	if len(s) > limit {
		b = append(b, "..."...)
	}
	return string(b)
}

// finish completes the list and hands the findings to the page's sink.
func (m *machine) finish() {
	m.list.Items = m.items
	m.list.Blending = m.blending || needsBlending(m.list.Items)
	m.collectNames()
	if m.opt.Sink != nil {
		for _, f := range m.problems.list {
			m.opt.Sink.Add(f)
		}
	}
}

// needsBlending reports whether the items ask for more than opaque painting in order.
func needsBlending(items []displist.Item) bool {
	for i := range items {
		it := &items[i]
		if it.Kind == displist.BeginGroup || it.Alpha < 1 || it.Blend != displist.Normal || it.SoftMask != nil ||
			it.Image != nil && it.Image.SoftMask != nil || it.Paint.Tiling != nil && it.Paint.Tiling.Blending {
			return true
		}
	}
	return false
}
