package truth

import (
	"bytes"
	"context"
	"slices"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/handover/artwork"
	"laydown/internal/plates/separate"
)

// probePasses are passes the probes are split into: alone, and special toners together with process toners.
var probePasses = [][]string{{"Cyan", "Magenta", "Yellow", "Black"}, {"Frost"}, {"Frost", "Flash"}, {"Cyan", "Magenta", "Yellow", "Black", "Flash"}}

// splitProbes writes the pages of data into passes; pages refused in a pass are told by number.
func splitProbes(t *testing.T, data []byte) (files [][]byte, refused []map[int]string, targets []*separate.Target) {
	t.Helper()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	r := interp.NewReader(doc, finding.Discard)
	var pages []*artwork.Page
	for n := 1; n <= doc.NumPages(); n++ {
		list, err := r.Page(context.Background(), n, interp.Options{Sink: finding.Discard})
		if err != nil {
			t.Fatal(err)
		}
		target := separate.NewTargetFromLists(colour.NewConverter(nil), finding.Discard, list)
		pages, targets = append(pages, &artwork.Page{List: list, Target: target}), append(targets, target)
	}
	read := func(_ context.Context, n int) (*artwork.Page, error) { return pages[n-1], nil }
	split, err := artwork.Split(context.Background(), doc, read, probePasses)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range split {
		var b bytes.Buffer
		if _, err := f.Update.WriteFull(&b); err != nil {
			t.Fatal(err)
		}
		files = append(files, b.Bytes())
		no := map[int]string{}
		for _, x := range f.Refused {
			no[x.Place.Page] = x.What
		}
		refused = append(refused, no)
	}
	return files, refused, targets
}

// inAll reports whether a page paints in All, which stays in every pass.
func inAll(items []displist.Item) bool {
	for i := range items {
		space, _, cell := items[i].Colours()
		if s, ok := space.(*colour.Separation); ok && s.Name == "All" || cell != nil && inAll(cell.Items) {
			return true
		}
	}
	return false
}

// TestTruth_passesOfProbes: every probe is split into passes. Separated by us, each file has on the plates of its pass what the
// whole has, and nothing on others; so it has by both interpreters, as far as they separate the whole as we do.
func TestTruth_passesOfProbes(t *testing.T) {
	if testing.Short() {
		t.Skip("renders every probe five times with two programs")
	}
	oracles(t)
	all := probes()
	whole := probeFile(all)
	files, refused, targets := splitProbes(t, whole)
	gs, mu := interpretersOf(t, whole, len(all))
	compared, left := map[string]int{}, map[string]int{}
	for k, data := range files {
		gsPass, muPass := interpretersOf(t, data, len(all))
		for n := range all {
			p := &all[n]
			if why, no := refused[k][n+1]; no {
				t.Errorf("%s, pass %v: refused: %s", p.name, probePasses[k], why)
				continue
			}
			was := paintProbe(t, whole, n+1, targets[n])
			is := paintProbe(t, data, n+1, targets[n])
			sound := map[string]bool{"us": true, "Ghostscript": true, "mutool": true}
			for _, r := range judgeProbe(p, n+1, was, gs[n], mu[n]) {
				sound["Ghostscript"] = sound["Ghostscript"] && r.OursGS.OK
				sound["mutool"] = sound["mutool"] && r.OursMu.OK
			}
			for by, pair := range map[string][2]*Plates{"us": {platesOf(was), platesOf(is)}, "Ghostscript": {gs[n], gsPass[n]}, "mutool": {mu[n], muPass[n]}} {
				if !sound[by] || passFault[by+": "+p.name] {
					left[by]++
					continue
				}
				if by == "mutool" && !slices.ContainsFunc(probePasses[k], func(n string) bool { return n == "Frost" || n == "Flash" }) {
					left[by]++ // it does not keep plates apart on pages without special colourants
					continue
				}
				for _, c := range targets[n].Set.All() {
					in := slices.Contains(probePasses[k], c.Name)
					if !in && inAll(was.List.Items) {
						continue
					}
					compared[by]++
					if out := off(pair, c.Name, in, by); out > 0 {
						t.Errorf("%s, pass %v, plate %s by %s: %d pixels differ from the whole", p.name, probePasses[k], c.Name, by, out)
					}
				}
			}
		}
	}
	t.Logf("plates compared: %v; files not judged by: %v", compared, left)
}

// off counts the pixels of a plate that differ between whole and pass; one outside the pass has to be empty. Our plates may be off by
// one step of 255, where an image was converted. Edges may move in the interpreters' plates, by limitProbe.
func off(pair [2]*Plates, name string, in bool, by string) int {
	was, is := pair[0].Plane[name], pair[1].Plane[name]
	if !in {
		was = nil
	}
	most, free := 1, 0
	if by != "us" {
		most, free = flatTolerance, int(limitProbe.Out*probeSide*probeSide)
	}
	out := 0
	for k := range max(len(was), len(is)) {
		if d := int(at(was, k)) - int(at(is, k)); d > most || -d > most {
			out++
		}
	}
	if out <= free {
		return 0
	}
	return out
}

func paintProbe(t *testing.T, data []byte, page int, target *separate.Target) *painted {
	t.Helper()
	p, err := paintPage(context.Background(), data, page, DPI, interp.Options{}, target)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func platesOf(p *painted) *Plates {
	out := &Plates{Plane: map[string][]byte{}}
	for i, c := range p.Stack.Set.All() {
		out.Plane[c.Name] = p.Stack.Plane(i)
	}
	return out
}

// passFault names what an interpreter separates otherwise when a page has other colourants, where clauses ask for the same.
var passFault = map[string]bool{}
