package look

import (
	"slices"

	"laydown/internal/colourant"
	"laydown/internal/press"
)

// In a laydown the process toners that lie directly on each other become one step with the layers of a characterisation,
// driven by one group of plates. What lies below shows through it and what lies above covers it as with any film.

// Nodes for each ink of the process set, by how many plates there are besides: the model numbers every combination.
const (
	cellsUsual, usualPlates   = 8, 7
	cellsCoarse, coarsePlates = 4, 10
	cellsLeast                = 2
)

// characterise puts a process set in the place of its toners; without one, or where they do not lie together, they stay
// films of their own.
func (m *Model) characterise(p *Process, stock *press.Stock) {
	if p == nil {
		return
	}
	inks, first, ok := m.processLayers()
	if first < 0 {
		return
	}
	if !ok {
		m.notes = append(m.notes, "Another toner lies between the process toners, or one is laid twice: their overprints are shown as stacks of single toners and not by the characterisation.")
		return
	}
	o := tableOptions{stockK0: stockGloss(stock).k0, cells: cellsUsual}
	last := first
	for i, layer := range inks {
		if layer < 0 {
			continue
		}
		last = max(last, layer)
		o.inks[i] = true
		o.scatter[i] = m.films[layer].r0
	}
	o.print = gloss{m.films[last].k0, m.films[last].coat}
	switch others := len(m.inputs) - (last - first + 1); {
	case others > coarsePlates:
		o.cells = cellsLeast
	case others > usualPlates:
		o.cells = cellsCoarse
	}
	t := p.tableFor(o)
	m.notes = append(m.notes, p.notes...)
	m.notes = append(m.notes, t.notes...)
	g := group{cells: &cells{}, nodes: len(t.films)}
	for i, layer := range inks {
		if layer >= 0 {
			j := len(g.inputs)
			g.inputs = append(g.inputs, m.input[layer])
			g.cells.cell[j], g.cells.share[j], g.cells.stride[j] = t.inks[i].cell, t.inks[i].share, t.stride[i]
		}
	}
	// Groups and steps before, the set, and those after.
	var groups []group
	number := make([]int, len(m.groups))
	for i, old := range m.groups {
		if slices.Contains(g.inputs, old.inputs[0]) {
			continue
		}
		number[i] = len(groups)
		groups = append(groups, old)
	}
	var steps []step
	for i, s := range m.steps {
		switch {
		case i == first:
			steps = append(steps, step{len(groups), t.films, true})
		case i < first || i > last:
			s.group = number[s.group]
			steps = append(steps, s)
		}
	}
	m.groups, m.steps = append(groups, g), steps
	m.set = &m.groups[len(groups)]
	for i := first; i <= last; i++ {
		m.films[i].characterised = true
	}
}

// processLayers finds the layers of the process toners, in the order C, M, Y, K; -1 for those that are not there. first
// is the lowest, -1 when there is none; ok tells that they lie together, each laid once by a plate of its own.
func (m *Model) processLayers() (inks [4]int, first int, ok bool) {
	inks, first, ok = [4]int{-1, -1, -1, -1}, -1, true
	n, last := 0, 0
	for i, l := range m.layers {
		k := slices.Index(colourant.ProcessNames[:], l.Toner.Name)
		if k < 0 || l.Toner.Kind != colourant.Process {
			continue
		}
		if first < 0 {
			first = i
		}
		ok = ok && inks[k] < 0
		inks[k], last = i, i
		n++
		for j, in := range m.input {
			ok = ok && (j == i || in != m.input[i])
		}
	}
	return inks, first, ok && n == last-first+1
}
