package mend

import (
	"fmt"
	"math"
	"strings"

	"laydown/internal/artwork/content"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
	"laydown/internal/plates/distance"
)

// made marks what a remedy has made in the file, so that it is not made twice.
const made = pdf.Name("LaydownMade")

// addAfter draws something after all that is on a page. The page's own content is put between q and Q,
// so that what it leaves set does not reach it.
func (e *Edit) addAfter(p *Page, draw string) error {
	s, err := e.pageStream(p)
	if err != nil {
		return err
	}
	pe := s.page
	if len(pe.after) == 0 {
		pe.before = append(pe.before, "q\n"...)
		states, marks := leftOpen(s.data)
		pe.after = append(pe.after, "\n"+strings.Repeat("EMC\n", marks)+strings.Repeat("Q\n", 1+states)...)
	}
	pe.after = append(pe.after, draw...)
	return nil
}

// leftOpen is how many q and how many marked parts, layers among them, a content stream leaves open.
func leftOpen(data []byte) (states, marks int) {
	sc := content.NewScanner(data)
	for op, ok := sc.Next(); ok; op, ok = sc.Next() {
		switch op.Name {
		case "q":
			states++
		case "Q":
			states = max(states-1, 0)
		case "BMC", "BDC":
			marks++
		case "EMC":
			marks = max(marks-1, 0)
		}
	}
	return states, marks
}

// pathText writes a path of list space in the user space of the page, to a thousandth of a point.
func pathText(p *geom.Path, toUser geom.Matrix) string {
	var b strings.Builder
	b.Grow(16 * len(p.Points))
	pt := func(q geom.Point) {
		q = toUser.Apply(q)
		b.WriteString(coord(q.X) + " " + coord(q.Y) + " ")
	}
	k := 0
	for _, v := range p.Verbs {
		switch v {
		case geom.MoveTo:
			pt(p.Points[k])
			b.WriteString("m\n")
			k++
		case geom.LineTo:
			pt(p.Points[k])
			b.WriteString("l\n")
			k++
		case geom.CubicTo:
			pt(p.Points[k])
			pt(p.Points[k+1])
			pt(p.Points[k+2])
			b.WriteString("c\n")
			k += 3
		case geom.Close:
			b.WriteString("h\n")
		}
	}
	return b.String()
}

func coord(v float64) string {
	t := strings.TrimRight(fmt.Sprintf("%.3f", v), "0")
	t = strings.TrimSuffix(t, ".")
	if t == "-0" {
		return "0"
	}
	return t
}

func matrixText(m geom.Matrix) string {
	var b strings.Builder
	for _, v := range []float64{m.A, m.B, m.C, m.D, m.E, m.F} {
		b.WriteString(strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.6f", v+0), "0"), ".") + " ")
	}
	return b.String() + "cm\n"
}

// stepOf is the processing step (ISO 19593-1) of what a remedy makes, so that other programs and the check know an underlay
// from a picture drawn in white.
var stepOf = map[string]string{"make-underlay": "White", "make-clear": "Varnish"}

// layer makes a layer of its own, on and after all others, and marks it as made by a remedy (8.11).
func (e *Edit) layer(name string, remedy string) (pdf.Ref, error) {
	key := "layer " + name
	if r, ok := e.copies[key]; ok {
		return r, nil
	}
	root, ok := e.Doc.Trailer()["Root"].(pdf.Ref)
	if !ok {
		return pdf.Ref{}, fmt.Errorf("the file has no catalogue of its own to put a layer in; save it again with another program first")
	}
	group := pdf.Dict{"Type": pdf.Name("OCG"), "Name": textString(name), made: pdf.Name(remedy)}
	if step := stepOf[remedy]; step != "" {
		group["GTS_Metadata"] = pdf.Dict{"GTS_ProcStepsGroup": pdf.Name(step)}
	}
	ref := e.up.Add(group)
	e.copies[key] = ref
	catalog := copyOf(e.Doc.Catalog())
	if now, ok := e.up.Resolve(root).(pdf.Dict); ok { // with the layers made before
		catalog = copyOf(now)
	}
	props, _ := e.Doc.Dict(catalog["OCProperties"])
	props = copyOf(props)
	groups, _ := e.Doc.Array(props["OCGs"])
	props["OCGs"] = append(append(pdf.Array{}, groups...), ref)
	d, _ := e.Doc.Dict(props["D"])
	d = copyOf(d)
	order, _ := e.Doc.Array(d["Order"])
	d["Order"] = append(append(pdf.Array{}, order...), ref)
	shown, _ := e.Doc.Array(d["ON"])
	d["ON"] = append(append(pdf.Array{}, shown...), ref)
	props["D"] = d
	catalog["OCProperties"] = props
	e.set(root, catalog)
	return ref, nil
}

// textString writes text as PDFDocEncoding where that is plain ASCII, else as UTF-16 (7.9.2.2).
func textString(s string) pdf.String {
	for _, r := range s {
		if r < ' ' || r > '~' {
			b := []byte{0xFE, 0xFF}
			for _, r := range s {
				if r > 0xFFFF {
					r = 0xFFFD
				}
				b = append(b, byte(r>>8), byte(r))
			}
			return pdf.String(b)
		}
	}
	return pdf.String(s)
}

// hasMade reports whether a page already shows a layer a remedy made under this name.
func (e *Edit) hasMade(p *Page, remedy, name string) (bool, error) {
	pg, err := e.Doc.Page(p.List.Page.Number)
	if err != nil {
		return false, err
	}
	props, _ := e.Doc.Dict(pg.Resources["Properties"])
	for _, o := range props {
		if d, ok := e.Doc.Dict(o); ok {
			by, _ := e.Doc.Name(d[made])
			if n, _ := e.Doc.Resolve(d["Name"]).(pdf.String); string(by) == remedy && n == textString(name) {
				return true, nil
			}
		}
	}
	return false, nil
}

// noteMade tells that a page was left as it is since it has the layer already, made with these options or with others.
func (e *Edit) noteMade(p *Page, layer string, done bool) {
	if done {
		e.Note("Page %d has %q already, made before, and was left as it is; give another layer, or undo that mend to make it otherwise.", p.List.Page.Number, layer)
	}
}

// onTop draws a shape of list space, or an image of it, in a toner on a layer of its own, after all else, so that it takes nothing off
// other plates.
func (e *Edit) onTop(p *Page, remedy, layer, toner string, tint float64, sh *shape) error {
	s, err := e.pageStream(p)
	if err != nil {
		return err
	}
	space, ok := e.toner(toner)
	if !ok {
		return fmt.Errorf("neither the press nor the artwork has a colourant %q", toner)
	}
	group, err := e.layer(layer, remedy)
	if err != nil {
		return err
	}
	toUser, ok := p.List.Page.ToList.Invert()
	if !ok {
		return fmt.Errorf("page %d has no usable size", p.List.Page.Number)
	}
	// Multiply with no toner leaves the other plates alone, in every reader (11.7.4.2). Overprint with it would not: what is left
	// alone then counts as painted in the backdrop's colour and is multiplied with it (11.7.4.3).
	gs := s.name("ExtGState", pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(false), "op": pdf.Boolean(false),
		"BM": pdf.Name("Multiply"), "ca": pdf.Integer(1), "CA": pdf.Integer(1), "SMask": pdf.Name("None")})
	var b strings.Builder
	fmt.Fprintf(&b, "/OC %s BDC\nq\n%s gs\n%s\n", nameText(s.name("Properties", group)), nameText(gs), s.colourText(&Colour{space, []float64{tint}}, false))
	if sh.path != nil {
		b.WriteString(pathText(sh.path, toUser) + "f\n")
	} else {
		o, err := e.imageOf(p.List.Page.Number, sh, space, tint)
		if err != nil {
			return err
		}
		// The unit square has row 0 at the top; list space has y down.
		r := sh.at
		m := geom.Matrix{A: r.W(), D: -r.H(), E: r.X0, F: r.Y1}.Mul(toUser)
		b.WriteString(matrixText(m) + nameText(s.name("XObject", o)) + " Do\n")
	}
	b.WriteString("Q\nEMC\n")
	return e.addAfter(p, b.String())
}

// imageOf is the shape as an image: a stencil of one bit, or tints of 8 bits.
func (e *Edit) imageOf(page int, sh *shape, space pdf.Object, tint float64) (pdf.Ref, error) {
	d := pdf.Dict{"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(sh.w), "Height": pdf.Integer(sh.h)}
	if sh.tints {
		data := make([]byte, len(sh.pix))
		for i, v := range sh.pix {
			data[i] = byte(math.Floor(float64(float64(v)*tint) + .5))
		}
		d["ColorSpace"], d["BitsPerComponent"] = space, pdf.Integer(8)
		return e.up.AddStream(d, data, true), nil
	}
	k := sh.finer()
	bits, err := distance.Stencil(distance.Plane{Pix: sh.pix, W: sh.w, H: sh.h, DPI: sh.dpi()}, k, distance.Options{})
	if err != nil {
		return pdf.Ref{}, err
	}
	d["Width"], d["Height"] = pdf.Integer(k*sh.w), pdf.Integer(k*sh.h)
	d["ImageMask"], d["BitsPerComponent"], d["Decode"] = pdf.Boolean(true), pdf.Integer(1), pdf.Array{pdf.Integer(1), pdf.Integer(0)} // 1 marks (8.9.6.2)
	if fine := float64(k) * sh.dpi(); fine < stencilDPI-1 {
		e.Note("The one-bit image of page %d has %.0f dpi, more would be too many pixels: its edges are steps of %.3f mm. Made as an outline it would be exact.", page, fine, 25.4/fine)
	}
	return e.up.AddStream(d, bits, true), nil
}
