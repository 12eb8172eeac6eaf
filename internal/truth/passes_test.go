package truth

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/demo"
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
	// The whole is painted and judged once for all passes.
	were, sounds := make([]*painted, len(all)), make([]map[string]bool, len(all))
	for n := range all {
		were[n] = paintProbe(t, whole, n+1, targets[n])
		sounds[n] = map[string]bool{"us": true, "Ghostscript": true, "mutool": true}
		for _, r := range judgeProbe(&all[n], n+1, were[n], gs[n], mu[n]) {
			sounds[n]["Ghostscript"] = sounds[n]["Ghostscript"] && r.OursGS.OK
			sounds[n]["mutool"] = sounds[n]["mutool"] && r.OursMu.OK
		}
	}
	for k, data := range files {
		// It does not keep plates apart on pages without special colourants.
		byMutool := slices.ContainsFunc(probePasses[k], func(n string) bool { return n == "Frost" || n == "Flash" })
		gsPass, muPass := renderProbes(t, data, len(all), byMutool)
		for n := range all {
			p := &all[n]
			if why, no := refused[k][n+1]; no {
				t.Errorf("%s, pass %v: refused: %s", p.name, probePasses[k], why)
				continue
			}
			was, is := were[n], paintProbe(t, data, n+1, targets[n])
			for by, pair := range map[string][2]*Plates{"us": {platesOf(was), platesOf(is)}, "Ghostscript": {gs[n], gsPass[n]}, "mutool": {mu[n], muPass[n]}} {
				if !sounds[n][by] || by == "mutool" && !byMutool {
					left[by]++
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
// one step of 255, where an image was converted. In the interpreters' plates an edge as long as the probe may move by a pixel.
func off(pair [2]*Plates, name string, in bool, by string) int {
	was, is := pair[0].Plane[name], pair[1].Plane[name]
	if !in {
		was = nil
	}
	most, free := 1, 0
	if by != "us" {
		most, free = flatTolerance, probeSide
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

// passPages is how many pages a public file may have to be split; it is painted at passDPI.
const (
	passPages = 4
	passDPI   = 36
)

// TestTruth_passesOfTheCorpus splits the public files that name special colourants into a pass of the process toners and one of the
// special ones. Each file is well made, and has on the plates of its pass what the whole has.
func TestTruth_passesOfTheCorpus(t *testing.T) {
	if testing.Short() {
		t.Skip("splits dozens of files")
	}
	program(t, "qpdf")
	split, plates, rounded, refused := 0, 0, 0, map[string]int{}
	for _, file := range corpus(t) {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
		if err != nil || doc.NumPages() > passPages {
			continue
		}
		_, specials := specialsOf(data)
		if len(specials) == 0 {
			continue
		}
		t.Run(idOf(t, file), func(t *testing.T) {
			r := interp.NewReader(doc, finding.Discard)
			var pages []*artwork.Page
			for n := 1; n <= doc.NumPages(); n++ {
				list, err := r.Page(context.Background(), n, interp.Options{Sink: finding.Discard})
				if err != nil {
					t.Skip(err)
				}
				pages = append(pages, &artwork.Page{List: list, Target: separate.NewTargetFromLists(colour.NewConverter(nil), finding.Discard, list)})
			}
			for _, p := range pages {
				for _, c := range p.Target.Set.All()[len(colourant.ProcessNames):] {
					if !slices.Contains(specials, c.Name) {
						specials = append(specials, c.Name)
					}
				}
			}
			passes := [][]string{colourant.ProcessNames[:], specials}
			files, err := artwork.Split(context.Background(), doc, func(_ context.Context, n int) (*artwork.Page, error) { return pages[n-1], nil }, passes)
			if err != nil {
				t.Fatal(err)
			}
			split++
			for k, f := range files {
				var b bytes.Buffer
				if _, err := f.Update.WriteFull(&b); err != nil {
					t.Fatal(err)
				}
				out := filepath.Join(t.TempDir(), "pass.pdf")
				if err := os.WriteFile(out, b.Bytes(), 0o600); err != nil {
					t.Fatal(err)
				}
				if !doc.Repaired() {
					wellMade(t, out)
				}
				no := map[int]bool{}
				for _, x := range f.Refused {
					no[x.Place.Page] = true
					_, why, _ := strings.Cut(x.What, "cannot be written: ")
					refused[why]++
				}
				for n, p := range pages {
					if no[n+1] {
						continue
					}
					was, err := paintPage(context.Background(), data, n+1, passDPI, interp.Options{}, p.Target)
					if err != nil {
						t.Skip(err)
					}
					is, err := paintPage(context.Background(), b.Bytes(), n+1, passDPI, interp.Options{}, p.Target)
					if err != nil {
						t.Fatal(err)
					}
					for i, c := range p.Target.Set.All() {
						in := slices.Contains(passes[k], c.Name)
						if !in && inAll(p.List.Items) {
							continue
						}
						plates++
						pair := [2]*Plates{platesOf(was), platesOf(is)}
						if differing(pair[0].Plane[c.Name], pair[1].Plane[c.Name]) > 0 && in {
							rounded++
						}
						if out := off(pair, c.Name, in, "us"); out > 0 {
							t.Errorf("page %d, pass %d, plate %d: %d pixels differ from the whole", n+1, k+1, i, out)
						}
					}
				}
			}
		})
	}
	t.Logf("%d files split, %d plates compared, %d of them off by a step somewhere; refused: %v", split, plates, rounded, refused)
	if split == 0 {
		t.Error("no file was split")
	}
}

// ticketDPI is the resolution the ticket's passes are compared in, and ticketOff the share of a plate's pixels that may differ by
// more than flatTolerance: edges of shapes that a pass draws in another order of groups move by a pixel of the interpreter's own.
const (
	ticketDPI = 50
	ticketOff = .001
)

// TestTruth_passesOfTheTicket: the passes of the demo ticket on two presses, separated by both interpreters beside the whole.
func TestTruth_passesOfTheTicket(t *testing.T) {
	if testing.Short() {
		t.Skip("separates the ticket seven times with two programs")
	}
	oracles(t)
	program(t, "qpdf")
	ctx := context.Background()
	for _, press := range []string{"two-set", "five-station"} {
		dir := t.TempDir()
		in := filepath.Join(dir, "ticket.pdf")
		var b bytes.Buffer
		if err := demo.WriteTicket(&b, false); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(in, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := app.NewSetup(app.SetupOptions{Press: press})
		if err != nil {
			t.Fatal(err)
		}
		o, err := app.WritePasses(ctx, app.PassesRequest{File: in, Setup: s, Out: dir, DPI: 72})
		if err != nil {
			t.Fatal(err)
		}
		render := map[string]func(string) []*Plates{
			"Ghostscript": func(file string) []*Plates {
				p, err := GhostscriptAll(ctx, file, ticketDPI)
				if err != nil {
					t.Fatal(err)
				}
				return p
			},
			"mutool": func(file string) (out []*Plates) {
				for n := 1; n <= o.Pages; n++ {
					p, err := MuPDF(ctx, file, n, ticketDPI)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, p)
				}
				return out
			},
		}
		for by, plates := range render {
			whole := plates(in)
			for _, p := range o.Passes {
				if p.File == "" {
					t.Fatalf("%s: %v has no file", press, p.Toners)
				}
				file := filepath.Join(dir, p.File)
				wellMade(t, file)
				for n, is := range plates(file) {
					for name := range whole[n].Plane {
						var was []byte
						if slices.Contains(p.Toners, name) {
							was = whole[n].Plane[name]
						}
						out := 0
						for k := range max(len(was), len(is.Plane[name])) {
							if at(whole[n].Plane["Pale Gold"], k) > 0 {
								continue // the press mixes it of others, which the file of the pass says and the whole does not
							}
							if d := int(at(was, k)) - int(at(is.Plane[name], k)); d > flatTolerance || -d > flatTolerance {
								out++
							}
						}
						if float64(out) > ticketOff*float64(is.W*is.H) {
							t.Errorf("%s, page %d, pass %v, plate %s by %s: %d of %d pixels differ", press, n+1, p.Toners, name, by, out, is.W*is.H)
						}
					}
				}
			}
		}
	}
}
