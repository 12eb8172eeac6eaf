package app

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// proofOf writes the proof of a file and returns what is told and the PDF.
func proofOf(t *testing.T, s *Setup, file string) (*ProofResult, string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "proof.pdf")
	r, err := WriteProof(context.Background(), ProofRequest{File: file, Setup: s, JobName: "job.yaml", Out: out, DPI: 50})
	if err != nil {
		t.Fatal(err)
	}
	return r, out
}

// others runs a program of the system; the test is skipped where there is none.
func others(t *testing.T, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skip(name + " is not on this machine")
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func TestProof_shows_every_page_plate_and_finding(t *testing.T) {
	dir := t.TempDir()
	r, out := proofOf(t, demoSetup(t, dir), writeTicket(t, dir, true))
	text := strings.Join(strings.Fields(others(t, "mutool", "draw", "-q", "-F", "txt", out)), " ")
	for _, want := range []string{"Proof of faulty.pdf", "no contract proof", "job.yaml", "Two-set press", "Midnight-blue board, 300 g/m²", "15° to the lamp", "32.5° away",
		"Page 1, how it is laid", "Page 2, plate by plate", "Pass 2, set process", "Midnight-blue board, 400 µm", "Released for printing", "licensed professional"} {
		if !strings.Contains(text, want) {
			t.Errorf("the proof does not say %q", want)
		}
	}
	for _, f := range r.Findings {
		if what := strings.Join(strings.Fields(f.What), " "); !strings.Contains(text, what) {
			t.Errorf("the finding %q is not told", what)
		}
	}
	if len(r.Sheets) != 2 || len(r.Sheets[0].Angles) != 3 || len(r.Findings) == 0 {
		t.Fatalf("%+v", r.Sheets)
	}
	for _, p := range r.Sheets {
		for _, pl := range p.Plates {
			if want := pl.Colourant + ", mean " + strings.TrimSuffix(fmt.Sprintf("%.1f", pl.Coverage), ".0"); !strings.Contains(text, want) {
				t.Errorf("page %d: %q is not told", p.Page, want)
			}
		}
	}
}

func TestProof_is_sound_and_the_same_every_time(t *testing.T) {
	dir := t.TempDir()
	s, file := demoSetup(t, dir), writeTicket(t, dir, false)
	_, out := proofOf(t, s, file)
	_, again := proofOf(t, s, file)
	a, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(again)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("two runs differ")
	}
	var c finding.Collector
	if _, err := pdf.Open(bytes.NewReader(a), int64(len(a)), pdf.Options{Sink: &c}); err != nil || len(c.Sorted()) > 0 {
		t.Errorf("%v, findings %v", err, c.Sorted())
	}
	if report := others(t, "qpdf", "--check", out); strings.Contains(report, "WARNING") {
		t.Error(report)
	}
}

// A proof made for a press with an output profile is PDF/X-4 and says so; the checks that hold such files to their word find nothing.
func TestProof_is_PDFX4_where_the_press_has_a_profile(t *testing.T) {
	profile := filepath.Join(t.TempDir(), "house.icc")
	if err := os.WriteFile(profile, cmykProfile(t, "default_cmyk.icc"), 0o600); err != nil {
		t.Fatal(err)
	}
	artwork := func(trailer string) string {
		f := pdfbuild.New()
		f.Page(200, 120, "/ColorSpace << /W "+pdfbuild.Spot("White", .25, 0, 0, .1)+" >>", "/W cs 1 scn 20 20 60 60 re f 0 1 0 0 k 90 20 60 60 re f")
		f.Trailer(trailer)
		file := filepath.Join(t.TempDir(), "small.pdf")
		if err := os.WriteFile(file, f.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	dated := artwork("/Info << /ModDate (D:20260504120000Z) >>")
	for _, c := range []struct {
		name, file, profile string
		claims              bool
	}{{"profile and date", dated, profile, true}, {"no profile", dated, "", false}, {"no date", artwork(""), profile, false}} {
		t.Run(c.name, func(t *testing.T) {
			s := demoSetup(t, t.TempDir())
			p := *s.Press
			p.Profile = c.profile
			s.Press = &p
			_, out := proofOf(t, s, c.file)
			data, err := os.ReadFile(out)
			if err != nil {
				t.Fatal(err)
			}
			if says := bytes.Contains(data, []byte("<pdfxid:GTS_PDFXVersion>PDF/X-4</pdfxid:GTS_PDFXVersion>")); says != c.claims {
				t.Fatalf("it claims: %v", says)
			}
			o, err := Check(context.Background(), CheckRequest{File: out, Setup: &Setup{conv: colour.NewConverter(nil)}, DPI: 30})
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range o.Findings {
				// The pictures are as coarse as this test asks for.
				if c.claims && f.ID != "image-resolution-low" {
					t.Errorf("%s: %s", f.ID, f.What)
				}
			}
		})
	}
}

// A name of colourants may be long, hold umlauts, or be no text at all.
func TestProof_takes_any_name(t *testing.T) {
	f := pdfbuild.New()
	space := func(name string) string {
		return "[/Separation /" + name + " /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 1 0 0] >>]"
	}
	long := strings.Repeat("Überlänge", 12)
	f.Page(200, 200, "/ColorSpace << /A "+space(long)+" /B "+space("Gr#FCn")+" >>", "/A cs 1 scn 0 0 90 90 re f /B cs 1 scn 100 100 90 90 re f")
	file := filepath.Join(t.TempDir(), "names.pdf")
	if err := os.WriteFile(file, f.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	_, out := proofOf(t, &Setup{}, file)
	text := strings.Join(strings.Fields(others(t, "mutool", "draw", "-q", "-F", "txt", out)), "")
	for _, want := range []string{long, "Gr#FCn", "Nopresswasgiven"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not told", want)
		}
	}
}

func TestProof_never_replaces_the_artwork(t *testing.T) {
	dir := t.TempDir()
	file := writeTicket(t, dir, false)
	if _, err := WriteProof(context.Background(), ProofRequest{File: file, Setup: &Setup{}, Out: file, DPI: 50}); err == nil {
		t.Error("the artwork was written over")
	}
}
