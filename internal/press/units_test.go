package press

import (
	"math"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"pgregory.net/rapid"
)

func TestUnitsAreRead(t *testing.T) {
	for text, want := range map[string]float64{
		"3mm": 3, "0.25pt": 0.25 * 25.4 / 72, "1in": 25.4, "2cm": 20, "80um": 0.08, " 3 mm ": 3, "-1mm": -1, ".5mm": .5, "+2mm": 2, "1e1mm": 10,
	} {
		var l Length
		if err := l.parse(text); err != nil || math.Abs(float64(l)-want) > 1e-12 {
			t.Errorf("%q is %v (%v), want %g", text, float64(l), err, want)
		}
	}
	var a Area
	if err := a.parse("1.5mm2"); err != nil || a != 1.5 {
		t.Errorf("area %v %v", a, err)
	}
	var g GSM
	if err := g.parse("300gsm"); err != nil || g != 300 {
		t.Errorf("mass %v %v", g, err)
	}
	var p Percent
	if err := p.parse("70%"); err != nil || p != 70 {
		t.Errorf("percent %v %v", p, err)
	}
	var d DPI
	if err := d.parse("600dpi"); err != nil || d != 600 {
		t.Errorf("resolution %v %v", d, err)
	}
}

func TestUnitsAreRefused(t *testing.T) {
	for _, c := range []struct {
		q          quantity
		text, want string
	}{
		{new(Length), "3", `has no unit; write 3mm, 3pt, 3in, 3cm or 3um`},
		{new(Length), "3%", `unit "%" in "3%" is not known for a length; write 3mm`},
		{new(Length), "mm", "is not a length"},
		{new(Length), "", "is not a length"},
		{new(Length), "3.4.5mm", "is not a length"},
		{new(Length), "1e999mm", "is not a length"},
		{new(Length), "3 mm wide", "not known"},
		{new(Length), "3,5mm", "is not a length"},
		{new(Percent), "0.7", "has no unit; write 0.7%"},
		{new(Percent), "70pc", "not known"},
		{new(DPI), "600", "write 600dpi"},
		{new(GSM), "300", "write 300gsm"},
		{new(Area), "1mm", "not known for an area"},
		{new(Area), "2", "write 2mm2"},
	} {
		if err := c.q.parse(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%T %q: %v, want %s", c.q, c.text, err, c.want)
		}
	}
}

func TestUnitsAreWrittenShort(t *testing.T) {
	for text, want := range map[string]string{
		"0.25pt": "0.25pt", "5pt": "5pt", "3mm": "3mm", "1in": "25.4mm", "2cm": "20mm", "0.1mm": "0.1mm", "80um": "0.08mm", "0mm": "0mm", "483mm": "483mm",
	} {
		var l Length
		if err := l.parse(text); err != nil {
			t.Fatal(err)
		}
		if l.String() != want {
			t.Errorf("%s is written %s, want %s", text, l, want)
		}
	}
}

func TestUnitsComeBackExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return
		}
		in := struct {
			L Length
			A Area
			G GSM
			P Percent
			D DPI
		}{Length(v), Area(v), GSM(v), Percent(v), DPI(v)}
		text, err := yaml.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		out := in
		out.L, out.A, out.G, out.P, out.D = 0, 0, 0, 0, 0
		if err := yaml.Unmarshal(text, &out); err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		if in != out {
			t.Errorf("%s comes back as %v, was %v", text, out, in)
		}
	})
}
