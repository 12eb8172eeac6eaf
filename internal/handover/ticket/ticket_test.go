package ticket

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	_ "laydown/internal/sameseed"
)

// example is a ticket with all a ticket can have; names have blanks, umlauts and slashes.
func example() *Ticket {
	lab := [3]float64{94.5, -0.6, -0.3}
	cmyk := [4]float64{25, 0, 0, 10}
	content := File{URL: "../artwork/pass-2.pdf", Type: "application/pdf", Size: 1234, MD5: bytes.Repeat([]byte{1}, 16), SHA256: bytes.Repeat([]byte{2}, 32), Name: "pass-2.pdf"}
	return &Ticket{Job: "An evening: ticket / 2", Pass: 2, Passes: 2, Set: "special", Time: time.Date(2025, 1, 1, 9, 0, 0, 0, time.UTC), Version: "v1",
		Product: Product{Type: "Card", Amount: 250, Finished: [2]float64{210, 99}, Bleed: 3, Pages: 2, Front: []string{"Cyan", "Weiß/Grün (1)", "Weiss_Gruen__1_"}, Back: []string{"Klarer Lack"}},
		Stock: Stock{Title: "Midnight-blue board", Name: "midnight-blue-board", Surface: "uncoated", Weight: 300, Thickness: 0.4, Opacity: 100,
			Front: [3]float64{18, 3, -18}, Back: [3]float64{19, 3, -18}},
		Sheet: [2]float64{320, 450}, Grain: "height",
		Colours: []Colour{{Name: "Cyan", Kind: KindProcess}, {Name: "Weiß/Grün (1)", Kind: KindWhite, Lab: &lab, CMYK: &cmyk, Under: true, CxF: &File{URL: "../colour/x.cxf"}},
			{Name: "Weiss_Gruen__1_", Kind: KindMetallic}, {Name: "Klarer Lack", Kind: KindClear}, {Name: "L\xe4ck", Kind: KindSpot}},
		Aliases: []Alias{{"white", "Weiß/Grün (1)"}},
		Sides:   []Side{{Order: []string{"Weiß/Grün (1)", "Weiss_Gruen__1_", "L\xe4ck"}}, {Back: true, Order: []string{"Klarer Lack"}}},
		Content: content, Pages: [2]int{1, 2},
		Surface: []Surface{{Sheet: 1, Style: "WorkAndBack", Size: [2]float64{907.09, 1275.59}, Run: 40,
			Placed: []Placed{{Page: 1, CTM: [6]float64{1, 0, 0, 1, 28, 28}, TrimCTM: [6]float64{1, 0, 0, 1, 36, 36}, Trim: [2]float64{595, 280}, Clip: [4]float64{28, 28, 640, 324}}}},
			{Sheet: 1, Back: true, Style: "WorkAndBack", Size: [2]float64{907.09, 1275.59}, Run: 40}},
		Good: 40, Waste: 11, Looks: []File{{URL: "../look/page-1.png", Type: "image/png"}}, Remarks: []string{"Put the set special in the press.\x00 & <so on>"}}
}

func written(t *testing.T, x *Ticket) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := x.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// schema is the path of the XJDF schema, which lies beside the project; the test is skipped without it or without xmllint,
// unless the run requires all of them.
func schema(t *testing.T) string {
	t.Helper()
	required := os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1"
	file := filepath.Join("..", "..", "..", "..", "shared", "xjdf", "xjdf-2.2.xsd")
	if _, err := os.Stat(file); err != nil {
		if required {
			t.Fatalf("the schema is required: %v", err)
		}
		t.Skip("the schema of XJDF is not there")
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		if required {
			t.Fatal("xmllint is required and not installed")
		}
		t.Skip("xmllint is not installed")
	}
	return file
}

// lint asks xmllint whether a ticket is valid.
func lint(schema string, xml []byte) error {
	cmd := exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, "-")
	cmd.Stdin = bytes.NewReader(xml)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%w\n%s\n%s", err, out, xml)
	}
	return nil
}

func TestTicket_is_valid_against_the_schema(t *testing.T) {
	file := schema(t)
	for name, change := range map[string]func(*Ticket){
		"whole":               func(*Ticket) {},
		"sheets already made": func(x *Ticket) { x.Imposed = true },
		"no sheets":           func(x *Ticket) { x.Surface = nil },
		"nothing known": func(x *Ticket) {
			*x = Ticket{Pass: 1, Passes: 1, Content: x.Content, Sides: x.Sides[1:], Colours: x.Colours, Stock: Stock{Surface: "coated"}}
		},
		"process alone, one side": func(x *Ticket) { x.Sides = []Side{{Order: []string{"Cyan"}}}; x.Product.Back = nil },
		"film":                    func(x *Ticket) { x.Stock.Surface, x.Stock.Opacity, x.Stock.Thickness = "film", 8, 0.125 },
		"two sheets":              func(x *Ticket) { x.Surface[1].Sheet = 2 },
	} {
		t.Run(name, func(t *testing.T) {
			x := example()
			change(x)
			b := written(t, x)
			if err := lint(file, b); err != nil {
				t.Error(err)
			}
			if _, faults, err := Check(bytes.NewReader(b)); err != nil || len(faults) > 0 {
				t.Errorf("own checks: %v %v", faults, err)
			}
		})
	}
}

// The schema test could pass because xmllint looks at nothing: what is broken must fail.
func TestTicket_schema_refuses_a_name_with_a_blank(t *testing.T) {
	file := schema(t)
	b := bytes.ReplaceAll(written(t, example()), []byte(`Separation="Klarer_Lack"`), []byte(`Separation="Klarer Lack"`))
	if lint(file, b) == nil {
		t.Error("xmllint takes a token with a blank")
	}
}

func TestTicket_says_the_same_again(t *testing.T) {
	if !bytes.Equal(written(t, example()), written(t, example())) {
		t.Error("two bytes for one ticket")
	}
}

func TestTicket_tells_the_laydown_of_each_side(t *testing.T) {
	b := string(written(t, example()))
	n := Tokens(example().names())
	white, metal, other := n["Weiß/Grün (1)"], n["Weiss_Gruen__1_"], n["L\xe4ck"]
	for _, want := range []string{
		`ColorantOrder="` + white + " " + metal + " " + other + `"`,
		`ColorantOrder="Klarer_Lack"`,
		`ProcessColorModel="None"`,
		`ColorantAlias ColorantName="Weiß/Grün (1)" ReplacementColorantName="` + white + `"`,
		`ColorantAlias ColorantName="white" ReplacementColorantName="` + white + `"`,
		`RawName="4CE4636B"`, // "Läck" in Latin-1
		`FinishedDimensions="595.276 280.63 0"`,
		`Bleed="8.504"`,
		`Thickness="400"`,
		`CheckSum="01010101010101010101010101010101"`,
		`ld:SHA256="` + strings.Repeat("02", 32) + `"`,
		`Pages="0 1"`,
		`Amount="40" Waste="11"`,
	} {
		if !strings.Contains(b, want) {
			t.Errorf("no %s in\n%s", want, b)
		}
	}
}

func TestCheck_names_what_the_schema_does_not_see(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{`ResourceSet Name="RunList"`, `ResourceSet Name="RunLists"`, `Resource of a set named "RunLists" holds RunList`},
		{`PaperRef="M1"`, `PaperRef="M2"`, `PaperRef leads to "M2"`},
		{`ID="M1"`, `ID="PR1"`, `two elements have the ID "PR1"`},
		{`ColorantOrder="Klarer_Lack"`, `ColorantOrder="Cyan"`, `"Klarer_Lack" is to be printed and has no place`},
		{`ColorantOrder="Klarer_Lack"`, `ColorantOrder="Klarer_Lack Klarer_Lack"`, `has two places`},
		{`ColorantOrder="Klarer_Lack"`, `ColorantOrder="Klarer_Lack Gold"`, `the colour "Gold", which is not told of`},
		{`ColorantOrder="Klarer_Lack"`, `ColorantOrder="Klarer_Lack" ColorantConvertProcess="Klarer_Lack"`, `to be printed and to be converted`},
		{`CombinedProcessIndex="1"`, `CombinedProcessIndex="2"`, `belongs to process 2, and there are 2`},
		{`Thickness="400" Weight="300">`, `Thickness="0.4" Weight="300">`, `thickness 0.4 µm is not possible`},
		{`Intent Name="MediaIntent"`, `Intent Name="LayoutIntent"`, `Intent named "LayoutIntent" holds MediaIntent`},
		{`URL="../artwork/pass-2.pdf"`, `URL="https://example.org/pass-2.pdf"`, `does not lie beside the ticket`},
		{`URL="../artwork/pass-2.pdf"`, ``, `a file has no URL`},
		{`ResourceSet Name="Layout" Usage="Input"`, `ResourceSet Name="Layout"`, `Imposition is given no Layout`},
		{`Component" Usage="Output"`, `Component" Usage="Input"`, `nothing comes out`},
	} {
		b := string(written(t, example()))
		if !strings.Contains(b, c.from) {
			t.Errorf("the ticket has no %s", c.from)
			continue
		}
		_, faults, err := Check(strings.NewReader(strings.Replace(b, c.from, c.to, 1)))
		if err != nil {
			t.Errorf("%s: %v", c.to, err)
		}
		if !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: %q, want %q", c.to, faults, c.want)
		}
	}
}

func TestCheck_refuses_what_is_no_ticket(t *testing.T) {
	for _, s := range []string{"", "PK", "<a/>", "<XJDF/>", `<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>`, strings.Repeat("<a>", 5000), `<XJDF xmlns="` + xjdfSpace + `">`} {
		if _, _, err := Check(strings.NewReader(s)); err == nil {
			t.Errorf("%.30q is taken for a ticket", s)
		}
	}
}

var nmtoken = regexp.MustCompile(`^[A-Za-z0-9._-]+$`) // a part of NMTOKEN, XML 1.0, 2.3

// names are drawn from few letters, so that many of them meet.
func someName() *rapid.Generator[string] {
	return rapid.OneOf(rapid.StringOfN(rapid.SampledFrom([]rune("aäAÄ /_(é.ß-")), 0, 4, -1), rapid.String(),
		rapid.Custom(func(t *rapid.T) string { return string(rapid.SliceOfN(rapid.Byte(), 0, 4).Draw(t, "bytes")) }))
}

func TestTokens_are_injective_and_do_not_depend_on_order(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfN(someName(), 0, 12).Draw(t, "names")
		// Names that are what tokens of others become.
		for _, tok := range Tokens(names) {
			if rapid.Bool().Draw(t, "also") {
				names = append(names, tok)
			}
		}
		got := Tokens(names)
		by := map[string]string{}
		for _, n := range names {
			tok := got[n]
			if !nmtoken.MatchString(tok) {
				t.Fatalf("%q becomes %q", n, tok)
			}
			if other, ok := by[tok]; ok && other != n {
				t.Fatalf("%q and %q become %q", n, other, tok)
			}
			by[tok] = n
			if nmtoken.MatchString(n) && tok != n {
				t.Fatalf("%q, a token, becomes %q", n, tok)
			}
		}
		turned := slices.Clone(names)
		slices.Reverse(turned)
		for n, tok := range Tokens(turned) {
			if got[n] != tok {
				t.Fatalf("%q becomes %q or %q, by the order", n, got[n], tok)
			}
		}
	})
}

// Files of colourants lie beside each other on any system, whatever the colourants are called.
func TestFileNames_differ_on_every_system(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := append(rapid.SliceOfN(someName(), 0, 12).Draw(t, "names"), "White", "white", "WHITE", "nul", "Com1", strings.Repeat("x", 300), strings.Repeat("X", 301), "a.", "")
		by := map[string]string{}
		for n, file := range FileNames(names) {
			low := strings.ToLower(file)
			if other, ok := by[low]; ok {
				t.Fatalf("%q and %q become %q and its like", n, other, file)
			}
			if by[low] = n; len(file) > 200 || !nmtoken.MatchString(file) || Device(file) || strings.HasSuffix(file, ".") {
				t.Fatalf("%q becomes %q", n, file)
			}
		}
		for _, n := range names {
			if FileNames(names)[n] == "" {
				t.Fatalf("%q has no file", n)
			}
		}
	})
}

// Names that differ in bytes XML cannot hold are told by these.
func TestTicket_tells_bytes_XML_cannot_hold(t *testing.T) {
	for name, want := range map[string]string{"Weiß": "", "a\x01": "6101", "a\x02": "6102", "a\xff": "61FF", "a\tb": ""} {
		if got := rawName(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

func TestTokens_read_well(t *testing.T) {
	got := Tokens([]string{"Dry White", "Weiß", "Grün", "Café", "Gold/Silver", "White"})
	for n, want := range map[string]string{"Dry White": "Dry_White", "Weiß": "Weiss", "Grün": "Gruen", "Café": "Cafe", "Gold/Silver": "Gold_Silver", "White": "White"} {
		if got[n] != want {
			t.Errorf("%q becomes %q, want %q", n, got[n], want)
		}
	}
}

// Any names a PDF can hold leave the ticket valid XML that keeps the name.
func TestTicket_holds_any_name(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := example()
		name := someName().Draw(t, "name")
		x.Colours = append(x.Colours, Colour{Name: name, Kind: KindSpot})
		x.Sides[0].Order = append(x.Sides[0].Order, name)
		var b bytes.Buffer
		if err := x.Write(&b); err != nil {
			t.Fatal(err)
		}
		_, faults, err := Check(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		// Only a name drawn twice has two places.
		if slices.IndexFunc(x.Colours, func(c Colour) bool { return c.Name == name }) == len(x.Colours)-1 && len(faults) > 0 {
			t.Fatal(faults)
		}
		if !utf8.Valid(b.Bytes()) {
			t.Fatal("no UTF-8")
		}
	})
}

func TestCxF_tells_the_spectra(t *testing.T) {
	for _, c := range []struct {
		kind  string
		spots int // that ISO 17972-4 speaks of
	}{{KindWhite, 1}, {KindSpot, 1}, {KindMetallic, 0}, {KindFluorescent, 0}} {
		m := &Measured{Name: "Dry White", Kind: c.kind, From: 400, Step: 20, Time: time.Unix(0, 0),
			Spectra: []Spectrum{{"white stock", true, []float64{.61, .64, .66}}, {"black stock", false, []float64{.4, .41, .42}}}}
		var b bytes.Buffer
		if err := m.WriteCxF(&b); err != nil {
			t.Fatal(err)
		}
		root, err := parse(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		ids, refs := map[string]bool{}, []string{}
		var walk func(n *node)
		walk = func(n *node) {
			if n.XMLName.Local == "Object" {
				ids[n.get("Id")] = true
			}
			if r := n.get("ObjectRef"); r != "" {
				refs = append(refs, r)
			}
			for _, k := range n.Kids {
				walk(k)
			}
		}
		walk(root)
		if len(ids) != 2 || len(refs) != c.spots || c.spots == 1 && !ids[refs[0]] {
			t.Errorf("%s: objects %v, measurements of a spot ink %v", c.kind, ids, refs)
		}
		for _, want := range []string{">0.61 0.64 0.66<", `StartWL="400"`, `Increment="20"`, "solid on black stock"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s: no %s in\n%s", c.kind, want, b.String())
			}
		}
	}
}
