package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/look"
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
		sum, worst := 0.0, 0.0
		for i, line := range lines {
			var want press.Lab
			if _, err := fmt.Sscan(line, &want[0], &want[1], &want[2]); err != nil {
				t.Fatal(err)
			}
			d := look.Difference(process.Lab(tints[i]), want)
			sum += d / float64(len(lines))
			worst = max(worst, d)
		}
		if sum > .1 || worst > .5 {
			t.Errorf("%s: %.3f apart in the mean, %.2f at most", name, sum, worst)
		}
	}
	if sampled == 0 {
		t.Skip("no CMYK profiles on this machine")
	}
}
