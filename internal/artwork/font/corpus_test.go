package font

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// corpusFiles lists the public test files beside the module, skipping the test when they are not there.
func corpusFiles(t testing.TB) []string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for range 6 {
		dir = filepath.Dir(dir)
		if files, _ := filepath.Glob(filepath.Join(dir, "shared", "corpus", "files", "*.pdf")); len(files) > 0 {
			return files
		}
	}
	t.Skip("no public test files beside the module")
	return nil
}

// fontsOf collects every font resource of a document: pages, forms, patterns, Type 3 fonts.
func fontsOf(d *pdf.Document) map[pdf.Object]string {
	fonts := map[pdf.Object]string{}
	seen := map[pdf.Ref]bool{}
	var resources func(o pdf.Object, depth int)
	resources = func(o pdf.Object, depth int) {
		res, _ := d.Dict(o)
		if depth > 6 {
			return
		}
		fd, _ := d.Dict(res["Font"])
		for _, f := range fd {
			ref, isRef := f.(pdf.Ref)
			if !isRef || fonts[ref] != "" {
				continue
			}
			fonts[ref] = "font"
			if dict, ok := d.Dict(f); ok {
				if sub, _ := d.Name(dict["Subtype"]); sub == "Type3" {
					resources(dict["Resources"], depth+1)
				}
			}
		}
		for _, kind := range []pdf.Name{"XObject", "Pattern"} {
			xs, _ := d.Dict(res[kind])
			for _, x := range xs {
				if ref, ok := x.(pdf.Ref); ok {
					if seen[ref] {
						continue
					}
					seen[ref] = true
				}
				if s, ok := d.Stream(x); ok {
					resources(s.Dict["Resources"], depth+1)
				}
			}
		}
	}
	for n := 1; n <= d.NumPages() && n <= 20; n++ {
		if p, err := d.Page(n); err == nil {
			resources(p.Resources, 0)
		}
	}
	return fonts
}

func openFile(t testing.TB, path string) *pdf.Document {
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	d, err := pdf.Open(bytes.NewReader(b), int64(len(b)), pdf.Options{})
	if err != nil {
		return nil
	}
	return d
}

// Every embedded font of sound files reads without damage, and its glyphs stay within a few ems.
func TestCorpusFontsReadWithoutDamage(t *testing.T) {
	fonts := 0
	for _, path := range corpusFiles(t) {
		name := filepath.Base(path)
		if name == "pdf__crash-121-4.pdf" { // its font data is broken on purpose
			continue
		}
		d := openFile(t, path)
		if d == nil {
			continue
		}
		for o := range fontsOf(d) {
			var c finding.Collector
			f := NewReader(d, &c).Font(o, finding.Place{Page: 1})
			marks := 0
			for g := 0; f.Embedded && f.prog != nil && g < f.prog.numGlyphs(); g++ {
				p := f.Outline(g)
				if p.Empty() {
					continue
				}
				marks++
				if b := p.Bounds(); b.X0 < -10 || b.Y0 < -10 || b.X1 > 10 || b.Y1 > 10 {
					t.Errorf("%s: glyph %d of %s spans %v", name, g, f.Name, b)
				}
			}
			for _, x := range c.Sorted() {
				if x.ID != "font-not-embedded" {
					t.Errorf("%s: %s: %s", name, x.ID, x.What)
				}
			}
			if f.Embedded && f.prog != nil {
				fonts++
				if marks == 0 {
					t.Errorf("%s: no glyph of %s has marks", name, f.Name)
				}
			}
		}
	}
	if fonts < 50 {
		t.Errorf("only %d embedded fonts were read", fonts)
	}
}
