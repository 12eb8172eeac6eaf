package pdfbuild

import (
	"fmt"
	"strings"

	"pgregory.net/rapid"
)

// randomResources are toners, a wrong name, one that is not on the press and a second look. None has a name that is short for
// a space in inline images (ISO 32000-2, Table 91): Ghostscript 10.00 takes G for DeviceGray wherever it stands.
func randomResources(image, inner, hidden int) string {
	return fmt.Sprintf("/Properties << /H %d 0 R >> ", hidden) + "/ColorSpace << /W " + Spot("White", .25, 0, 0, .1) + " /w " + Spot("white", .3, 0, 0, .1) +
		" /S " + Spot("Silver", 0, 0, 0, .45) + " /S2 " + Spot("Silver", .3, .1, .1, .3) +
		" /C " + Spot("Clear", 0, .2, 0, 0) + " /M " + Spot("Moon#20Dust", 0, .1, .4, .3) +
		" /Au " + Spot("Gold", .2, .35, .8, .15) +
		" >> /ExtGState << /On << /OP true /op true /OPM 1 >> /Off << /OP false /op false >> /St << /OP true /op false >> >>" +
		fmt.Sprintf(" /XObject << /Im %d 0 R /Fm %d 0 R >> /Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>", image, inner)
}

// randomContent draws a stream of objects that lie on each other.
func randomContent(t *rapid.T, label string, forms bool) string {
	var b strings.Builder
	n := rapid.IntRange(1, 9).Draw(t, label)
	colour := func() string {
		s := rapid.SampledFrom([]string{"W", "w", "S", "S2", "C", "M", "Au", "k", "g", "K0"}).Draw(t, "space")
		tint := rapid.SampledFrom([]string{"1", ".5", ".1", "0"}).Draw(t, "tint")
		switch s {
		case "k":
			return rapid.SampledFrom([]string{".9 .8 .8 .9 k .9 .8 .8 .9 K", ".2 .35 .8 .15 k .2 .35 .8 .15 K", "0 .5 0 0 k 0 .5 0 0 K"}).Draw(t, "cmyk")
		case "g":
			return tint + " g " + tint + " G"
		case "K0":
			return "0 0 0 0 k 0 0 0 1 K"
		}
		return fmt.Sprintf("/%s cs %s scn /%s CS %s SCN", s, tint, s, tint)
	}
	num := rapid.IntRange(0, 60)
	depth := 0
	for range n {
		if rapid.Bool().Draw(t, "colour") {
			b.WriteString(colour() + "\n")
		}
		if rapid.Bool().Draw(t, "gs") {
			b.WriteString("/" + rapid.SampledFrom([]string{"On", "Off", "St"}).Draw(t, "state") + " gs\n")
		}
		x, y, w, h := num.Draw(t, "x"), num.Draw(t, "y"), num.Draw(t, "w")+5, num.Draw(t, "h")+5
		switch rapid.SampledFrom([]string{"f", "S", "B", "hidden", "clip", "text", "image", "form", "q", "Q", "two"}).Draw(t, "what") {
		case "f":
			fmt.Fprintf(&b, "%d %d %d %d re f\n", x, y, w, h)
		case "hidden":
			fmt.Fprintf(&b, "/OC /H BDC %s %d %d %d %d re B BT /F 9 Tf 3 3 Td (hid) Tj ET EMC\n", colour(), x, y, w, h)
		case "S":
			fmt.Fprintf(&b, "3 w %d %d m %d %d l S\n", x, y, x+w, y+h)
		case "B":
			fmt.Fprintf(&b, "2 w %d %d %d %d re B*\n", x, y, w, h)
		case "clip":
			fmt.Fprintf(&b, "q %d %d %d %d re W f 0 0 100 100 re f Q\n", x, y, w, h)
		case "text":
			fmt.Fprintf(&b, "BT /F 20 Tf %d %d Td (Ag) Tj %s (x) Tj 0 -15 Td (yz) Tj ET\n", x, y, colour())
		case "image":
			fmt.Fprintf(&b, "q %d 0 0 %d %d %d cm /Im Do Q\n", w, h, x, y)
		case "form":
			if forms {
				fmt.Fprintf(&b, "q .7 0 0 .7 %d %d cm /Fm Do Q\n", x/2, y/2)
			}
		case "q":
			b.WriteString("q\n")
			depth++
		case "Q":
			if depth > 0 {
				b.WriteString("Q\n")
				depth--
			}
		case "two":
			fmt.Fprintf(&b, "%d %d m %d %d l %d %d l h %d %d 5 5 re f*\n", x, y, x+w, y, x, y+h, y, x)
		}
	}
	return b.String() + strings.Repeat("Q ", depth)
}

// RandomFile has two pages that share forms.
func RandomFile(t *rapid.T) []byte { return RandomFileWith(t, "") }

// RandomFileWith draws objects of the resources of RandomFile above all others of the first page, besides.
func RandomFileWith(t *rapid.T, above string) []byte {
	f := New()
	im := f.Stream("/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceGray", "\x00\x80\xc0\xff")
	inner, hidden := f.Add(""), f.Add("<< /Type /OCG /Name (hidden) >>")
	f.Catalog(fmt.Sprintf("/OCProperties << /OCGs [%d 0 R] /D << /OFF [%[1]d 0 R] >> >>", hidden))
	res := randomResources(im, inner, hidden)
	group := ""
	if rapid.IntRange(0, 3).Draw(t, "group") == 0 {
		group = "/Group << /S /Transparency >>"
	}
	own := "/Resources << " + res + " >>"
	if rapid.IntRange(0, 3).Draw(t, "own") == 0 {
		own = ""
	}
	content := randomContent(t, "form", false)
	f.Set(inner, fmt.Sprintf("<< /Type /XObject /Subtype /Form /BBox [0 0 100 100] %s %s /Length %d >>\nstream\n%s\nendstream", group, own, len(content), content))
	f.Page(100, 100, res, "q "+randomContent(t, "page 1", true)+" Q "+above)
	c1, c2 := f.Stream("", randomContent(t, "page 2a", true)), f.Stream("", randomContent(t, "page 2b", true))
	f.PageWith(100, 100, res, fmt.Sprintf("[%d 0 R %d 0 R]", c1, c2), "/TrimBox [15 15 85 85]")
	return f.Bytes()
}
