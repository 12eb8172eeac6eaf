package truth

import (
	"bufio"
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/go-fonts/liberation/liberationsansregular"

	"laydown/internal/artwork/interp"
	"laydown/internal/colourant"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// probeSide is the width and height of a probe in pixels: 48 points, on which neither interpreter
// stumbles as they do on pages of a few points.
const probeSide = 100

// probeFile has one page a probe.
func probeFile(all []probe) []byte {
	f := pdfbuild.New()
	ttf := liberationsansregular.TTF
	program := f.Stream(fmt.Sprintf("/Length1 %d", len(ttf)), string(ttf))
	descriptor := f.Add("<< /Type /FontDescriptor /FontName /ABCDEF+LiberationSans /Flags 32 /FontBBox [-500 -300 1300 1000] /ItalicAngle 0 /Ascent 905 /Descent -212 /CapHeight 729 /StemV 80 /FontFile2 " + pdfbuild.Ref(program) + " >>")
	sans := f.Add("<< /Type /Font /Subtype /TrueType /BaseFont /ABCDEF+LiberationSans /FirstChar 65 /LastChar 90 /Widths [" + strings.Repeat("722 ", 26) +
		"] /Encoding /WinAnsiEncoding /FontDescriptor " + pdfbuild.Ref(descriptor) + " >>")
	space := map[string]string{
		"{frost}": pdfbuild.Ref(f.Add(pdfbuild.Spot("Frost", .6, 0, 0, 0))),
		"{flash}": pdfbuild.Ref(f.Add(pdfbuild.Spot("Flash", 0, 0, .8, 0))),
	}
	deviceN := func(names, tint, domain string) string {
		fn := f.Stream("/FunctionType 4 /Domain ["+domain+"] /Range [0 1 0 1 0 1 0 1]", tint)
		return pdfbuild.Ref(f.Add("[ /DeviceN [" + names + "] /DeviceCMYK " + pdfbuild.Ref(fn) + " ]"))
	}
	space["{mixed}"] = deviceN("/Cyan /Black /Frost", "{ pop 0 exch 0 exch }", "0 1 0 1 0 1")
	spaces := "/Frost " + space["{frost}"] + " /Flash " + space["{flash}"] + " /Kay " + pdfbuild.Spot("Black", 0, 0, 0, 1) + " /Cee " + pdfbuild.Spot("Cyan", 1, 0, 0, 0) +
		" /Every " + pdfbuild.Spot("All", 1, 1, 1, 1) + " /Nothing " + pdfbuild.Spot("None", 0, 0, 0, .3) + " /Mixed " + space["{mixed}"] +
		" /Pair " + deviceN("/Frost /Flash", "{ 0 exch 0 }", "0 1 0 1") + " /Part " + deviceN("/None /Frost", "{ 0 exch 0 }", "0 1 0 1") +
		" /Steps [/Indexed " + space["{frost}"] + " 2 <00c040>]"
	gs := "/Off << /OP false /OPM 0 >> /On << /OP true /OPM 0 >> /Mode1 << /OP true /OPM 1 >> /Half << /ca .5 /CA .5 >> /Opaque << /ca 1 /CA 1 >>"
	for _, m := range blendNames {
		gs += " /" + m + " << /BM /" + m + " >>"
	}
	for _, p := range all {
		resources := f.Add("null")
		number := []string{"{resources}", pdfbuild.Ref(resources)}
		for k, v := range space {
			number = append(number, k, v)
		}
		resolve := func(s string) string { return strings.NewReplacer(number...).Replace(s) }
		for _, s := range p.streams {
			number = append(number, "{"+s.name+"}", pdfbuild.Ref(f.Stream(resolve(s.dict), s.data)))
		}
		text := resolve("/ColorSpace << " + spaces + p.spaces + " >> /ExtGState << " + gs + p.gs + " >> /XObject << " + p.xobjects + " >> /Pattern << " + p.patterns +
			" >> /Shading << " + p.shadings + " >> /Font << /Sans " + pdfbuild.Ref(sans) + " " + p.fonts + " >>")
		f.Set(resources, "<< "+text+" >>")
		f.Page(48, 48, text, ".48 0 0 .48 0 0 cm "+p.content, p.page)
	}
	return f.Bytes()
}

// probeRow is what came of one plate of one probe.
type probeRow struct {
	Row
	Clause string
}

// probesRendered is what interpretersOf last gave: two tests ask for the same file.
var probesRendered struct {
	sync.Mutex
	of     [sha256.Size]byte
	gs, mu []*Plates
}

// interpretersOf renders all probes at once, a slice of plates an interpreter.
func interpretersOf(t *testing.T, data []byte, pages int) (gs, mu []*Plates) {
	t.Helper()
	r := &probesRendered
	r.Lock()
	defer r.Unlock()
	if sum := sha256.Sum256(data); r.of != sum {
		r.gs, r.mu = renderProbes(t, data, pages, true)
		r.of = sum
	}
	return r.gs, r.mu
}

// renderProbes does it; without mutool its plates are empty.
func renderProbes(t *testing.T, data []byte, pages int, mutool bool) (gs, mu []*Plates) {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "probes.pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	failed := make(chan error, 2)
	go func() {
		failed <- run(ctx, dir, "gs", "-q", "-sDEVICE=tiffsep", fmt.Sprintf("-r%d", shrink*DPI), fmt.Sprintf("-dDownScaleFactor=%d", shrink),
			"-dUseFastColor=true", "-dUseCropBox", "-dMaxSpots=60", "-dSAFER", "-dNOPAUSE", "-dBATCH", "-sOutputFile=p%d.tif", file)
	}()
	go func() {
		if !mutool {
			failed <- nil
			return
		}
		failed <- run(ctx, dir, "mutool", "draw", "-q", "-r", strconv.Itoa(shrink*DPI), "-A", "0", "-O", "2", "-o", "p%d.psd", file)
	}()
	for range 2 {
		if err := <-failed; err != nil {
			t.Fatal(err)
		}
	}
	for n := 1; n <= pages; n++ {
		g := &Plates{Plane: map[string][]byte{}}
		for _, name := range []string{"Cyan", "Magenta", "Yellow", "Black", "Frost", "Flash"} {
			w, h, plane, err := readTIFF(filepath.Join(dir, fmt.Sprintf("p%d(%s).tif", n, name)))
			if err != nil {
				continue
			}
			g.W, g.H, g.Plane[name] = w, h, plane
		}
		gs = append(gs, g)
		if !mutool {
			mu = append(mu, &Plates{})
			continue
		}
		f, err := os.Open(filepath.Join(dir, fmt.Sprintf("p%d.psd", n)))
		if err != nil {
			t.Fatal(err)
		}
		m, err := readPSD(bufio.NewReader(f))
		f.Close()
		if err != nil {
			t.Fatalf("page %d: %v", n, err)
		}
		mu = append(mu, m)
	}
	return gs, mu
}

// limitProbe forgives edges that are off by a pixel of the interpreters' own 600 dpi, and no more: on
// areas of one tint flatOut holds.
var limitProbe = Limit{2.5, .005}

// flatTolerance is what groups with 8 bits in the interpreters may add up to.
const flatTolerance = 3

// flatOut is the share of pixels that differ by more than flatTolerance though both plates have one tint
// all round them.
func flatOut(a, b *plate.Stack, name string) float64 {
	pa, _ := a.Lookup(name)
	pb, _ := b.Lookup(name)
	out := 0
	for y := 1; y < probeSide-1; y++ {
		for x := 1; x < probeSide-1; x++ {
			va, vb := int(at(pa, y*a.Width+x)), int(at(pb, y*b.Width+x))
			if va-vb <= flatTolerance && vb-va <= flatTolerance {
				continue
			}
			flat := true
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					flat = flat && int(at(pa, (y+dy)*a.Width+x+dx)) == va && int(at(pb, (y+dy)*b.Width+x+dx)) == vb
				}
			}
			if flat {
				out++
			}
		}
	}
	return float64(out) / (probeSide * probeSide)
}

// judgeProbe compares plates by limitProbe, or that of text when the probe's edges are not on pixels.
func judgeProbe(p *probe, n int, ours *painted, gs, mu *Plates) []Row {
	converted := usesConversion(ours.List)
	own := &Plates{W: ours.Stack.Width, H: ours.Stack.Height, Plane: map[string][]byte{}}
	for i, c := range ours.Stack.Set.All() {
		if own.Plane[c.Name] = ours.Stack.Plane(i); own.Plane[c.Name] == nil {
			own.Plane[c.Name] = make([]byte, own.W*own.H)
		}
	}
	a, b, c := stackOf(own, converted), stackOf(gs, converted), stackOf(mu, converted)
	names := map[string]bool{}
	for _, s := range []*plate.Stack{a, b, c} {
		for i, col := range s.Set.All() {
			if s.Plane(i) != nil && !(converted && slices.Contains(colourant.ProcessNames[:], col.Name)) {
				names[col.Name] = true
			}
		}
	}
	var rows []Row
	for name := range names {
		compare := func(a, b *plate.Stack) Measure {
			if p.loose {
				return measure(a, b, name, limitText)
			}
			m := measure(a, b, name, limitProbe)
			m.Out = max(m.Out, flatOut(a, b, name))
			m.OK = m.OK && m.Out <= limitProbe.Out
			return m
		}
		rows = append(rows, Row{File: p.name, Page: n, Plate: name, OursGS: compare(a, b), OursMu: compare(a, c), GSMu: compare(b, c)})
	}
	sort.Slice(rows, func(i, j int) bool { return rows[i].Plate < rows[j].Plate })
	return rows
}

// paintProbes gives our plates of every probe.
func paintProbes(t *testing.T, all []probe, data []byte) []*painted {
	t.Helper()
	var out []*painted
	for i, p := range all {
		got, err := paintPage(context.Background(), data, i+1, DPI, interp.Options{}, nil)
		if err != nil {
			t.Fatalf("%s: %v", p.name, err)
		}
		for _, fd := range got.Sink.Sorted() {
			got.Undrawn = got.Undrawn || fd.Incomplete
			if fd.Incomplete && string(fd.ID) != p.undrawn {
				t.Errorf("%s: not drawn in full: %s: %s", p.name, fd.ID, fd.What)
			}
		}
		if got.Stack.Width != probeSide || got.Stack.Height != probeSide {
			t.Fatalf("%s: %d x %d pixels", p.name, got.Stack.Width, got.Stack.Height)
		}
		out = append(out, got)
	}
	return out
}

// TestTruth_probes: where both interpreters agree on a plate of a probe, we agree with them; where they
// do not, the probe names the clause that decides and our tints at its points are what it asks for.
func TestTruth_probes(t *testing.T) {
	all := probes()
	data := probeFile(all)
	ours := paintProbes(t, all, data)
	for i := range all {
		checkPoints(t, &all[i], ours[i].Stack)
	}
	oracles(t)
	rows := judgeProbes(t, all, data, ours)
	agreed := 0
	for _, r := range rows {
		if *show {
			t.Logf("%-50s %-10s gs %-18s mu %-18s gs-mu %-18s %s", r.File, r.Plate, r.OursGS, r.OursMu, r.GSMu, r.Verdict())
		}
		exception := againstBoth[[2]string{r.File, r.Plate}]
		switch {
		case exception && r.Verdict() != "against both":
			t.Errorf("%s plate %q is no longer against both interpreters", r.File, r.Plate)
		case exception:
		case r.GSMu.OK && r.Verdict() != "both":
			t.Errorf("%s plate %q: gs and mutool agree (%s), we do not: gs %s, mutool %s", r.File, r.Plate, r.GSMu, r.OursGS, r.OursMu)
		case r.GSMu.OK:
			agreed++
		case r.Clause == "":
			t.Errorf("%s plate %q: gs and mutool differ (%s), and no clause is named that decides: gs %s, mutool %s", r.File, r.Plate, r.GSMu, r.OursGS, r.OursMu)
		}
	}
	if n := strings.Count(probeTable(rows), "\n| "); n != len(rows)+1 {
		t.Errorf("the table has %d lines for %d plates and a head", n, len(rows))
	}
	t.Logf("%d probes, %d plates; the interpreters agree with each other on %d", len(all), len(rows), agreed)
}

func judgeProbes(t *testing.T, all []probe, data []byte, ours []*painted) []probeRow {
	t.Helper()
	gs, mu := interpretersOf(t, data, len(all))
	var rows []probeRow
	for i := range all {
		if ours[i].Undrawn {
			t.Logf("%s: not judged, for we say that we do not draw it: %s", all[i].name, all[i].undrawn)
			continue
		}
		for _, r := range judgeProbe(&all[i], i+1, ours[i], gs[i], mu[i]) {
			rows = append(rows, probeRow{r, all[i].clause})
		}
	}
	return rows
}

// checkPoints compares the tints a probe wants, to one step of 255.
func checkPoints(t *testing.T, p *probe, s *plate.Stack) {
	t.Helper()
	if (p.clause == "") != (p.want == "") {
		t.Errorf("%s: a clause goes with what it asks for", p.name)
	}
	for line := range strings.Lines(p.want) {
		at, tints, ok := strings.Cut(line, ":")
		if strings.TrimSpace(line) == "" {
			continue
		}
		var x, y int
		if _, err := fmt.Sscan(at, &x, &y); err != nil || !ok {
			t.Fatalf("%s: cannot read %q", p.name, line)
		}
		want := map[string]float64{}
		fields := strings.Fields(tints)
		for i := 0; i+1 < len(fields); i += 2 {
			v, err := strconv.ParseFloat(fields[i+1], 64)
			if err != nil {
				t.Fatalf("%s: cannot read %q", p.name, line)
			}
			want[fields[i]] = v
		}
		for i, c := range s.Set.All() {
			name := c.Name
			if i < len(colourant.ProcessNames) {
				name = [...]string{"C", "M", "Y", "K"}[i]
			}
			if got := float64(s.At(i, x, probeSide-1-y)); math.Abs(got-want[name]*2.55) > 1.01 {
				t.Errorf("%s at %d %d: %s is %.1f %%, want %g %%", p.name, x, y, name, got/2.55, want[name])
			}
		}
	}
}

// probeTable is the part of the truth document on probes, from the rows of judgeProbes.
func probeTable(rows []probeRow) string {
	var b strings.Builder
	agreed, with := 0, 0
	for i := range rows {
		if rows[i].GSMu.OK {
			agreed++
			if rows[i].Verdict() == "both" {
				with++
			}
		}
	}
	b.WriteString("\n## Probes\n\nPages of 100 × 100 pixels that ask one question each. Shapes lie on whole pixels and are judged by the limits of large pages, but for text, curves and strokes.\n\n")
	fmt.Fprintf(&b, "gs and mutool agree with each other on **%d** of %d plates; on **%d** of them we agree with both.\n\n", agreed, len(rows), with)
	b.WriteString("| probe | plate | ours – gs | ours – mutool | gs – mutool | we agree with | clause that decides |\n|---|---|---|---|---|---|---|\n")
	for i := range rows {
		r := &rows[i]
		why := r.Clause
		if r.Verdict() == "both" {
			why = ""
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s |\n", r.File, r.Plate, r.OursGS, r.OursMu, r.GSMu, r.Verdict(), why)
	}
	return b.String()
}

// TestPixel: explaining a pixel ends at the tints of the plates, on 200 pixels of every probe.
func TestPixel(t *testing.T) {
	all := probes()
	ours := paintProbes(t, all, probeFile(all))
	for i, p := range ours {
		r := rand.New(rand.NewSource(int64(i)))
		for range 200 {
			x, y := r.Intn(probeSide), r.Intn(probeSide)
			e, err := paint.Explain(context.Background(), p.Job, x, y)
			if err != nil {
				t.Fatal(err)
			}
			for c, col := range p.Stack.Set.All() {
				if got, want := e.Final[c], p.Stack.At(c, x, y); got != want {
					t.Errorf("%s at %d,%d: %s is explained as %d and is %d", all[i].name, x, y, col.Name, got, want)
				}
			}
		}
	}
}
