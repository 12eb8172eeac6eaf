package press

import (
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

const onSheets = planetarium + `sheets:
  scheme: sheet-wise
  sheet: {width: 320mm, height: 450mm, grain: height}
  gutter: 0mm
  rotate: same
  grain: width
  repeat: 4
  marks: [crop, register, bar]
  backs: foot
  versions:
    - {name: stalls, pages: [1, 2], quantity: 300}
    - {name: circle, pages: [3, 4], quantity: 200}
  fold: {kind: letter, along: height, tuck: 1mm}
`

func TestSheetsComeBackEqual(t *testing.T) {
	for _, more := range []string{"", "  envelope: {width: 220mm, height: 110mm, flap: 40mm, back: 100mm, seam: 15mm, gum: 12mm}\n"} {
		j, err := ReadJob("job.yaml", []byte(onSheets+more))
		if err != nil {
			t.Fatal(err)
		}
		if j.Sheets.Gutter == nil || *j.Sheets.Gutter != 0 || j.Sheets.Versions[1].Pages[1] != 4 {
			t.Errorf("read %+v", j.Sheets)
		}
		text, err := Marshal(j)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadJob("again", text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if d := cmp.Diff(j, back, cmpopts.IgnoreUnexported(Job{})); d != "" {
			t.Errorf("%s\n%s", d, text)
		}
	}
}

// Every fault is told with its line and what to write instead.
func TestFaultySheetsAreRefused(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"sheet-wise", "sheetwise", `did you mean "sheet-wise"`},
		{"gutter:", "guter:", `"gutter"`},
		{"rotate: same", "rotate: sam", `did you mean "same"`},
		{"register, bar", "register, bra", `did you mean "bar"`},
		{"register, bar", "register, none", "none stands beside other marks"},
		{"gutter: 0mm", "gutter: -1mm", "a gutter of -1mm"},
		{"[3, 4]", "[3, 4, 5]", "front and back"},
		{"quantity: 200}", "quantity: 0}", "quantity of 0"},
		{"quantity: 200}", "quantity: 900000000}", "a quantity of 900000000"},
		{"  fold: {kind: letter", "  records: {pages: 2}\n  fold: {kind: letter", "exclude each other"},
		{"kind: letter", "kind: leter", `did you mean "letter"`},
		{"grain: height}", "grain: heigth}", `did you mean "height"`},
	} {
		text := strings.Replace(onSheets, c.old, c.new, 1)
		if text == onSheets {
			t.Fatalf("%q is not there", c.old)
		}
		_, err := ReadJob("job.yaml", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "job.yaml:") {
			t.Errorf("%q: %v", c.new, err)
		}
	}
	turned := planetarium + "sheets: {scheme: work-and-turn, records: {pages: 2}}\n"
	if _, err := ReadJob("job.yaml", []byte(turned)); err == nil || !strings.Contains(err.Error(), "prints every piece twice") {
		t.Errorf("%v", err)
	}
	booklet := planetarium + "sheets: {booklet: {signature: 10}}\n"
	if _, err := ReadJob("job.yaml", []byte(booklet)); err == nil || !strings.Contains(err.Error(), "multiple of 4") {
		t.Errorf("%v", err)
	}
	foot := planetarium + "sheets: {backs: foot, booklet: {signature: 8}}\n"
	if _, err := ReadJob("job.yaml", []byte(foot)); err == nil || !strings.Contains(err.Error(), "heads up") {
		t.Errorf("%v", err)
	}
}

// The keys of docs/sheets.md are read as they stand there.
func TestDocumentedSheetsAreRead(t *testing.T) {
	text, err := os.ReadFile("../../docs/sheets.md")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindSubmatch(text)
	if block == nil {
		t.Fatal("no keys in the page")
	}
	j, err := ReadJob("documented.yaml", append([]byte(planetarium), block[1]...))
	if err != nil || j.Sheets == nil || len(j.Sheets.Versions) != 2 {
		t.Fatalf("%v %v", j, err)
	}
	_, names := fieldsOf(reflect.TypeFor[SheetWish]())
	for _, name := range names {
		if !strings.Contains(string(text), "| `"+name+"` |") {
			t.Errorf("the page does not tell of the key %q", name)
		}
	}
}
