package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/look"
	"laydown/internal/pdfbuild"
	"laydown/internal/press"
)

// cmykProfiles are the CMYK output profiles of this machine and of the output intents of the public test PDFs, by name or the
// beginning of their hash, as files.
func cmykProfiles(t *testing.T) map[string]string {
	t.Helper()
	dir := t.TempDir()
	all := map[string]string{}
	seen := map[[32]byte]bool{}
	add := func(name string, data []byte) {
		sum := sha256.Sum256(data)
		if len(data) < 128 || string(data[12:20]) != "prtrCMYK" || seen[sum] {
			return
		}
		seen[sum] = true
		if name == "" {
			name = hex.EncodeToString(sum[:4])
		}
		all[name] = filepath.Join(dir, name)
		if err := os.WriteFile(all[name], data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, pattern := range []string{"/usr/share/color/icc/*.ic?", "/usr/share/color/icc/*/*.ic?"} {
		files, _ := filepath.Glob(pattern)
		for _, f := range files {
			if data, err := os.ReadFile(f); err == nil {
				add(filepath.Base(f), data)
			}
		}
	}
	files, _ := filepath.Glob("../../../shared/corpus/files/*.pdf")
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil || len(data) > 8<<20 || !bytes.Contains(data, []byte("OutputIntent")) {
			continue
		}
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
		if err != nil {
			continue
		}
		size, _ := doc.Int(doc.Trailer()["Size"])
		for i := range min(size, 20_000) {
			if st, ok := doc.Stream(pdf.Ref{Num: i + 1}); ok && st.Dict["N"] != nil {
				if d, err := doc.Data(st); err == nil {
					add("", d)
				}
			}
		}
	}
	return all
}

// Sampled profiles show tints on their own white as an independent colour engine has them by the absolute colorimetric
// intent: 0.05 to 0.09 was found in the mean, as profiles are straight between the nodes of their tables and prints are not.
// Profiles that are arithmetic are refused.
func TestSampledProfileAgreesWithIndependentEngine(t *testing.T) {
	program, err := exec.LookPath("transicc")
	if err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatal("transicc is required and not installed")
		}
		t.Skip("transicc is not installed")
	}
	sampled := 0
	for name, path := range cmykProfiles(t) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		profile, err := colour.ParseProfile(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		process, err := look.ProcessFromLab(func(t [4]float64) press.Lab { return profile.AbsoluteLab(t[:]) })
		if arithmetic := name == "ps_cmyk.icc" || name == "gray_to_k.icc"; arithmetic != (err != nil) {
			t.Errorf("%s: %v", name, err)
		}
		if err != nil {
			continue
		}
		sampled++
		rnd := rand.New(rand.NewPCG(4, 7))
		var in bytes.Buffer
		var tints [][4]float64
		for range 1000 {
			var v [4]float64
			for k := range v {
				v[k] = float64(rnd.IntN(256)) / 255
			}
			tints = append(tints, v)
			fmt.Fprintf(&in, "%.6f %.6f %.6f %.6f\n", 100*v[0], 100*v[1], 100*v[2], 100*v[3])
		}
		cmd := exec.Command(program, "-i", path, "-o", "*Lab2", "-t3", "-n", "-c0")
		cmd.Stdin = &in
		text, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(string(text)), "\n")
		if len(lines) != len(tints) {
			t.Fatalf("%d lines", len(lines))
		}
		var layers []look.Layer
		for i, n := range colourant.ProcessNames {
			layers = append(layers, look.Layer{Toner: &press.Toner{Name: n, Kind: colourant.Process}, Plate: i})
		}
		own := &press.Stock{Name: "own", Front: process.White(), Surface: press.SurfaceCoated, Gloss: press.GlossHigh}
		model, err := look.NewModelFor(look.Conditions{Stock: own, Side: press.Front, Layers: layers, Process: process})
		if err != nil {
			t.Fatal(err)
		}
		sum, worst, ofModel := 0.0, 0.0, 0.0
		for i, line := range lines {
			var want press.Lab
			if _, err := fmt.Sscan(line, &want[0], &want[1], &want[2]); err != nil {
				t.Fatal(err)
			}
			d := look.Difference(process.Lab(tints[i]), want)
			sum += d / float64(len(lines))
			worst = max(worst, d)
			var plates []uint8
			for _, v := range tints[i] {
				plates = append(plates, uint8(math.Round(255*v)))
			}
			ofModel += look.Difference(model.Lab(plates), want) / float64(len(lines))
		}
		if sum > .1 || worst > .5 || ofModel > .1 {
			t.Errorf("%s: %.3f apart in the mean, %.2f at most; %.3f as the model shows it", name, sum, worst, ofModel)
		}
	}
	if sampled == 0 {
		t.Skip("no CMYK profiles on this machine")
	}
}

// tableOf writes 81 patches whose colours a surface can have.
func tableOf(black string) string {
	var b strings.Builder
	b.WriteString("CGATS.17\nBEGIN_DATA_FORMAT\nCMYK_C CMYK_M CMYK_Y " + black + " LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n")
	levels := []float64{0, 40, 100}
	for _, c := range levels {
		for _, m := range levels {
			for _, y := range levels {
				for _, k := range levels {
					l := (1 - .002*c) * (1 - .003*m) * (1 - .0005*y) * (1 - .008*k)
					fmt.Fprintf(&b, "%g %g %g %g %.4f %.4f %.4f\n", c, m, y, k, 95*l, (.3*m-.2*c)*l, .4*y*l)
				}
			}
		}
	}
	b.WriteString("END_DATA\n")
	return b.String()
}

func TestWhatTellsTheLookOfProcessToners(t *testing.T) {
	real, arithmetic := cmykProfile(t, "default_cmyk.icc"), cmykProfile(t, "ps_cmyk.icc")
	dir := t.TempDir()
	text, _ := press.ShippedPress(press.PressNames()[0])
	write := func(name, data string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("real.icc", string(real))
	write("patches.txt", tableOf("CMYK_K"))
	write("other.txt", tableOf("GOLD"))
	write("both.txt", tableOf("GOLD")+tableOf("CMYK_K"))
	profiled := write("profiled.yaml", string(text)+"profile: real.icc\n")
	measured := write("measured.yaml", string(text)+"profile: real.icc\ncharacterisation: patches.txt\n")
	second := write("second.yaml", string(text)+"characterisation: both.txt\n")
	wrong := write("wrong.yaml", string(text)+"characterisation: other.txt\n")
	gone := write("gone.yaml", string(text)+"characterisation: nowhere.txt\n")

	f := pdfbuild.New()
	a, b := f.Stream("/N 4", string(real)), f.Stream("/N 4", string(arithmetic))
	f.Page(10, 10, "", "1 0 0 rg 0 0 9 9 re f")
	f.Page(10, 10, "", "", fmt.Sprintf("/OutputIntents [<< /S /GTS_PDFX /DestOutputProfile %d 0 R >>]", a))
	f.Page(10, 10, "", "", fmt.Sprintf("/OutputIntents [<< /S /GTS_PDFX /DestOutputProfile %d 0 R >>]", b))
	file := write("artwork.pdf", string(f.Bytes()))

	const none, byProfile, byPatches = 0, 6561, 81
	for _, c := range []struct {
		name, press  string
		page, nodes  int
		told, refuse string
	}{
		{"nothing", "", 1, none, "", ""},
		{"the file's output intent", "", 2, byProfile, "", ""},
		{"an output intent that is arithmetic", "", 3, none, "process-look-unknown", ""},
		{"the press's profile", profiled, 1, byProfile, "", ""},
		{"the press's profile before the file's", profiled, 3, byProfile, "", ""},
		{"patches before a profile", measured, 2, byPatches, "", ""},
		{"the second table", second, 1, byPatches, "", ""},
		{"patches of another set", wrong, 1, none, "", "no tints of Black"},
		{"no file", gone, 1, none, "", "key characterisation"},
	} {
		s, err := NewSetup(SetupOptions{Press: c.press})
		if err != nil {
			t.Fatal(err)
		}
		art, err := s.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		sink := &finding.Collector{}
		p, err := art.process(s, c.page, sink)
		again, _ := art.process(s, c.page, sink)
		art.Close()
		switch {
		case c.refuse != "":
			if err == nil || !strings.Contains(err.Error(), c.refuse) {
				t.Errorf("%s: %v, want %q", c.name, err, c.refuse)
			}
		case err != nil:
			t.Errorf("%s: %v", c.name, err)
		case p == nil && c.nodes != none, p != nil && p.Nodes() != c.nodes:
			t.Errorf("%s: %v, want %d nodes", c.name, p, c.nodes)
		case p != again:
			t.Errorf("%s: worked out twice", c.name)
		}
		if told := len(sink.Sorted()) > 0; told != (c.told != "") {
			t.Errorf("%s: %v", c.name, sink.Sorted())
		}
	}
}
