package app

import (
	"bytes"
	"context"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/mend"
	"laydown/internal/pdfbuild"
)

// mended applies remedies to a file given as bytes.
func mended(t rapid.TB, dir string, setup *Setup, data []byte, uses ...string) (*MendOutcome, []byte) {
	t.Helper()
	return mendedAt(t, 72, dir, setup, data, uses...)
}

// mendedAt is mended, checked and proved at a resolution.
func mendedAt(t rapid.TB, dpi float64, dir string, setup *Setup, data []byte, uses ...string) (*MendOutcome, []byte) {
	t.Helper()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(in, data, 0o644); err != nil {
		t.Fatal(err)
	}
	os.Remove(out)
	req := MendRequest{File: in, Setup: setup, Out: out, DPI: dpi}
	for _, s := range uses {
		u, err := mend.Parse(s)
		if err != nil {
			t.Fatal(err)
		}
		req.Uses = append(req.Uses, u)
	}
	o, err := Mend(context.Background(), req)
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Refused) > 0 {
		t.Fatalf("%v was refused: %+v", uses, o.Refused)
	}
	if o.Out == "" {
		return o, nil
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return o, b
}

// twoSet is the shipped press the random pages are mended for.
func twoSet(t *testing.T) *Setup {
	t.Helper()
	s, err := NewSetup(SetupOptions{Press: "two-set", Stock: "midnight-blue-board"})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// still lists the findings of an ID, but notes, that name a colourant; "" = any.
func still(o *MendOutcome, id finding.ID, colourant string) []string {
	return told(o.After, finding.Warning, id, colourant)
}

// told is still of a check, from a severity up.
func told(o *Outcome, least finding.Severity, id finding.ID, colourant string) (out []string) {
	for _, f := range o.Findings {
		if f.ID == id && f.Severity >= least && (colourant == "" || slices.Contains(f.Place.Colourants, colourant)) {
			out = append(out, f.What)
		}
	}
	return out
}

// sound asks another reader whether a file is well made.
func sound(t rapid.TB, path string) {
	t.Helper()
	if _, err := exec.LookPath("qpdf"); err != nil {
		return
	}
	out, err := exec.Command("qpdf", "--check", path).CombinedOutput()
	if err != nil || bytes.Contains(out, []byte("WARNING")) {
		t.Fatalf("qpdf: %v\n%s", err, out)
	}
}

// few lowers the number of random files, which take two checks and two proofs each, and makes them the same in every run,
// unless another number (-rapid.checks) or seed (-rapid.seed) was asked for.
func few(t *testing.T, n string) {
	for _, set := range [][2]string{{"rapid.checks", n}, {"rapid.seed", "1"}} {
		f := flag.Lookup(set[0])
		if old := f.Value.String(); old == f.DefValue {
			_ = f.Value.Set(set[1])
			t.Cleanup(func() { _ = f.Value.Set(old) })
		}
	}
}

// TestRemediesMendRandomPages: the finding is gone, plates differ only where allowed (else mended fails), the file is
// well made, and the remedy finds nothing to do in it. Findings a page as random as these may keep for reasons of its own are
// looked for in TestRemediesAnswerOnRandomPages.
func TestRemediesMendRandomPages(t *testing.T) {
	setup := twoSet(t)
	few(t, "15")
	// What is drawn at random seldom asks for these remedies.
	above := map[string]string{
		"choke-underlay":     "/Off gs /W cs 1 scn 20 20 40 40 re f /On gs 0 .5 0 0 k 20 20 40 40 re f",
		"spare-underlay":     "/Off gs /W cs 1 scn 20 20 40 40 re f 0 .5 0 0 k 30 30 20 20 re f",
		"knock-out":          "/Off gs /Au cs 1 scn 20 20 40 40 re f /On gs /W cs 1 scn 30 30 20 20 re f",
		"laydown-overprint":  "/Off gs 0 .5 0 0 k 20 20 40 40 re f /W cs 1 scn 30 30 20 20 re f",
		"overprint-on":       "/Off gs 0 .5 0 0 k 20 20 40 40 re f /C cs 1 scn 30 30 20 20 re f",
		"to-toner":           "/Off gs .2 .35 .8 .15 k 20 20 40 40 re f q 20 0 0 20 30 30 cm /Im Do Q",
		"to-process":         "/Off gs /M cs 1 scn 20 20 40 40 re f",
		"thicken-lines":      "/Off gs 0 .5 0 0 K 1 w 20 20 m 60 50 l S",
		"clip-tints":         "/Off gs /S cs .04 scn 20 20 40 40 re f",
		"lighten-pile":       "/Off gs .9 .8 .8 .9 k 20 20 40 40 re f",
		"drop-hidden-layers": "/OC /H BDC 1 0 0 0 k 20 20 40 40 re f EMC",
		"make-clear":         "q 20 0 0 20 30 30 cm /Im Do Q",
	}
	for _, c := range []struct {
		uses      []string
		gone      finding.ID
		colourant string
	}{
		{[]string{"rename-colourant:from=white,to=White"}, "colourant-name-nearly-right", "white"},
		{[]string{"merge-colourants:from=Moon Dust|white,to=Silver"}, "colourant-unknown", "Moon Dust"},
		{[]string{"one-definition:colourant=Silver"}, "colourant-definitions-differ", "Silver"},
		{[]string{"overprint-on:toner=Clear", "multiply-on:toner=Clear"}, "must-overprint-knocks-out", "Clear"},
		{[]string{"to-toner:toner=Gold,colour=stand-in"}, "stand-in-in-process-colour", "Gold"},
		{[]string{"to-toner:toner=Silver 30% + Gold 40%,kind=image,curve=0 10 40 80 100"}, "", ""},
		{[]string{"to-process:toner=Moon Dust"}, "colourant-unknown", "Moon Dust"},
		{[]string{"clip-tints:toner=Silver"}, "", ""},
		{[]string{"lighten-pile:limit=200%"}, "", ""},
		{[]string{"thicken-lines:toner=process,to=4pt"}, "", ""},
		{[]string{"drop-hidden-layers"}, "colourant-on-hidden-layers-only", ""},
		{[]string{"centre-boxes:width=30mm,height=30mm"}, "finished-size-unclear", ""},
		{[]string{"embed-needed"}, "font-not-embedded", ""},
		{[]string{"add-bleed:bleed=3mm"}, "", ""},
		{[]string{"make-underlay:toner=White,choke=0.2mm,dpi=150"}, "", ""},
		{[]string{"make-underlay:toner=White,tint=coverage,as=image,dpi=100"}, "", ""},
		{[]string{"make-clear:over=images,as=bitmap,dpi=100,free=5 5 10 10"}, "", ""},
		{[]string{"make-clear:over=flood,free=0 0 10 10|5 5 10 10"}, "", ""},
		{[]string{"spare-underlay:toner=White"}, "", ""},
		{[]string{"choke-underlay:toner=White,choke=0.5mm"}, "", ""},
		{[]string{"laydown-overprint:toner=White"}, "", ""},
		{[]string{"knock-out:toner=White,over=Gold"}, "", ""},
	} {
		id := strings.SplitN(c.uses[0], ":", 2)[0]
		t.Run(id, func(t *testing.T) {
			dir := t.TempDir()
			n := 0
			rapid.Check(t, func(t *rapid.T) {
				data := pdfbuild.RandomFileWith(t, above[id])
				o, once := mended(t, dir, setup, data, c.uses...)
				if once == nil {
					return
				}
				if c.gone != "" && !slices.ContainsFunc(o.Steps, func(st MendStep) bool { return len(st.Notes) > 0 }) {
					if left := still(o, c.gone, c.colourant); len(left) > 0 {
						t.Fatalf("still there: %v", left)
					}
				}
				if !bytes.HasPrefix(once, data) {
					t.Fatal("the file as it was is not the start of the mended file")
				}
				if n++; n%10 == 0 {
					sound(t, filepath.Join(dir, "out.pdf"))
				}
				if o, twice := mended(t, dir, setup, once, c.uses...); twice != nil {
					t.Fatalf("mending twice changes something: %+v", o.Steps)
				}
			})
			// A remedy that does nothing passes all of this.
			t.Logf("%d files were changed", n)
			least := 10
			if testing.Short() {
				least = 2 // a fifth as many are drawn
			}
			if n < least {
				t.Errorf("%d files were changed, fewer than %d", n, least)
			}
		})
	}
}

func TestUndoGivesBackTheFileByteForByte(t *testing.T) {
	dir := t.TempDir()
	setup := demoSetup(t, dir)
	data, err := os.ReadFile(writeTicket(t, dir, true))
	if err != nil {
		t.Fatal(err)
	}
	_, once := mended(t, dir, setup, data, "rename-colourant:from=white,to=White", "one-definition")
	file, back := filepath.Join(dir, "out.pdf"), filepath.Join(dir, "back.pdf")
	for _, want := range []string{"one-definition", "rename-colourant"} {
		remedy, err := Unmend(setup, file, back)
		if err != nil || remedy != want {
			t.Fatalf("undid %q, %v; want %q", remedy, err, want)
		}
		if err := os.Rename(back, file); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil || !bytes.Equal(got, data) || len(once) <= len(data) {
		t.Fatalf("%d bytes came back of %d (%v)", len(got), len(data), err)
	}
	if _, err := Unmend(setup, file, back); err == nil {
		t.Fatal("a file that was never mended was undone")
	}
}

func TestMendRefusesWhatNobodyAskedFor(t *testing.T) {
	dir := t.TempDir()
	setup := demoSetup(t, dir)
	file := writeTicket(t, dir, true)
	greedy := &mend.Remedy{ID: "greedy", Title: "Changes more than it says.", Apply: func(ctx context.Context, e *mend.Edit, _ mend.Options) error {
		return e.Each(ctx, func(p *mend.Page) error {
			one := 1.0
			space := mend.Colour{Space: pdf.Name("DeviceGray"), Comps: []float64{one}}
			for i := range p.List.Items {
				if p.List.Items[i].Kind == displist.Fill {
					return e.Change(p, i, mend.Change{Fill: &space})
				}
			}
			return nil
		})
	}}
	out := filepath.Join(dir, "out.pdf")
	o, err := Mend(context.Background(), MendRequest{File: file, Setup: setup, Out: out, DPI: 72, Uses: []mend.Use{{Remedy: greedy}}})
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Refused) == 0 || o.Refused[0].Pixels == 0 {
		t.Fatalf("not refused: %+v", o.Steps)
	}
	if _, err := os.Stat(out); err == nil {
		t.Fatal("a refused mend wrote a file")
	}
}

// TestMendRefusesLossesInsideAllowedBoxes: where all plates may differ, the objects still tell what is missing or done besides.
func TestMendRefusesLossesInsideAllowedBoxes(t *testing.T) {
	yellow := &mend.Colour{Space: pdf.Name("DeviceCMYK"), Comps: []float64{0, 0, 1, 0}}
	page := answerPage("0 1 0 0 k 0 1 0 0 K 20 20 40 40 re f 2 w 20 70 m 60 70 l S BT /F 20 Tf 20 30 Td (Ag) Tj ET")
	setup, multiply := twoSet(t), displist.Multiply
	for _, c := range []struct {
		name    string
		alters  mend.Alters
		kind    displist.Kind
		change  mend.Change
		refused bool
	}{
		{"colour asked for", mend.AltersColours, displist.Fill, mend.Change{Fill: yellow}, false},
		{"width asked for", mend.AltersWidths, displist.Stroke, mend.Change{Width: 3}, false},
		{"hidden", mend.AltersColours, displist.Fill, mend.Change{Hide: true}, true},
		{"coloured", mend.AltersWidths, displist.Stroke, mend.Change{Fill: yellow}, true},
		{"coloured letters", mend.AltersLetters, displist.Fill, mend.Change{Fill: yellow}, true},
		{"thinner", mend.AltersWidths, displist.Stroke, mend.Change{Width: 1}, true},
		{"wider", mend.AltersColours, displist.Stroke, mend.Change{Width: 3}, true},
		{"multiplied", mend.AltersColours, displist.Fill, mend.Change{Blend: &multiply}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := &mend.Remedy{ID: "careless", Title: "Allows itself everything.", Apply: func(ctx context.Context, e *mend.Edit, _ mend.Options) error {
				e.Keep(c.alters)
				e.Allow(1, nil)
				return e.Each(ctx, func(p *mend.Page) error {
					for i := range p.List.Items {
						if it := &p.List.Items[i]; it.Kind == c.kind && !it.Hidden {
							if err := e.Change(p, i, c.change); err != nil {
								return err
							}
						}
					}
					return nil
				})
			}}
			dir := t.TempDir()
			in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
			if err := os.WriteFile(in, page, 0o644); err != nil {
				t.Fatal(err)
			}
			o, err := Mend(context.Background(), MendRequest{File: in, Setup: setup, Out: out, DPI: 72, Uses: []mend.Use{{Remedy: r}}})
			if err != nil {
				t.Fatal(err)
			}
			if (len(o.Refused) > 0) != c.refused {
				t.Fatalf("refused: %+v", o.Refused)
			}
		})
	}
}

// TestAllSafeSettles: what is safe is applied without being refused where it is offered, and then there is nothing left to apply.
func TestAllSafeSettles(t *testing.T) {
	dir := t.TempDir()
	setup := demoSetup(t, dir)
	few(t, "15")
	rapid.Check(t, func(t *rapid.T) {
		in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
		data := pdfbuild.RandomFile(t)
		for round := range 2 {
			if err := os.WriteFile(in, data, 0o644); err != nil {
				t.Fatal(err)
			}
			os.Remove(out)
			o, err := Mend(context.Background(), MendRequest{File: in, Setup: setup, Out: out, DPI: 72, AllSafe: true})
			if err != nil {
				t.Fatal(err)
			}
			for _, st := range o.Steps {
				if len(st.Refused) > 0 {
					t.Fatalf("%s was refused: %+v", st.Use, st.Refused)
				}
				if round == 1 && st.Changed {
					t.Fatalf("%s changes something once more", st.Use)
				}
			}
			if o.Out == "" {
				return
			}
			if data, err = os.ReadFile(out); err != nil {
				t.Fatal(err)
			}
		}
	})
}
