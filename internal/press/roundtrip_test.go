package press

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

func TestShippedDefinitionsComeBackEqual(t *testing.T) {
	for _, name := range PressNames() {
		p, err := FindPress(name)
		if err != nil {
			t.Fatal(err)
		}
		checkPressComesBack(t, p)
	}
	for _, name := range StockNames() {
		s, err := FindStock(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadStock(name, text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if d := cmp.Diff(s, back, cmpopts.IgnoreUnexported(Stock{})); d != "" {
			t.Error(d)
		}
	}
}

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

func checkPressComesBack(t fataler, p *Press) {
	t.Helper()
	text, err := Marshal(p)
	if err != nil {
		t.Fatalf("%v", err)
	}
	back, err := ReadPress("again", text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if d := cmp.Diff(p, back, cmpopts.EquateEmpty(), cmpopts.IgnoreUnexported(Press{})); d != "" {
		t.Fatalf("%s\n%s", d, text)
	}
}

// name draws text that is awkward in YAML: quotes, colons, things that look like numbers.
func name(t *rapid.T, label string) string {
	return rapid.OneOf(
		rapid.StringMatching(`[ -~]{1,20}`),
		rapid.StringMatching(`[\pL ]{1,12}`),
		rapid.SampledFrom([]string{"true", "null", "0.5", "12", "~", "- x", "a: b", "#x", "it's", `"q"`, " lead", "trail ", "3mm", "0x10", "1e5", "=", "<<", "*a", "&a", "!t", "a #b", "yes", "Weiß", "銀"}),
	).Filter(func(s string) bool {
		return s != "All" && s != "None" && strings.TrimSpace(s) != "" && utf8.ValidString(s) && len(s) <= maxNameBytes
	}).Draw(t, label)
}

func TestAnyPressComesBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		percent := func(label string, lo, hi float64) Percent {
			return Percent(rapid.Float64Range(lo, hi).Draw(t, label))
		}
		length := func(label string, lo, hi float64) Length {
			if rapid.Bool().Draw(t, label+" in points") {
				return LengthFromPoints(float64(rapid.IntRange(int(lo*20), int(hi*20)).Draw(t, label)) / 20)
			}
			return Length(rapid.Float64Range(lo, hi).Draw(t, label))
		}
		lab := func(label string) *Lab {
			return &Lab{rapid.Float64Range(0, 100).Draw(t, label), rapid.Float64Range(-128, 128).Draw(t, label), rapid.Float64Range(-128, 128).Draw(t, label)}
		}
		p := &Press{Name: "x", Title: name(t, "title"), Notes: name(t, "notes"),
			Sheet:      Sheet{Width: length("width", 100, 900), Height: length("height", 100, 900), Margins: Margins{Lead: length("lead", 0, 9)}},
			Resolution: DPI(rapid.Float64Range(72, 9600).Draw(t, "resolution")),
			Register:   Register{Within: .1, Between: .5}, Pile: Pile{PerPass: 200, Sum: 300, Area: 1}, Price: Price{Currency: "EUR", Click: 0.25}}
		if rapid.Bool().Draw(t, "figures") {
			number := func(label string, lo, hi float64) *float64 {
				if rapid.Bool().Draw(t, label+" left out") {
					return nil
				}
				v := rapid.Float64Range(lo, hi).Draw(t, label)
				return &v
			}
			p.Price.Hour = number("hour", 0, 900)
			p.Speed = Speed{SheetsPerHour: number("speed", 1, 9000), SetUpMinutes: number("set-up", 0, 90), SetChangeMinutes: number("change", 0, 90)}
			sheets, share := rapid.IntRange(0, 90).Draw(t, "waste"), percent("share", 0, 90)
			p.Waste = Waste{Sheets: &sheets, Share: &share}
		}
		taken := map[string]bool{}
		fresh := func(label string) string {
			s := rapid.Custom(func(t *rapid.T) string { return name(t, label) }).Filter(func(s string) bool { return !taken[s] }).Draw(t, label)
			taken[s] = true
			return s
		}
		var stations []string
		for range rapid.IntRange(1, 4).Draw(t, "toners") {
			toner := Toner{Name: fresh("toner"), Kind: rapid.SampledFrom([]colourant.Kind{colourant.Spot, colourant.Clear, colourant.Metallic}).Draw(t, "kind"),
				StandIn: [4]Percent{percent("c", 1, 100), percent("m", 0, 100)}, Mass: GSM(rapid.Float64Range(.1, 90).Draw(t, "mass")),
				MustOverprint: rapid.Bool().Draw(t, "overprint"), Finest: Finest{Line: length("line", 0, 2)}}
			if rapid.Bool().Draw(t, "alias") {
				toner.Aliases = []string{fresh("alias")}
			}
			if rapid.Bool().Draw(t, "look") {
				toner.Appearance = Appearance{OnWhite: lab("on white"), Gloss: GlossSatin}
			} else if rapid.Bool().Draw(t, "spectra") {
				list := rapid.SliceOfN(rapid.Float64Range(0, 1), 36, 36)
				toner.Appearance.Spectra = &TonerSpectra{From: 380, Step: 10, OnWhite: list.Draw(t, "spectrum"), OnBlack: list.Draw(t, "spectrum")}
			}
			if toner.Kind == colourant.Metallic && rapid.Bool().Draw(t, "shines") {
				toner.Appearance.Metal = &MetalLook{Flop: rapid.Float64Range(1, 20).Draw(t, "flop")}
			}
			if rapid.Bool().Draw(t, "solids only") {
				no := false
				toner.Tint.MayTint = &no
			} else {
				toner.Tint.Least = percent("least", 0, 50)
			}
			p.Toners = append(p.Toners, toner)
			stations = append(stations, toner.Name)
		}
		p.Sets = []Set{{Name: fresh("set"), Stations: stations}}
		checkPressComesBack(t, p)
	})
}

// Whatever is read without an error can be written and is read again as the same.
func FuzzReadPress(f *testing.F) {
	for _, n := range PressNames() {
		text, _ := ShippedPress(n)
		f.Add(text)
	}
	for _, s := range hostile(256) {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPress("fuzz", data)
		if err == nil {
			checkPressComesBack(t, p)
		}
	})
}

// hostile lists texts of up to n bytes made to hang or exhaust a reader.
func hostile(n int) []string {
	laughs := "a0: &a0 [x, x]\n"
	for i := range 40 {
		laughs += fmt.Sprintf("a%d: &a%d [*a%d, *a%d]\n", i+1, i+1, i, i)
	}
	laughs += "cautions: *a40\n"
	return []string{
		"", "\x00", "\xff\xfe", "---", "...", "- - - -", "? ? ?", "a: &a *a", "name: &a [*a, *a]\n", laughs,
		strings.Repeat("[", n), strings.Repeat("{a: ", n/4), strings.Repeat("- ", n/2), strings.Repeat("? ", n/2), strings.Repeat("!t ", n/4), strings.Repeat("a: ", n/4),
		strings.Repeat("&a ", n/4), "name: " + strings.Repeat("x", n), "name: |\n" + strings.Repeat("  x\n", n/4), strings.Repeat("- [\n", n/8), strings.Repeat("'", n), "name: \"\\",
	}
}

func TestHostileDefinitionsAreRefusedSoon(t *testing.T) {
	for _, s := range hostile(limits.MaxDefinitionBytes / 2) {
		if _, err := ReadPress("hostile", []byte(s)); err == nil {
			t.Errorf("accepted %.40q", s)
		} else if len(err.Error()) > 20_000 {
			t.Errorf("%.40q is refused with %d bytes of words", s, len(err.Error()))
		}
	}
	many := "name: x\ncautions:\n" + strings.Repeat("- a\n", limits.MaxDefinitionNodes)
	if _, err := ReadPress("many", []byte(many)); err == nil || !strings.Contains(err.Error(), "too large") {
		t.Errorf("too many values: %.200v", err)
	}
	var deep strings.Builder
	for i := range 700 {
		deep.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	if _, err := ReadPress("deep", []byte(deep.String())); err == nil {
		t.Error("accepted indents of 700 levels")
	}
	if _, err := ReadPress("long", make([]byte, limits.MaxDefinitionBytes+1)); err == nil || !strings.Contains(err.Error(), "bytes") {
		t.Errorf("a file too long: %v", err)
	}
}
