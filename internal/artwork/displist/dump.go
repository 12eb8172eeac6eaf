package displist

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/geom"
)

var kindNames = [...]string{"fill", "stroke", "image", "shade", "group"}

func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "kind " + strconv.Itoa(int(k))
}

// WritePage writes the facts of the page: boxes, group, colourants. Lengths are points of list space.
func (l *List) WritePage(w io.Writer) error {
	b := bufio.NewWriter(w)
	p := &l.Page
	fmt.Fprintf(b, "page %d  object %d  media %s", p.Number, p.Object, rectText(p.Media))
	for _, x := range []struct {
		name string
		r    geom.Rect
		has  bool
	}{{"crop", p.Crop, p.HasCrop}, {"bleed", p.Bleed, p.HasBleed}, {"trim", p.Trim, p.HasTrim}, {"art", p.Art, p.HasArt}} {
		fmt.Fprintf(b, "  %s %s", x.name, rectText(x.r))
		if !x.has {
			b.WriteString(" (default)")
		}
	}
	fmt.Fprintf(b, "\n  rotate %d  user unit %s  items %d\n", p.Rotate, num(p.UserUnit), len(l.Items))
	if g := l.Group; g != nil {
		fmt.Fprintf(b, "  page group%s\n", groupText(g))
	}
	for _, c := range p.Contents {
		fmt.Fprintf(b, "  content object %d from byte %d\n", c.Object, c.Start)
	}
	for _, n := range l.Names {
		fmt.Fprintf(b, "  colourant %s  object %d", quoteName(n.Name), n.Object)
		for _, s := range n.Spaces {
			fmt.Fprintf(b, "  %s", spaceText(s))
		}
		if n.HiddenOnly {
			b.WriteString("  only in hidden items")
		}
		b.WriteByte('\n')
	}
	for _, f := range []struct {
		on   bool
		text string
	}{{l.Blending, "needs blending"}, {l.Incomplete, "INCOMPLETE: not all of the page is on the list"},
		{l.ViewerDiffers, "a viewer that prints shows other layers"}} {
		if f.on {
			fmt.Fprintf(b, "  %s\n", f.text)
		}
	}
	return b.Flush()
}

// WriteText writes the list, one item a line, members of groups and masks indented. Item numbers
// are indices of Items; members of a mask or of a tiling's cell have numbers of their own. Masks, tilings
// and shadings are told of where they are first used.
func (l *List) WriteText(w io.Writer) error {
	b := bufio.NewWriter(w)
	p := &l.Page
	fmt.Fprintf(b, "page %d  trim %s  bleed %s  items %d\n", p.Number, rectText(p.Trim), rectText(p.Bleed), len(l.Items))
	d := dumper{w: b, masks: map[*SoftMask]int{}, tilings: map[*Tiling]int{}, shadings: map[*Shading]int{}}
	d.items(l.Items, 0)
	return b.Flush()
}

type dumper struct {
	w        *bufio.Writer
	masks    map[*SoftMask]int
	tilings  map[*Tiling]int
	shadings map[*Shading]int
}

func (d *dumper) items(items []Item, indent int) {
	var ends []int
	for i := range items {
		it := &items[i]
		for len(ends) > 0 && ends[len(ends)-1] <= i {
			ends = ends[:len(ends)-1]
		}
		d.item(it, i, indent+len(ends))
		if it.Kind == BeginGroup {
			ends = append(ends, it.Group.End)
		}
	}
}

func (d *dumper) item(it *Item, i, indent int) {
	pad := strings.Repeat("  ", indent)
	fmt.Fprintf(d.w, "%s%2d  %s  box %s  %s\n", pad, i, it.what(), rectText(it.Bounds), strings.Join(it.attributes(d), "  "))
	if it.Clip != nil {
		fmt.Fprintf(d.w, "%s    clip %s\n", pad, clipText(it.Clip))
	}
	if s := it.shading(); s != nil && d.shadings[s] == 0 {
		d.shadings[s] = len(d.shadings) + 1
		fmt.Fprintf(d.w, "%s    shading %d  %s\n", pad, d.shadings[s], s.text())
	}
	if t := it.Paint.Tiling; t != nil && d.tilings[t] == 0 {
		d.tilings[t] = len(d.tilings) + 1
		fmt.Fprintf(d.w, "%s    tiling %d  %s\n", pad, d.tilings[t], t.text())
		d.items(t.Items, indent+3)
	}
	if sm := it.SoftMask; sm != nil {
		n := d.masks[sm]
		if n > 0 {
			return
		}
		n = len(d.masks) + 1
		d.masks[sm] = n
		fmt.Fprintf(d.w, "%s    mask %d  %s\n", pad, n, sm.text())
		d.items(sm.Items, indent+3)
	}
}

// shading is what the item paints with, or shows, if it is one.
func (it *Item) shading() *Shading {
	if it.Kind == Shade {
		return it.Shading
	}
	return it.Paint.Shading
}

// what names the item and its shape.
func (it *Item) what() string {
	s := it.Kind.String()
	switch it.Kind {
	case Fill, Stroke:
		s += "  " + it.Shape.text()
		if it.Kind == Fill && it.Shape.Rule == geom.EvenOdd {
			s += " even-odd"
		}
		if it.Pen != nil {
			s += "  " + it.Pen.text()
		}
	case Image:
		im := it.Image
		s += fmt.Sprintf("  %dx%d %d bit", im.Width, im.Height, im.Bits)
		if im.Stencil {
			s += " stencil"
		} else if im.Space != nil {
			s += " " + spaceText(im.Space)
		}
		if im.SoftMask != nil {
			s += " soft-masked"
		}
		if im.Mask != nil {
			s += " masked"
		}
		if im.ColourKey != nil {
			s += " colour-keyed"
		}
		s += "  matrix " + matrixText(im.M)
	case Shade:
		s += fmt.Sprintf("  type %d %s", it.Shading.Type, spaceText(it.Shading.Space))
	case BeginGroup:
		s += groupText(it.Group) + fmt.Sprintf("  to %d", it.Group.End)
	}
	return s
}

func (it *Item) attributes(d *dumper) []string {
	var a []string
	add := func(format string, args ...any) { a = append(a, fmt.Sprintf(format, args...)) }
	if t := it.Paint.text(); t != "" {
		add("%s", t)
	}
	if t := it.Paint.Tiling; t != nil {
		add("tiled by %d", numberOf(d.tilings, t))
	}
	if s := it.shading(); s != nil {
		add("shading %d", numberOf(d.shadings, s))
	}
	if it.Kind != BeginGroup {
		op := 0
		if it.Overprint {
			op = 1
		}
		add("op %d opm %d", op, it.OverprintMode)
	}
	add("%s", strings.ToLower(it.Blend.String()))
	if it.Alpha < 1 {
		add("alpha %s", num(it.Alpha))
	}
	if it.AlphaIsShape {
		add("alpha is shape")
	}
	if it.SoftMask != nil {
		add("masked by %d", numberOf(d.masks, it.SoftMask))
	}
	if it.Intent != 0 {
		add("intent %s", it.Intent)
	}
	if it.Transfer {
		add("transfer")
	}
	if t := it.Text; t != nil {
		add("text %d %s %s pt mode %d %s", t.Object, quoteName(t.Font), num(t.Size), t.Mode, clippedQuote(t.String))
	}
	for l := it.Layer; l != nil; l = l.Parent {
		add("layer %q", l.Name)
		if l.Step != (Step{}) {
			add("step %s", clippedQuote(l.Step.String()))
		}
	}
	if it.Hidden {
		add("hidden")
	}
	add("%s", it.Origin.text())
	return a
}

// numberOf is the number a shared thing has, or will get when it is told of.
func numberOf[T any](known map[*T]int, t *T) int {
	if n := known[t]; n > 0 {
		return n
	}
	return len(known) + 1
}

func (o *Origin) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "from object %d byte %d", o.Object, o.Offset)
	for f := o.Forms; f != nil; f = f.Parent {
		fmt.Fprintf(&b, " in %s", quoteName(f.Name))
	}
	if o.Annotation != 0 {
		fmt.Fprintf(&b, " annotation %d", o.Annotation)
	}
	return b.String()
}

func (s *Shape) text() string {
	if s.Path != nil {
		if r, ok := s.Path.AsRect(); ok {
			return "rect " + rectText(r)
		}
		n := 0
		for _, v := range s.Path.Verbs {
			if v != geom.MoveTo {
				n++
			}
		}
		return fmt.Sprintf("path %d segments", n)
	}
	if len(s.Glyphs) == 0 {
		return "glyphs 0"
	}
	m := s.Glyphs[0].M
	t := fmt.Sprintf("glyphs %d matrix %s at", len(s.Glyphs), numsText([]float64{m.A, m.B, m.C, m.D}))
	for i, g := range s.Glyphs {
		if i == 6 {
			return t + " ..."
		}
		t += " " + num(g.M.E) + "," + num(g.M.F)
	}
	return t
}

func (p *Pen) text() string {
	st := &p.Style
	s := fmt.Sprintf("width %s cap %d join %d", num(st.Width), st.Cap, st.Join)
	if st.Join == geom.MiterJoin {
		s += " miter " + num(st.MiterLimit)
	}
	if st.Dash != nil {
		s += fmt.Sprintf(" dash %s phase %s", numsText(st.Dash), num(st.DashPhase))
	}
	if st.Adjust {
		s += " adjusted"
	}
	return s + fmt.Sprintf(" pen %s %s %s %s", num(p.M.A), num(p.M.B), num(p.M.C), num(p.M.D))
}

func (p *Paint) text() string {
	switch {
	case p.Tiling != nil && p.Space != nil:
		return fmt.Sprintf("tiling of %d items in %s %s", len(p.Tiling.Items), spaceText(p.Space), numsText(p.Comps))
	case p.Tiling != nil:
		return fmt.Sprintf("tiling of %d items", len(p.Tiling.Items))
	case p.Shading != nil:
		return fmt.Sprintf("shading type %d %s", p.Shading.Type, spaceText(p.Shading.Space))
	case p.Space == nil:
		return ""
	}
	return spaceText(p.Space) + " " + numsText(p.Comps)
}

// spaceText is a space's short name, kept to one line whatever bytes its colourants have.
func spaceText(s colour.Space) string {
	name := s.String()
	for i := 0; i < len(name); i++ {
		if name[i] < ' ' || name[i] >= 0x7f {
			q := strconv.Quote(name)
			return q[1 : len(q)-1]
		}
	}
	return name
}

func groupText(g *Group) string {
	s := ""
	if g.Name != "" {
		s += " " + quoteName(g.Name)
	}
	if g.Implicit {
		s += " implicit"
	}
	if g.Isolated {
		s += " isolated"
	}
	if g.Knockout {
		s += " knockout"
	}
	if g.Space != nil {
		s += " space " + spaceText(g.Space)
	}
	return s
}

func (m *SoftMask) text() string {
	s := "alpha"
	if m.Luminosity {
		s = "luminosity"
	}
	s += fmt.Sprintf("  box %s", rectText(m.Bounds))
	if m.Space != nil {
		s += "  space " + spaceText(m.Space)
	}
	if m.Backdrop != nil {
		s += "  backdrop " + numsText(m.Backdrop)
	}
	if m.Transfer != nil {
		s += "  transfer"
	}
	return s
}

func clipText(c *Clip) string {
	var links []string
	for ; c != nil; c = c.Parent {
		t := c.Shape.text()
		if c.Shape.Rule == geom.EvenOdd {
			t += " even-odd"
		}
		links = append(links, t)
		if len(links) == 8 && c.Parent != nil {
			links = append(links, "...")
			break
		}
	}
	return strings.Join(links, " in ")
}

func rectText(r geom.Rect) string {
	return num(r.X0) + " " + num(r.Y0) + " " + num(r.X1) + " " + num(r.Y1)
}

func matrixText(m geom.Matrix) string { return numsText([]float64{m.A, m.B, m.C, m.D, m.E, m.F}) }

func numsText(v []float64) string {
	s := make([]string, len(v))
	for i, x := range v {
		s[i] = num(x)
	}
	return strings.Join(s, " ")
}

// num writes a number with at most three decimals, without a leading or trailing zero too many.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

// quoteName quotes a name only when it would be misread.
func quoteName(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] <= ' ' || s[i] >= 0x7f || s[i] == '"' {
			return strconv.Quote(s)
		}
	}
	if s == "" {
		return `""`
	}
	return s
}

func clippedQuote(s string) string {
	if len(s) > 40 {
		return strconv.Quote(s[:40]) + "..."
	}
	return strconv.Quote(s)
}
