package colour

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// realProfile is a profile that others made, as a file the independent engine can read.
type realProfile struct {
	name string // of the file, or the beginning of its hash
	path string
	p    *Profile
	err  error
}

// realProfiles are the profiles of the machine and those inside the public test PDFs, each once.
func realProfiles(t testing.TB) []realProfile {
	t.Helper()
	var all []realProfile
	seen := map[[32]byte]bool{}
	dir := t.TempDir()
	add := func(name string, data []byte) {
		sum := sha256.Sum256(data)
		if seen[sum] {
			return
		}
		seen[sum] = true
		if name == "" {
			name = hex.EncodeToString(sum[:4])
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := ParseProfile(data)
		all = append(all, realProfile{name, path, p, err})
	}
	for _, pattern := range []string{"/usr/share/color/icc/*.ic?", "/usr/share/color/icc/*/*.ic?"} {
		files, _ := filepath.Glob(pattern)
		for _, f := range files {
			if data, err := os.ReadFile(f); err == nil && len(data) >= 128 && profileChannels(data) != 0 {
				add(filepath.Base(f), data)
			}
		}
	}
	for _, data := range corpusProfiles() {
		add("", data)
	}
	if len(all) == 0 {
		t.Skip("no profiles on this machine")
	}
	return all
}

// corpusProfiles are the streams of the public test PDFs that look like profiles of 1, 3 or 4 channels.
var corpusProfiles = sync.OnceValue(func() (all [][]byte) {
	files, _ := filepath.Glob("../../../../shared/corpus/files/*.pdf")
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil || len(data) > 8<<20 {
			continue
		}
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
		if err != nil {
			continue
		}
		size, _ := doc.Int(doc.Trailer()["Size"])
		for i := range min(size, 20_000) {
			st, ok := doc.Stream(pdf.Ref{Num: i + 1})
			if !ok || st.Dict["N"] == nil {
				continue
			}
			if d, err := doc.Data(st); err == nil && len(d) >= 128 && string(d[36:40]) == "acsp" && profileChannels(d) != 0 {
				all = append(all, d)
			}
		}
	}
	return all
})

func TestRealProfilesAreRead(t *testing.T) {
	for _, r := range realProfiles(t) {
		if r.err != nil {
			t.Errorf("%s: %v", r.name, r.err)
			continue
		}
		t.Logf("%-20s version %d, %d channels, class %s, tables %t, prints %t, sRGB %t, white %.4f", r.name, r.p.Version(), r.p.n,
			r.p.file.class(), r.p.usesTables(), r.p.CanPrint(), r.p.srgb, r.p.white)
	}
}
