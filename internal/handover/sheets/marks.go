package sheets

import (
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plan/sheet"
)

// Marks. Every pass gets its own register mark, in black when its set carries black, else in all its toners that show: the mark of
// a later pass is to be laid on that of an earlier one, so that the eye sees how far they are apart. The colourant All is
// never used: it would put toner on plates that nothing else needs, and with it a set into the press. What is cut and
// folded by, and what names the sheet, is drawn once, in the first pass that has black. On a dark stock white lies
// under what is black.

// overprint keeps marks from clearing each other's plates.
var overprint = pdf.Dict{"Over": pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(true), "op": pdf.Boolean(true), "OPM": pdf.Integer(1)}}

const (
	hairline    = 0.25 * 25.4 / 72 // mm: 0.25 pt of black, common practice, no source
	specialLine = 0.5 * 25.4 / 72  // mm: 0.5 pt of a special toner, common practice, no source
	whiteBeside = 0.5              // mm of white on each side of a black line on dark stock: the register between passes
)

var black = Toner{Name: "Black", Process: true, StandIn: [4]float64{0, 0, 0, 1}}

// spaces writes the colour spaces of special toners.
func (w *writer) spaces() {
	d := pdf.Dict{}
	for i := range w.Passes {
		for k := range w.Passes[i].Toners {
			t := &w.Passes[i].Toners[k]
			if _, had := d[space(t)]; t.Process || had || !w.draws(i) {
				continue
			}
			d[space(t)] = pdf.Array{pdf.Name("Separation"), pdf.Name(t.Name), pdf.Name("DeviceCMYK"), pdf.Dict{"FunctionType": pdf.Integer(2),
				"Domain": reals(0, 1), "N": pdf.Integer(1), "C0": reals(0, 0, 0, 0), "C1": reals(t.StandIn[:]...)}}
		}
	}
	w.colours = w.out.Add(d)
}

// draws tells whether what a pass draws, from 0, is drawn in this file.
func (w *writer) draws(pass int) bool { return w.Only == 0 || w.Only == pass+1 }

// marking is how one side of a sheet is marked: by the passes that lay something on it.
type marking struct {
	*writer
	passes  []sidePass
	white   *Toner // laid down and drawn under marks; nil = none
	whiteIn int    // its pass, from 0
}

// sidePass is a pass with what it lays on a side.
type sidePass struct {
	Pass
	at int // in the job, from 0
}

func (w *writer) marking(side *sheet.Side) *marking {
	m := &marking{writer: w}
	for i, p := range w.Passes {
		if p.On != nil {
			laid := map[string]bool{}
			for _, pl := range side.Placements {
				for _, name := range p.On(pl.Page) {
					laid[name] = true
				}
			}
			p.Toners = slices.DeleteFunc(slices.Clone(p.Toners), func(t Toner) bool { return !laid[t.Name] })
			if len(p.Toners) == 0 {
				continue
			}
			p.Black = p.Black && slices.ContainsFunc(p.Toners, func(t Toner) bool { return t.Process })
		}
		for k := range p.Toners {
			if p.Toners[k].White && m.white == nil && w.Dark {
				m.white, m.whiteIn = &p.Toners[k], i
			}
		}
		m.passes = append(m.passes, sidePass{p, i})
	}
	return m
}

// key tells markings apart.
func (m *marking) key() string {
	var b strings.Builder
	for _, p := range m.passes {
		fmt.Fprintf(&b, " %d", p.at)
		for _, t := range p.Toners {
			fmt.Fprintf(&b, " %q", t.Name)
		}
	}
	return b.String()
}

// space is the resource name of a toner's colour space.
func space(t *Toner) pdf.Name { return pdf.Name("T_" + t.Name) }

// colour sets a toner for filling and stroking.
func colour(t *Toner, tint float64) string {
	if t.Process { // on its own plate, whatever stands in for it on a screen
		c := [4]float64{}
		if i := slices.Index(colourant.ProcessNames[:], t.Name); i >= 0 {
			c[i] = tint
		}
		return fmt.Sprintf("%s %s %s %s k %s %s %s %s K\n", num(c[0]), num(c[1]), num(c[2]), num(c[3]), num(c[0]), num(c[1]), num(c[2]), num(c[3]))
	}
	n := string(pdf.AppendObject(nil, space(t)))
	return fmt.Sprintf("%s cs %s scn %s CS %s SCN\n", n, num(tint), n, num(tint))
}

// ofPass are the toners a pass's marks are drawn in.
func (p *Pass) ofMarks() []Toner {
	if p.Black {
		return []Toner{black}
	}
	var out, clear []Toner
	for _, t := range p.Toners {
		if t.Clear {
			clear = append(clear, t)
		} else {
			out = append(out, t)
		}
	}
	if len(out) == 0 {
		return clear
	}
	return out
}

// main is the pass that draws what is drawn once.
func (m *marking) main() (toners []Toner, pass int) {
	for _, p := range m.passes {
		if p.Black {
			return []Toner{black}, p.at
		}
	}
	if len(m.passes) == 0 {
		return []Toner{black}, 0
	}
	return m.passes[0].ofMarks(), m.passes[0].at
}

func isBlack(list []Toner) bool { return len(list) == 1 && list[0].Name == black.Name }

// form writes the marks of one side as a form, once for all sheets that are marked alike. A side nothing is laid on has none, where
// passes are known.
func (m *marking) form(s sheet.Sheet, side *sheet.Side, name string) pdf.Ref {
	key := name + m.key()
	if r, ok := m.drawn[key]; ok {
		return r
	}
	d := &drawing{h: s.H}
	d.b.WriteString("/Over gs 0 J\n")
	if len(m.passes) > 0 || len(m.Passes) == 0 {
		m.draw(d, side)
	}
	dict := formDict([4]float64{0, 0, s.W * geom.PointsPerMM, s.H * geom.PointsPerMM}, nil)
	dict["Resources"] = pdf.Dict{"ColorSpace": m.colours, "ExtGState": overprint}
	r := m.out.AddStream(dict, []byte(d.b.String()), true)
	m.drawn[key] = r
	return r
}

func (m *marking) draw(d *drawing, side *sheet.Side) {
	main, in := m.main()
	if !isBlack(main) {
		var names []string
		for _, t := range main {
			names = append(names, t.Name)
		}
		m.tell("special marks", finding.Finding{ID: "marks-in-specials-alone", Severity: finding.Note,
			What:   "No pass carries black, so the marks are in " + strings.Join(names, ", ") + " alone.",
			Why:    "Cutting by them may be hard where they hardly show.",
			Remedy: "Look at a printed sheet before the run.", Place: finding.Place{Colourants: names}})
	}
	m.lines(d, side, main, in)
	for _, k := range side.Marks {
		switch k.Kind {
		case sheet.MarkRegister:
			m.register(d, k)
		case sheet.MarkBar:
			m.bar(d, k)
		}
	}
}

// lines draws crop and fold marks.
func (w *marking) lines(d *drawing, side *sheet.Side, main []Toner, in int) {
	draw := func(kind sheet.MarkKind) {
		for _, m := range side.Marks {
			if m.Kind == kind {
				d.line(m.A, m.B)
			}
		}
	}
	type layer struct {
		toner *Toner
		width float64
	}
	var layers []layer
	if w.white != nil && isBlack(main) && w.draws(w.whiteIn) {
		layers = append(layers, layer{w.white, hairline + 2*whiteBeside})
	}
	for i := range main {
		width := hairline
		if !main[i].Process {
			width = specialLine
		}
		if w.draws(in) {
			layers = append(layers, layer{&main[i], width})
		}
	}
	for _, l := range layers {
		t, width := l.toner, l.width
		d.b.WriteString(colour(t, 1) + pt(width) + " w\n")
		draw(sheet.MarkCrop)
		d.b.WriteString("[" + pt(1) + "] 0 d\n")
		draw(sheet.MarkFold)
		d.b.WriteString("[] 0 d\n")
	}
}

// register draws the marks of all passes over each other: the first a circle and a cross, the later ones a square and a
// shorter cross.
func (w *marking) register(d *drawing, m sheet.Mark) {
	c := sheet.Point{X: m.Box.X + m.Box.W/2, Y: m.Box.Y + m.Box.H/2}
	half := m.Box.W / 2
	passes := w.passes
	if len(passes) == 0 {
		passes = []sidePass{{Pass: Pass{Black: true}}}
	}
	if w.white != nil && w.anyBlack() && w.draws(w.whiteIn) {
		d.b.WriteString(colour(w.white, 1))
		d.circle(c, half-0.2, "f")
	}
	for i := range passes {
		if !w.draws(passes[i].at) {
			continue
		}
		list := passes[i].ofMarks()
		for k := range list {
			t := &list[k]
			if t.White && w.white != nil && len(list) > 1 {
				continue // it is the ground the others stand on
			}
			width := hairline
			if !t.Process {
				width = specialLine
			}
			d.b.WriteString(colour(t, 1) + pt(width) + " w\n")
			arm := half
			if i > 0 {
				arm = half * 0.7
			}
			d.line(sheet.Point{X: c.X - arm, Y: c.Y}, sheet.Point{X: c.X + arm, Y: c.Y})
			d.line(sheet.Point{X: c.X, Y: c.Y - arm}, sheet.Point{X: c.X, Y: c.Y + arm})
			if i == 0 {
				d.circle(c, half*0.6, "S")
			} else {
				r := half * (0.35 + float64(0.1*float64(i)))
				d.rect(sheet.Rect{X: c.X - r, Y: c.Y - r, W: 2 * r, H: 2 * r}, "S")
			}
		}
	}
}

func (w *marking) anyBlack() bool {
	for i := range w.passes {
		if w.passes[i].Black {
			return true
		}
	}
	return false
}

// tints of a toner in the colour bar.
var tints = []float64{1, 0.75, 0.5, 0.25}

// patch is the largest side of a patch, least the smallest, in mm; gap parts passes.
const patchMost, patchLeast, passGap = 5.0, 2.0, 2.0

// bar draws patches of each toner's tints, pass by pass.
func (w *marking) bar(d *drawing, m sheet.Mark) {
	count := func(list []float64) (n int) {
		for i := range w.passes {
			for _, t := range w.passes[i].Toners {
				if t.Solid {
					n++
				} else {
					n += len(list)
				}
			}
		}
		return n
	}
	all := tints
	if count(all) == 0 {
		return
	}
	gaps := passGap * float64(len(w.passes)-1)
	if (m.Box.W-gaps)/float64(count(all)) < patchLeast {
		all = tints[:1]
	}
	size := min(patchMost, (m.Box.W-gaps)/float64(count(all)))
	total := float64(size*float64(count(all))) + gaps
	x := m.Box.X + (m.Box.W-total)/2
	for i := range w.passes {
		for k := range w.passes[i].Toners {
			t := &w.passes[i].Toners[k]
			for _, v := range all {
				if t.Solid && v < 1 {
					continue
				}
				if w.draws(w.passes[i].at) {
					d.b.WriteString(colour(t, v))
					d.rect(sheet.Rect{X: x, Y: m.Box.Y, W: size, H: m.Box.H}, "f")
				}
				x += size
			}
		}
		x += passGap
	}
}

// label names the sheet, and each pass in its own toners.
func (w *marking) label(b *strings.Builder, s sheet.Sheet, side *sheet.Side, name string) {
	if len(w.passes) == 0 && len(w.Passes) > 0 {
		return
	}
	for _, m := range side.Marks {
		if m.Kind != sheet.MarkLabel {
			continue
		}
		d := &drawing{h: s.H}
		d.b.WriteString("q /Over gs\n")
		text := fmt.Sprintf("%s   sheet %d of %d   %s", plain(w.Title), s.Number, w.Plan.Count, name)
		if s.Scheme == sheet.WorkAndTurn || s.Scheme == sheet.WorkAndTumble {
			text += ", " + string(s.Scheme)
		}
		if s.Run > 1 {
			text += fmt.Sprintf("   %d times", s.Run)
		}
		const gap = 6.0
		x := m.Box.X
		main, at := w.main()
		if len(w.Passes) > 1 {
			text += fmt.Sprintf("   pass %d of %d, %s", at+1, len(w.Passes), plain(w.Passes[at].Name))
		}
		x = w.words(d, m.Box, x, text, main, at) + gap
		for i := range w.passes {
			if p := &w.passes[i]; p.at != at {
				x = w.words(d, m.Box, x, fmt.Sprintf("pass %d of %d, %s", p.at+1, len(w.Passes), plain(p.Name)), p.ofMarks(), p.at) + gap
			}
		}
		d.b.WriteString("Q\n")
		b.WriteString(d.b.String())
	}
}

// words sets a line of type in the box from x on, no further than its end, and tells where it ends.
func (w *marking) words(d *drawing, box sheet.Rect, x float64, text string, toners []Toner, pass int) float64 {
	const size = 2.2 // mm: 6.2 pt
	base := box.Y + box.H - 0.7
	path, end := w.letters.line(text, x, base, size, box.X+box.W, d.h)
	if path == "" {
		return x
	}
	if w.white != nil && isBlack(toners) && w.draws(w.whiteIn) {
		d.b.WriteString(colour(w.white, 1))
		d.rect(sheet.Rect{X: x - 0.5, Y: box.Y + 0.1, W: min(end-x+1, box.X+box.W-x+0.5), H: box.H - 0.2}, "f")
	}
	for i := range toners {
		if w.draws(pass) {
			d.b.WriteString(colour(&toners[i], 1))
			d.b.WriteString(path)
		}
	}
	return end
}

// drawing is content of a sheet, from millimetres with y down.
type drawing struct {
	b strings.Builder
	h float64 // of the sheet
}

func (d *drawing) at(p sheet.Point) string { return pt(p.X) + " " + pt(d.h-p.Y) }

func (d *drawing) line(a, b sheet.Point) { d.b.WriteString(d.at(a) + " m " + d.at(b) + " l S\n") }

func (d *drawing) rect(r sheet.Rect, op string) {
	fmt.Fprintf(&d.b, "%s %s %s %s re %s\n", pt(r.X), pt(d.h-r.Y-r.H), pt(r.W), pt(r.H), op)
}

// circle is four curves, off by less than 0.03 % of its radius.
func (d *drawing) circle(c sheet.Point, r float64, op string) {
	const k = 0.5522847498
	q := func(x, y float64) string {
		return d.at(sheet.Point{X: c.X + float64(x*r), Y: c.Y + float64(y*r)})
	}
	fmt.Fprintf(&d.b, "%s m %s %s %s c %s %s %s c %s %s %s c %s %s %s c h %s\n", q(1, 0), q(1, k), q(k, 1), q(0, 1), q(-k, 1), q(-1, k), q(-1, 0),
		q(-1, -k), q(-k, -1), q(0, -1), q(k, -1), q(1, -k), q(1, 0), op)
}
