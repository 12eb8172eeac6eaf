package press

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	gen "github.com/invopop/jsonschema"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"laydown/internal/colourant"
)

var kinds = map[string]any{KindPress: Press{}, KindStock: Stock{}, KindJob: Job{}}

// unitPattern matches a number with one of the units, as parseUnit reads it.
func unitPattern(units []unit) string {
	var names []string
	for _, u := range units {
		names = append(names, u.suffix)
	}
	return `^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*(` + strings.Join(names, "|") + `)\s*$`
}

func stringSchema(description, pattern string, examples ...any) *gen.Schema {
	return &gen.Schema{Type: "string", Description: description, Pattern: pattern, Examples: examples}
}

// mapped gives the schema of types that are no plain struct.
func mapped(t reflect.Type) *gen.Schema {
	switch t {
	case reflect.TypeFor[Length]():
		return stringSchema("A length with its unit.", unitPattern(lengthUnits), "3mm", "0.25pt")
	case reflect.TypeFor[Area]():
		return stringSchema("An area with its unit.", unitPattern(areaUnits), "1mm2")
	case reflect.TypeFor[GSM]():
		return stringSchema("A mass per area with its unit.", unitPattern(gsmUnits), "300gsm")
	case reflect.TypeFor[Percent]():
		return stringSchema("A percentage with its sign.", unitPattern(percentUnits), "70%")
	case reflect.TypeFor[DPI]():
		return stringSchema("A resolution with its unit.", unitPattern(dpiUnits), "600dpi")
	case reflect.TypeFor[Wavelength]():
		return stringSchema("A wavelength with its unit.", unitPattern(wavelengthUnits), "380nm")
	case reflect.TypeFor[colourant.Kind]():
		s := stringSchema("The kind of toner.", "")
		for _, w := range kindWords() {
			s.Enum = append(s.Enum, w)
		}
		return s
	case reflect.TypeFor[Checks]():
		severity := stringSchema("How much the rule's findings matter; off keeps it from speaking.", "")
		for _, w := range severityWords {
			severity.Enum = append(severity.Enum, w)
		}
		rule := &gen.Schema{Type: "object", Properties: gen.NewProperties(),
			AdditionalProperties: &gen.Schema{OneOf: []*gen.Schema{{Type: "string"}, {Type: "number"}}, Description: "A figure of the rule, with its unit."}}
		rule.Properties.Set(keySeverity, severity)
		return &gen.Schema{Type: "object", Description: "Severities and figures of rules, by the rule's name.", AdditionalProperties: rule}
	case reflect.TypeFor[Lab]():
		three := uint64(3)
		return &gen.Schema{Type: "array", Description: "CIE L*a*b*, D50, 2 degrees.", Items: &gen.Schema{Type: "number"}, MinItems: &three, MaxItems: &three}
	}
	return nil
}

// words lists what strings of a closed vocabulary may say, by type and key.
var words = map[string][]any{
	"Appearance.Gloss":  {GlossMatte, GlossSatin, GlossHigh},
	"Press.black_point": {BlackCompensate, BlackKeep},
	"Zone.Kind":         {ZoneFold, ZoneGlue, ZoneWriteOn, ZonePerforation},
	"StockSheet.Grain":  {AlongWidth, AlongHeight},
	"SheetWish.Scheme":  {SchemeOneSided, SchemeSheetWise, SchemeWorkAndTurn, SchemeWorkAndTumble},
	"SheetWish.Rotate":  {RotateBest, RotateSame, RotateNone, RotateQuarter},
	"SheetWish.Grain":   {AlongWidth, AlongHeight},
	"SheetWish.Backs":   {BacksHead, BacksFoot},
	"RecordWish.Order":  {OrderSheet, OrderStack},
	"FoldWish.Kind":     {FoldSingle, FoldParallel, FoldLetter, FoldZigzag},
	"FoldWish.Along":    {AlongWidth, AlongHeight},
	"Job.Lead":          {EdgeLeft, EdgeRight, EdgeTop, EdgeBottom},
	"Job.Seen":          {SeenFace, SeenThrough},
	"Job.Use":           {UseFood, UseToy, UseWindow, UseGummed},
	"Stock.Gloss":       {GlossMatte, GlossSatin, GlossHigh},
	"Stock.Surface":     {SurfaceCoated, SurfaceUncoated, SurfaceFilm, SurfaceMetallised},
}

func generate(t *testing.T, kind string) []byte {
	t.Helper()
	r := &gen.Reflector{FieldNameTag: "yaml", Mapper: mapped, ExpandedStruct: true, Anonymous: true}
	if err := r.AddGoComments("laydown/internal/press", "."); err != nil {
		t.Fatal(err)
	}
	// Types are in one folder here, so the generator's paths all start with the package.
	s := r.Reflect(kinds[kind])
	s.Title = "laydown " + kind
	for field, list := range words {
		typ, name, _ := strings.Cut(field, ".")
		def := s.Definitions[typ]
		if typ == reflect.TypeOf(kinds[kind]).Name() {
			def = s
		}
		if def == nil {
			continue
		}
		p, ok := def.Properties.Get(strings.ToLower(name))
		if !ok {
			t.Fatalf("%s has no key for %s", typ, name)
		}
		if p.Items != nil {
			p = p.Items
		}
		p.Enum = list
	}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return append(text, '\n')
}

func TestSchemasAreCurrent(t *testing.T) {
	update := flag.Lookup("update").Value.String() == "true"
	for kind := range kinds {
		got := generate(t, kind)
		if update {
			if err := os.WriteFile(filepath.Join("schema", kind+".json"), got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if want, err := Schema(kind); err != nil || !bytes.Equal(got, want) {
			t.Errorf("schema of %s is not current; run go generate ./internal/press (%v)", kind, err)
		}
	}
	if _, err := Schema("pres"); err == nil || !strings.Contains(err.Error(), `did you mean "press"`) {
		t.Errorf("%v", err)
	}
}

func compile(t *testing.T, kind string) *jsonschema.Schema {
	t.Helper()
	text, err := Schema(kind)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(kind, doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(kind)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validate(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	asJSON, err := yaml.YAMLToJSON(text)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(asJSON))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(doc)
}

func TestShippedDefinitionsFitTheSchema(t *testing.T) {
	ps, ss := compile(t, KindPress), compile(t, KindStock)
	for _, n := range PressNames() {
		text, _ := ShippedPress(n)
		if err := validate(t, ps, text); err != nil {
			t.Errorf("%s: %v", n, err)
		}
	}
	for _, n := range StockNames() {
		text, _ := ShippedStock(n)
		if err := validate(t, ss, text); err != nil {
			t.Errorf("%s: %v", n, err)
		}
	}
	more := "checks: {bleed-missing: {severity: off, bleed: 2mm}, passes-needed: {passes: 3}}\nzones: [{kind: fold, left: 1mm, top: 0mm, height: 9mm}]\nlead: top\n" +
		"sheets: {scheme: work-and-turn, gutter: 6mm, rotate: same, grain: height, marks: [crop, bar], fold: {kind: letter, tuck: 1mm}, versions: [{name: a, pages: [1, 2], quantity: 9}]}\n"
	for _, text := range []string{planetarium, planetarium + more} {
		if err := validate(t, compile(t, KindJob), []byte(text)); err != nil {
			t.Error(err)
		}
	}
}

func TestSchemaRefusesWhatTheReaderRefuses(t *testing.T) {
	stock, _ := ShippedStock("kraft")
	two, _ := ShippedPress("two-set")
	for _, c := range []struct {
		kind, text, old, new string
	}{
		{KindStock, string(stock), "250gsm", "250"},
		{KindStock, string(stock), "250gsm", "250mm"},
		{KindStock, string(stock), "weight:", "wieght:"},
		{KindStock, string(stock), "uncoated", "rough"},
		{KindStock, string(stock), "[62, 8, 24]", "[62, 8]"},
		{KindPress, string(two), "kind: metallic", "kind: metal"},
		{KindPress, string(two), "600dpi", "600"},
		{KindPress, string(two), "gloss: gloss", "gloss: glossy"},
		{KindPress, string(two), "    mass: 10gsm\n", ""},
		{KindPress, string(two), "may_tint: false", "may_tint: no thanks"},
		{KindJob, planetarium + "checks: {bleed-missing: {severity: off}}\n", "severity: off", "severity: loud"},
		{KindJob, planetarium + "checks: {bleed-missing: {bleed: 2mm}}\n", "{bleed: 2mm}", "[2mm]"},
		{KindJob, planetarium + "zones: [{kind: fold, left: 1mm, top: 0mm, height: 9mm}]\n", "kind: fold", "kind: bend"},
		{KindJob, planetarium, "quantity: 250", "quantity: many"},
		{KindJob, planetarium, "price_breaks: [250, 500, 1000]", "price_breaks: 250"},
		{KindPress, string(two), "share: 3%", "share: 3"},
		{KindJob, planetarium, "use: [food]", "use: [foods]"},
		{KindPress, string(two), "sheets_per_hour: 1600", "sheets_per_hour: fast"},
		{KindStock, string(stock), "currency: EUR, ", ""},
		{KindJob, planetarium, "Spot Gold: Gold", "Spot Gold: [Gold]"},
	} {
		if !strings.Contains(c.text, c.old) {
			t.Fatalf("%q is not there", c.old)
		}
		if err := validate(t, compile(t, c.kind), []byte(strings.Replace(c.text, c.old, c.new, 1))); err == nil {
			t.Errorf("%s with %q fits the schema", c.kind, c.new)
		}
	}
}
