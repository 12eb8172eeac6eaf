package demo

import (
	"fmt"
	"io"
	"strings"

	"github.com/go-fonts/liberation/liberationsansregular"

	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
	"laydown/internal/press"
)

// picture size in pixels: 275 ppi over 95 x 105 mm.
const nebulaW, nebulaH = 1030, 1137

// WriteTicket writes the ticket's artwork, sound or faulty. The same call writes the same bytes.
func WriteTicket(w io.Writer, faulty bool) error {
	p, err := press.FindPress(PressName)
	if err != nil {
		return err
	}
	f, err := subsetASCII(liberationsansregular.TTF, strings.Join(words, ""))
	if err != nil {
		return err
	}
	b := pdf.NewBuilder()
	t := &ticket{b: b, press: p, faulty: faulty}
	t.layers()
	font := t.font(f)
	nebula := b.AddStream(pdf.Dict{
		"Type": pdf.Name("XObject"), "Subtype": pdf.Name("Image"), "Width": pdf.Integer(nebulaW), "Height": pdf.Integer(nebulaH),
		"ColorSpace": pdf.Name("DeviceCMYK"), "BitsPerComponent": pdf.Integer(8),
	}, nebula(nebulaW, nebulaH, 5), true)

	gold, ok := p.Toner("Gold")
	if !ok {
		return fmt.Errorf("the press %s has no gold", PressName)
	}
	pages := b.Reserve()
	spaces, err := t.spaces()
	if err != nil {
		return err
	}
	fonts := pdf.Dict{"F1": font}
	if faulty {
		fonts["F2"] = b.Add(pdf.Dict{"Type": pdf.Name("Font"), "Subtype": pdf.Name("Type1"), "BaseFont": pdf.Name("Helvetica"),
			"Encoding": pdf.Name("WinAnsiEncoding")})
	}
	resources := func(outside bool) pdf.Dict {
		d := pdf.Dict{
			"ColorSpace": spaces, "Font": fonts,
			"ExtGState":  pdf.Dict{"Keep": gstate(true), "Knock": gstate(false)},
			"Properties": t.properties,
		}
		if outside {
			d["XObject"] = pdf.Dict{"Nebula": nebula}
		}
		return d
	}
	kids := pdf.Array{
		t.page(pages, outside(faulty), resources(true), true),
		t.page(pages, inside(faulty, *gold), resources(false), !faulty),
	}
	b.Set(pages, pdf.Dict{"Type": pdf.Name("Pages"), "Kids": kids, "Count": pdf.Integer(2)})
	b.Trailer["Root"] = b.Add(pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": pages, "OCProperties": pdf.Dict{
		"OCGs": t.groups, "D": pdf.Dict{"BaseState": pdf.Name("ON"), "Order": t.groups},
	}})
	b.Trailer["Info"] = b.Add(pdf.Dict{"Title": pdf.String("An evening at the planetarium"), "Trapped": pdf.Name("False")})
	_, err = b.WriteTo(w)
	return err
}

// ticket holds what the parts of one file share.
type ticket struct {
	b          *pdf.Builder
	press      *press.Press
	faulty     bool
	groups     pdf.Array
	properties pdf.Dict
}

// layers makes one optional content group for each layer the pages name.
func (t *ticket) layers() {
	t.properties = pdf.Dict{}
	for _, n := range []string{"White", "Picture", "Metals", "Clear", "Type"} {
		ref := t.b.Add(pdf.Dict{"Type": pdf.Name("OCG"), "Name": pdf.String(n)})
		t.properties[pdf.Name(n)] = ref
		t.groups = append(t.groups, ref)
	}
}

func gstate(overprint bool) pdf.Dict {
	return pdf.Dict{"Type": pdf.Name("ExtGState"), "OP": pdf.Boolean(overprint), "op": pdf.Boolean(overprint), "OPM": pdf.Integer(1)}
}

// spaces makes the Separation spaces from the press's own stand-in colours, and the faulty ones.
func (t *ticket) spaces() (pdf.Dict, error) {
	d := pdf.Dict{}
	for resource, name := range map[string]string{"White": "White", "Silver": "Silver", "Gold": "Gold", "Clear": "Clear"} {
		toner, ok := t.press.Toner(name)
		if !ok {
			return nil, fmt.Errorf("the press %s has no toner %q", PressName, name)
		}
		d[pdf.Name(resource)] = separation(name, toner.StandIn)
	}
	mix, ok := t.press.Mix("Pale Gold")
	if !ok {
		return nil, fmt.Errorf("the press %s has no pale gold", PressName)
	}
	d["PaleGold"] = separation(mix.Name, mix.StandIn)
	if t.faulty {
		white, _ := t.press.Toner("White")
		d["WrongWhite"] = separation("white", white.StandIn)
		d["MoonDust"] = separation("Moon Dust", [4]press.Percent{0, 10, 40, 30})
		d["OtherSilver"] = separation("Silver", [4]press.Percent{30, 10, 10, 30})
	}
	return d, nil
}

func separation(name string, c [4]press.Percent) pdf.Array {
	return pdf.Spot(name, press.Shares(c))
}

func reals(v ...float64) pdf.Array {
	a := make(pdf.Array, len(v))
	for i, x := range v {
		a[i] = pdf.Real(x)
	}
	return a
}

// boxMM is a page box: mm outside the trim on every side.
func boxMM(beyond float64) pdf.Array {
	return reals((slug-beyond)*geom.PointsPerMM, (slug-beyond)*geom.PointsPerMM,
		(slug+trimW+beyond)*geom.PointsPerMM, (slug+trimH+beyond)*geom.PointsPerMM)
}

func (t *ticket) page(parent pdf.Ref, content string, resources pdf.Dict, boxes bool) pdf.Ref {
	d := pdf.Dict{
		"Type": pdf.Name("Page"), "Parent": parent, "MediaBox": boxMM(slug), "Resources": resources,
		"Contents": t.b.AddStream(pdf.Dict{}, []byte(content), true),
	}
	if boxes {
		d["TrimBox"], d["BleedBox"] = boxMM(0), boxMM(bleed)
	}
	return t.b.Add(d)
}

// font embeds the reduced face as a simple TrueType font (ISO 32000-2, 9.6.3, 9.8).
func (t *ticket) font(f *face) pdf.Ref {
	program := t.b.AddStream(pdf.Dict{"Length1": pdf.Integer(len(f.program))}, f.program, true)
	const name = "PLANET+LiberationSans"
	widths := make(pdf.Array, 0, 95)
	for c := 32; c < 127; c++ {
		widths = append(widths, pdf.Integer(f.widths[c]))
	}
	box := make(pdf.Array, 4)
	for i, v := range f.box {
		box[i] = pdf.Integer(v)
	}
	descriptor := t.b.Add(pdf.Dict{
		"Type": pdf.Name("FontDescriptor"), "FontName": pdf.Name(name), "Flags": pdf.Integer(32), "FontBBox": box,
		"ItalicAngle": pdf.Integer(0), "Ascent": pdf.Integer(f.ascent), "Descent": pdf.Integer(f.descent),
		"CapHeight": pdf.Integer(f.capHeight), "StemV": pdf.Integer(80), "FontFile2": program,
	})
	return t.b.Add(pdf.Dict{
		"Type": pdf.Name("Font"), "Subtype": pdf.Name("TrueType"), "BaseFont": pdf.Name(name), "Encoding": pdf.Name("WinAnsiEncoding"),
		"FirstChar": pdf.Integer(32), "LastChar": pdf.Integer(126), "Widths": widths, "FontDescriptor": descriptor,
	})
}
