package interp

import (
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/limits"
)

// layerTable is the document's optional content (8.11): each group's state in the default
// configuration, as a printing program reads it and as a viewer that prints does.
type layerTable struct {
	doc    *pdf.Document
	groups map[int]*layerGroup // by object number
}

// layerGroup is an optional content group.
type layerGroup struct {
	name            string
	visible, viewer bool
	step            displist.Step
}

// readLayers reads OCProperties; nil when the catalogue has none, and then optional content is
// ignored altogether (8.11.4.2).
func readLayers(doc *pdf.Document) *layerTable {
	props, ok := doc.Dict(doc.Catalog()["OCProperties"])
	if !ok {
		return nil
	}
	t := &layerTable{doc: doc, groups: map[int]*layerGroup{}}
	config, _ := doc.Dict(props["D"])
	base := true
	if n, _ := doc.Name(config["BaseState"]); n == "OFF" {
		base = false
	}
	free := map[int]bool{} // groups whose intent keeps them out of the configuration
	configIntents := intents(doc, config["Intent"])
	list, _ := doc.Array(props["OCGs"])
	for _, o := range list {
		ref, ok := o.(pdf.Ref)
		if !ok {
			continue
		}
		d, ok := doc.Dict(ref)
		if !ok {
			continue
		}
		name, _ := doc.Resolve(d["Name"]).(pdf.String)
		t.groups[ref.Num] = &layerGroup{name: textString(name), visible: base, step: readStep(doc, d)}
		free[ref.Num] = !sharesIntent(configIntents, intents(doc, d["Intent"]))
	}
	set := func(key pdf.Name, state bool) {
		a, _ := doc.Array(config[key])
		for _, o := range a {
			if ref, ok := o.(pdf.Ref); ok && t.groups[ref.Num] != nil {
				t.groups[ref.Num].visible = state
			}
		}
	}
	set("ON", true)
	set("OFF", false)
	for n, g := range t.groups {
		if free[n] {
			g.visible = true
		}
		g.viewer = g.visible
	}
	t.applyPrintEvents(config, free)
	return t
}

// applyPrintEvents gives groups the state a viewer sets when it prints (8.11.4.5): the usage
// application dictionaries of Event Print. A group listed more than once is on only if every
// result is.
func (t *layerTable) applyPrintEvents(config pdf.Dict, free map[int]bool) {
	doc := t.doc
	results := map[int]bool{}
	usage, _ := doc.Array(config["AS"])
	for _, o := range usage {
		d, ok := doc.Dict(o)
		if !ok {
			continue
		}
		if e, _ := doc.Name(d["Event"]); e != "Print" {
			continue
		}
		categories, _ := doc.Array(d["Category"])
		groups, _ := doc.Array(d["OCGs"])
		for _, g := range groups {
			ref, ok := g.(pdf.Ref)
			if !ok || t.groups[ref.Num] == nil {
				continue
			}
			gd, _ := doc.Dict(ref)
			u, _ := doc.Dict(gd["Usage"])
			for _, c := range categories {
				name, _ := doc.Name(c)
				key, ok := map[pdf.Name]pdf.Name{"Print": "PrintState", "View": "ViewState", "Export": "ExportState"}[name]
				if !ok {
					continue
				}
				cd, _ := doc.Dict(u[name])
				state, ok := doc.Name(cd[key])
				if !ok {
					continue
				}
				if before, seen := results[ref.Num]; !seen || before {
					results[ref.Num] = state == "ON"
				}
			}
		}
	}
	for n, on := range results {
		if !free[n] {
			t.groups[n].viewer = on
		}
	}
}

// intents reads an Intent entry: a name or an array of names; View when absent.
func intents(doc *pdf.Document, o pdf.Object) []pdf.Name {
	if n, ok := doc.Name(o); ok {
		return []pdf.Name{n}
	}
	var out []pdf.Name
	if a, ok := doc.Array(o); ok {
		for _, e := range a {
			if n, ok := doc.Name(e); ok {
				out = append(out, n)
			}
		}
		return out
	}
	return []pdf.Name{"View"}
}

// sharesIntent reports whether a configuration speaks about a group.
func sharesIntent(config, group []pdf.Name) bool {
	for _, c := range config {
		for _, g := range group {
			if c == "All" || g == "All" || c == g {
				return true
			}
		}
	}
	return false
}

// reading is one way to decide a group's state.
type reading func(*layerGroup) bool

func defaultReading(g *layerGroup) bool { return g.visible }
func viewerReading(g *layerGroup) bool  { return g.viewer }

// chosenReading is what the options ask for.
func (o *Options) chosenReading(g *layerGroup) bool {
	if v, ok := o.Layers[g.name]; ok {
		return v
	}
	if o.AsViewer {
		return g.viewer
	}
	return g.visible && !g.step.Technical()
}

// readStep reads which processing step a group stands for (ISO 19593-1: GTS_Metadata of the group itself).
func readStep(doc *pdf.Document, group pdf.Dict) displist.Step {
	meta, ok := doc.Dict(group["GTS_Metadata"])
	if !ok {
		return displist.Step{}
	}
	name, _ := doc.Name(meta["GTS_ProcStepsGroup"])
	kind, _ := doc.Name(meta["GTS_ProcStepsType"])
	if name == "" {
		return displist.Step{}
	}
	return displist.Step{Group: string(name), Type: string(kind)}
}

// step is the processing step of a group, or of a membership whose groups all stand for the same.
func (t *layerTable) step(o pdf.Object) displist.Step {
	if g := t.group(o); g != nil {
		return g.step
	}
	d, ok := t.doc.Dict(o)
	if !ok {
		return displist.Step{}
	}
	members := t.members(d)
	for _, g := range members {
		if g.step != members[0].step {
			return displist.Step{}
		}
	}
	if len(members) == 0 {
		return displist.Step{}
	}
	return members[0].step
}

// maxExpression bounds the nesting of a visibility expression; real ones are two or three deep.
const maxExpression = 32

// visible evaluates an optional content group or membership dictionary (8.11.2.2, Table 97).
func (t *layerTable) visible(o pdf.Object, read reading) bool {
	if g := t.group(o); g != nil {
		return read(g)
	}
	d, ok := t.doc.Dict(o)
	if !ok {
		return true
	}
	if kind, _ := t.doc.Name(d["Type"]); kind != "OCMD" {
		return true // a group that OCProperties does not list has no state
	}
	if ve, ok := t.doc.Array(d["VE"]); ok && len(ve) > 0 {
		budget := 10_000
		return t.expression(ve, read, 0, &budget)
	}
	groups := t.members(d)
	if len(groups) == 0 {
		return true
	}
	policy, _ := t.doc.Name(d["P"])
	on := 0
	for _, g := range groups {
		if read(g) {
			on++
		}
	}
	switch policy {
	case "AllOn":
		return on == len(groups)
	case "AnyOff":
		return on < len(groups)
	case "AllOff":
		return on == 0
	}
	return on > 0 // AnyOn
}

// expression evaluates VE: And, Or, Not over groups and expressions.
func (t *layerTable) expression(a pdf.Array, read reading, depth int, budget *int) bool {
	op, _ := t.doc.Name(a[0])
	value := func(o pdf.Object) bool {
		if *budget--; *budget < 0 || depth > maxExpression {
			return true
		}
		if g := t.group(o); g != nil {
			return read(g)
		}
		if sub, ok := t.doc.Array(o); ok && len(sub) > 0 {
			return t.expression(sub, read, depth+1, budget)
		}
		return true
	}
	switch op {
	case "Not":
		return len(a) < 2 || !value(a[1])
	case "And":
		for _, o := range a[1:] {
			if !value(o) {
				return false
			}
		}
		return true
	case "Or":
		for _, o := range a[1:] {
			if value(o) {
				return true
			}
		}
		return len(a) < 2
	}
	return true
}

func (t *layerTable) group(o pdf.Object) *layerGroup {
	if ref, ok := o.(pdf.Ref); ok {
		return t.groups[ref.Num]
	}
	return nil
}

// members are the groups of a membership dictionary; null entries do not count.
func (t *layerTable) members(d pdf.Dict) []*layerGroup {
	if g := t.group(d["OCGs"]); g != nil {
		return []*layerGroup{g}
	}
	var out []*layerGroup
	a, _ := t.doc.Array(d["OCGs"])
	for _, o := range a {
		if g := t.group(o); g != nil {
			out = append(out, g)
		}
	}
	return out
}

// describe names a group or membership: a membership of one group has that group's name.
func (t *layerTable) describe(o pdf.Object) (name string, object int) {
	ref, _ := o.(pdf.Ref)
	if g := t.group(o); g != nil {
		return g.name, ref.Num
	}
	d, ok := t.doc.Dict(o)
	if !ok {
		return "", ref.Num
	}
	if one, ok := d["OCGs"].(pdf.Ref); ok && t.groups[one.Num] != nil {
		return t.groups[one.Num].name, one.Num
	}
	var names []string
	for _, g := range t.members(d) {
		names = append(names, g.name)
	}
	return strings.Join(names, " + "), ref.Num
}

// ocNode is a place in the nesting of optional content: all on the way up must be visible.
type ocNode struct {
	layer                   *displist.Layer
	hidden, differs         bool
	visibleAll, viewerShows bool
}

type nodeKey struct {
	object int
	parent *ocNode
}

// enter nests optional content o in outer.
func (m *machine) enter(o pdf.Object, outer *ocNode) *ocNode {
	t := m.layers
	if t == nil || m.r.Doc.Resolve(o) == nil {
		return outer
	}
	ref, isRef := o.(pdf.Ref)
	key := nodeKey{ref.Num, outer}
	if n, ok := m.nodes[key]; ok && isRef {
		return n
	}
	name, object := t.describe(o)
	layer := &displist.Layer{Name: name, Object: object,
		Visible: t.visible(o, defaultReading), Viewer: t.visible(o, viewerReading), Prints: t.visible(o, m.opt.chosenReading), Step: t.step(o), Entry: o}
	n := &ocNode{layer: layer, hidden: !layer.Prints, visibleAll: layer.Visible, viewerShows: layer.Viewer}
	if outer != nil {
		layer.Parent = outer.layer
		n.hidden = n.hidden || outer.hidden
		n.visibleAll = n.visibleAll && outer.visibleAll
		n.viewerShows = n.viewerShows && outer.viewerShows
	}
	n.differs = n.visibleAll != n.viewerShows
	if isRef {
		m.nodes[key] = n
	}
	return n
}

func (m *machine) mark(n *ocNode) {
	if len(m.f.marks) < limits.MaxMarkedContent {
		m.f.marks = append(m.f.marks, m.f.oc)
		m.f.oc = n
	} else {
		m.overLimit("More than ten thousand marked parts are nested.", true)
	}
}

func opBMC(m *machine, _ []pdf.Object) bool {
	m.mark(m.f.oc)
	return true
}

// opBDC begins marked content; tagged OC, with a property list from the resources, it belongs to a
// layer (8.11.3.2).
func opBDC(m *machine, ops []pdf.Object) bool {
	n := m.f.oc
	if len(ops) >= 2 {
		if tag, _ := ops[len(ops)-2].(pdf.Name); tag == "OC" {
			switch p := ops[len(ops)-1].(type) {
			case pdf.Name:
				n = m.enter(m.f.res.entry("Properties", p), n)
			case pdf.Dict:
				n = m.enter(p, n)
			}
		}
	}
	m.mark(n)
	return len(ops) >= 2
}

func opEMC(m *machine, _ []float64) {
	if k := len(m.f.marks); k > 0 {
		m.f.oc = m.f.marks[k-1]
		m.f.marks = m.f.marks[:k-1]
	}
}

// textString decodes a text string (7.9.2.2): UTF-16BE or UTF-8 with their marks, else bytes as
// PDFDocEncoding, whose printable part is taken as Latin-1.
func textString(s pdf.String) string {
	switch {
	case strings.HasPrefix(string(s), "\xfe\xff"):
		u := make([]uint16, 0, len(s)/2)
		for i := 2; i+1 < len(s); i += 2 {
			u = append(u, uint16(s[i])<<8|uint16(s[i+1]))
		}
		return string(utf16.Decode(u))
	case strings.HasPrefix(string(s), "\xef\xbb\xbf") && utf8.ValidString(string(s)):
		return string(s[3:])
	}
	r := make([]rune, 0, len(s))
	for i := 0; i < len(s); i++ {
		r = append(r, rune(s[i]))
	}
	return string(r)
}
