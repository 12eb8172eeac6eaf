package app

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// handedOver packs a page with a press, a stock and a job of its own, and returns the files of the archive.
func handedOver(t *testing.T, page func(*pdfbuild.File), change func(*press.Press, *press.Stock, *press.Job)) (*HandoverOutcome, map[string]string) {
	t.Helper()
	dir := t.TempDir()
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	k, err := press.FindStock("white-uncoated")
	if err != nil {
		t.Fatal(err)
	}
	job := &press.Job{Artwork: "art.pdf", Press: "./press.yaml", Stock: "./stock.yaml", Quantity: 100, Sides: 1}
	change(p, k, job)
	for name, v := range map[string]any{"press.yaml": p, "stock.yaml": k, "job.yaml": job} {
		b, err := press.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f := pdfbuild.New()
	page(f)
	if err := os.WriteFile(filepath.Join(dir, "art.pdf"), f.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Job: filepath.Join(dir, "job.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "job.zip")
	o, err := Handover(context.Background(), HandoverRequest{File: s.Job.Artwork, Setup: s, Out: out, DPI: 72, FailOn: finding.Warning, WithFindings: true})
	if err != nil {
		t.Fatal(err)
	}
	c, err := CheckHandover(out)
	if err != nil || !c.OK {
		t.Fatalf("%v %+v", err, c)
	}
	z, err := zip.OpenReader(out)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	files := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = string(b)
	}
	if left, err := filepath.Glob(filepath.Join(dir, ".handover-*")); err != nil || len(left) > 0 {
		t.Errorf("%v is left behind", left)
	}
	return o, files
}

// spot paints a square in a colourant.
func spot(name string) func(*pdfbuild.File) {
	return func(f *pdfbuild.File) {
		f.Page(200, 200, "/ColorSpace << /S "+pdfbuild.Spot(name, 0, 0, 0, .4)+" >>", "/S cs 1 scn 20 20 60 60 re f")
	}
}

func words(s string) string { return strings.Join(strings.Fields(s), " ") }

func TestHandover_keeps_names_that_no_ticket_can_hold(t *testing.T) {
	const name = "Weiß/Silber (1)"
	o, files := handedOver(t, spot("Wei#C3#9F#2FSilber#20#281#29"), func(p *press.Press, k *press.Stock, j *press.Job) {
		i := slices.IndexFunc(p.Toners, func(t press.Toner) bool { return t.Name == "White" })
		p.Toners[i].Name = name
		p.Toners[i].Appearance.OnWhite, p.Toners[i].Appearance.Opacity = nil, 0
		p.Toners[i].Appearance.Spectra = &press.TonerSpectra{From: 400, Step: 20, OnWhite: slices.Repeat([]float64{.7, .8}, 8), OnBlack: slices.Repeat([]float64{.5, .6}, 8)}
		for _, s := range p.Sets {
			if n := slices.Index(s.Stations, "White"); n >= 0 {
				s.Stations[n] = name
			}
		}
	})
	if len(o.Passes) != 1 || len(o.Passes[0].Sides) != 1 || !slices.Equal(o.Passes[0].Sides[0].Toners, []string{name}) {
		t.Fatalf("%+v", o.Passes)
	}
	for file, wants := range map[string][]string{
		"ticket/pass-1.xjdf":          {`ActualColorName="` + name + `"`, `ColorantOrder="Weiss_Silber__1_"`, `ColorantName="` + name + `" ReplacementColorantName="Weiss_Silber__1_"`, `IDValue="../colour/Weiss_Silber__1_.cxf"`},
		"colour/Weiss_Silber__1_.cxf": {`SpotInkName="` + name + `"`, ">0.7 0.8 0.7 0.8 ", ">0.5 0.6 0.5 0.6 "},
		"letter.txt":                  {name + " (opaque white) on the front."},
		"definitions/press.yaml":      {name},
	} {
		for _, w := range wants {
			if !strings.Contains(words(files[file]), w) {
				t.Errorf("%s: no %s in\n%s", file, w, files[file])
			}
		}
	}
}

func TestHandover_tells_the_cautions_that_apply(t *testing.T) {
	_, plain := handedOver(t, spot("White"), func(_ *press.Press, k *press.Stock, j *press.Job) {})
	_, film := handedOver(t, spot("White"), func(_ *press.Press, k *press.Stock, j *press.Job) {
		k.Surface, k.Opacity = press.SurfaceFilm, 8
		j.Use = []string{press.UseFood, press.UseToy, press.UseWindow}
		j.Zones = []press.Zone{{Kind: press.ZoneFold, Left: 20, Height: 70}}
	})
	_, metal := handedOver(t, spot("White"), func(_ *press.Press, k *press.Stock, j *press.Job) { k.Surface = press.SurfaceMetallised })
	for _, c := range []struct {
		word string
		in   map[string]string
	}{{"heat of the fuser", film}, {"contact with food", film}, {"Toys have rules", film}, {"window of an envelope", film}, {"cracks where it is folded", film}, {"may conduct", metal}} {
		for _, f := range []string{"letter.txt", "letter.html", "report.html"} {
			if !strings.Contains(words(c.in[f]), c.word) {
				t.Errorf("%s does not say %q", f, c.word)
			}
			if strings.Contains(words(plain[f]), c.word) {
				t.Errorf("%s of plain stock says %q", f, c.word)
			}
		}
	}
	if !strings.Contains(words(film["letter.txt"]), "have the last word") {
		t.Error("the cautions leave nobody the last word")
	}
}

func TestHandover_sends_no_findings_unasked(t *testing.T) {
	dir := t.TempDir()
	f := pdfbuild.New()
	spot("Nobody#20knows")(f)
	in, out := filepath.Join(dir, "a.pdf"), filepath.Join(dir, "a.zip")
	if err := os.WriteFile(in, f.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := NewSetup(SetupOptions{Press: "two-set", Stock: "black-board"})
	if err != nil {
		t.Fatal(err)
	}
	o, err := Handover(context.Background(), HandoverRequest{File: in, Setup: s, Out: out, DPI: 72, FailOn: finding.Warning})
	if err != nil || o.Clean || o.Written() {
		t.Errorf("%v, clean %v, written %v", err, o.Clean, o.Written())
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("an archive was written")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Handover(ctx, HandoverRequest{File: in, Setup: s, Out: out, DPI: 72, WithFindings: true}); err == nil {
		t.Error("stopped, it goes on")
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%v is left behind", left)
	}
}

func TestPDFDates(t *testing.T) {
	for s, want := range map[string]string{
		"D:20260131120102+01'00'": "2026-01-31T11:01:02Z", "D:20260131120102-0130": "2026-01-31T13:31:02Z", "D:2026": "2026-01-01T00:00:00Z", "D:20260131Z": "2026-01-31T00:00:00Z",
	} {
		if got, ok := parsePDFDate(s); !ok || got.Format(time.RFC3339) != want {
			t.Errorf("%s: %v %v, want %s", s, got, ok, want)
		}
	}
	for _, s := range []string{"", "2026", "D:99990101", "D:00010101", "yesterday"} {
		if got, ok := parsePDFDate(s); ok {
			t.Errorf("%q is %v", s, got)
		}
	}
}

// A file of many passes must not lay a toner twice on a page: every toner a page uses is in one pass of the manifest.
func TestHandover_lays_every_toner_once(t *testing.T) {
	o, files := handedOver(t, func(f *pdfbuild.File) {
		spaces := "/ColorSpace << /W " + pdfbuild.Spot("White", 0, 0, 0, .4) + " /S " + pdfbuild.Spot("Silver", 0, 0, 0, .4) + " >> /ExtGState << /Keep << /OP true /op true /OPM 1 >> >>"
		f.Page(200, 200, spaces, "/W cs 1 scn 20 20 60 60 re f /Keep gs 0 1 0 0 k 20 20 60 60 re f")
		f.Page(200, 200, spaces, "/S cs 1 scn 20 20 60 60 re f")
	}, func(_ *press.Press, _ *press.Stock, j *press.Job) {
		j.Sides = 2
		j.Wishes.Underlay = []press.UnderlayWish{{Toner: "White", Under: []string{press.UnderProcess}}}
	})
	seen := map[string]int{}
	for _, p := range o.Passes {
		for _, s := range p.Sides {
			for _, n := range s.Toners {
				seen[s.Side+" "+n]++
			}
		}
	}
	for _, want := range []string{"front White", "front Magenta", "back Silver"} {
		if seen[want] != 1 {
			t.Errorf("%s is laid %d times: %+v", want, seen[want], o.Passes)
		}
	}
	if len(o.Passes) != 2 || o.Passes[0].Set != "special" {
		t.Errorf("%+v", o.Passes)
	}
	for _, p := range o.Passes {
		if p.Artwork == "artwork/whole.pdf" || p.Sheets == "sheets/sheets.pdf" {
			t.Errorf("pass %d has no files of its own: %+v", p.Number, p)
		}
	}
	order := regexp.MustCompile(`Side="Back"[^>]*/>\s*<ColorantControl ColorantOrder="Silver"`)
	if !order.MatchString(files["ticket/pass-1.xjdf"]) {
		t.Errorf("the ticket does not lay silver on the back:\n%s", files["ticket/pass-1.xjdf"])
	}
}

// The ticket of a pass, the plan and the letter count the same sheets, side by side where sides have passes of their own.
func TestHandover_counts_sheets_as_the_plan_does(t *testing.T) {
	o, files := handedOver(t, func(f *pdfbuild.File) {
		spaces := "/ColorSpace << /W " + pdfbuild.Spot("White", 0, 0, 0, .4) + " /C " + pdfbuild.Spot("Clear", 0, 0, 0, .4) + " >> /ExtGState << /Keep << /OP true /op true /OPM 1 >> >>"
		f.Page(200, 200, spaces, "/W cs 1 scn 20 20 60 60 re f /Keep gs 0 1 0 0 k 20 20 60 60 re f /C cs 1 scn 20 20 60 60 re f")
		f.Page(200, 200, spaces, "0 1 0 0 k 100 20 60 60 re f")
	}, func(_ *press.Press, _ *press.Stock, j *press.Job) {
		j.Sides = 2
		j.Wishes.Underlay = []press.UnderlayWish{{Toner: "White", Under: []string{press.UnderProcess}}}
		j.Wishes.Clear = []press.ClearWish{{Toner: "Clear", Over: []string{press.UnderProcess}}}
	})
	if len(o.Passes) != 3 {
		t.Fatalf("%+v", o.Passes)
	}
	var laid []string
	for _, p := range o.Passes {
		for _, s := range p.Sides {
			laid = append(laid, fmt.Sprintf("%d %s %s", p.Number, s.Side, strings.Join(s.Toners, "+")))
		}
	}
	if want := []string{"1 front White", "2 front Magenta", "2 back Magenta", "3 front Clear"}; !slices.Equal(laid, want) {
		t.Errorf("%q, want %q", laid, want)
	}
	s, err := NewSetup(SetupOptions{Job: unpacked(t, files)})
	if err != nil {
		t.Fatal(err)
	}
	p, err := Plan(context.Background(), PlanRequest{File: s.Job.Artwork, Setup: s})
	if err != nil {
		t.Fatal(err)
	}
	// The plan has four passes of single sides: 1 front, 2 front, 2 back, 3 front.
	k := p.Plans[0].Reckoning
	into := func(i int) int { return int(*k.Sheets[1+i].Value) }
	for i, want := range [][2]int{{into(0), into(1)}, {into(1), into(3)}, {into(3), int(*k.Sheets[0].Value)}} {
		amount := fmt.Sprintf(`<PartAmount Amount="%d" Waste="%d"/>`, want[1], want[0]-want[1])
		if name := fmt.Sprintf("ticket/pass-%d.xjdf", i+1); !strings.Contains(files[name], amount) {
			t.Errorf("%s has not %s", name, amount)
		}
	}
	if needed := fmt.Sprintf("%d go in first", into(0)); !strings.Contains(words(files["letter.txt"]), needed) {
		t.Errorf("the letter does not say %q:\n%s", needed, files["letter.txt"])
	}
}

// unpacked writes the files of an archive to a folder and names its job.
func unpacked(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, "definitions", "job.yaml")
}

// What no sequence of passes lays is told with the same words by plan, passes, sheets and handover.
func TestHandover_tells_what_is_impossible_as_the_plan_does(t *testing.T) {
	o, files := handedOver(t, func(f *pdfbuild.File) {
		spaces := "/ColorSpace << /W " + pdfbuild.Spot("White", 0, 0, 0, .4) + " >> /ExtGState << /Keep << /OP true /op true /OPM 1 >> >>"
		f.Page(200, 200, spaces, "/W cs 1 scn 20 20 60 60 re f /Keep gs 0 1 0 0 k 20 20 60 60 re f")
		f.Page(200, 200, spaces, "/W cs 1 scn 20 20 60 60 re f /Keep gs 0 1 0 0 k 20 20 60 60 re f")
	}, func(_ *press.Press, k *press.Stock, j *press.Job) { j.Sides, k.Hits = 2, 3 })
	s, err := NewSetup(SetupOptions{Job: unpacked(t, files)})
	if err != nil {
		t.Fatal(err)
	}
	p, err := Plan(context.Background(), PlanRequest{File: s.Job.Artwork, Setup: s})
	if err != nil || p.Impossible == nil {
		t.Fatal(p, err)
	}
	if !strings.Contains(p.Impossible.What, "through the fuser 4 times") || !strings.Contains(p.Impossible.Remedy, "a stock that stands 4 trips") {
		t.Errorf("%+v", p.Impossible)
	}
	told := func(where string, list []finding.Finding) {
		k := slices.IndexFunc(list, func(f finding.Finding) bool { return f.ID == impossibleID })
		if k < 0 || list[k].What != "It cannot be printed as wished: "+p.Impossible.What+"." || list[k].Remedy != sentence(p.Impossible.Remedy) {
			t.Errorf("%s: %+v", where, list)
		}
	}
	told("handover", o.Findings)
	sh, err := Sheets(context.Background(), SheetsRequest{File: s.Job.Artwork, Setup: s})
	if err != nil {
		t.Fatal(err)
	}
	told("sheets", sh.Findings)
	_, err = WritePasses(context.Background(), PassesRequest{File: s.Job.Artwork, Setup: s, Out: t.TempDir(), DPI: 72})
	if want := "it cannot be printed as wished: " + p.Impossible.What + "; " + p.Impossible.Remedy; err == nil || err.Error() != want {
		t.Errorf("passes: %v", err)
	}
	letter := words(files["letter.txt"])
	for _, want := range []string{p.Impossible.What, "a stock that stands 4 trips", "White (opaque white) on the front and the back."} {
		if !strings.Contains(letter, want) {
			t.Errorf("no %q in the letter:\n%s", want, files["letter.txt"])
		}
	}
	if strings.Contains(letter, "files of the passes") || strings.Contains(letter, "XJDF") {
		t.Errorf("the letter tells of files that are not there:\n%s", files["letter.txt"])
	}
}

func TestHandover_takes_the_profile_of_the_press_along(t *testing.T) {
	profile := cmykProfile(t, "default_cmyk.icc")
	file := filepath.Join(t.TempDir(), "house.icc")
	if err := os.WriteFile(file, profile, 0o600); err != nil {
		t.Fatal(err)
	}
	_, files := handedOver(t, spot("White"), func(p *press.Press, _ *press.Stock, _ *press.Job) { p.Profile = file })
	if files["definitions/profile.icc"] != string(profile) {
		t.Errorf("%d bytes of the profile of %d", len(files["definitions/profile.icc"]), len(profile))
	}
	if !strings.Contains(files["definitions/press.yaml"], "profile: profile.icc\n") {
		t.Errorf("the press does not name it:\n%s", files["definitions/press.yaml"])
	}
}
