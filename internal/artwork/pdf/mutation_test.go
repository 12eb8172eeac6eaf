package pdf_test

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// mutate damages a copy of data as disks, mail programs and careless writers do.
func mutate(rng *rand.Rand, data []byte) []byte {
	out := append([]byte(nil), data...)
	for range 1 + rng.IntN(4) {
		n := len(out)
		if n < 16 {
			break
		}
		at := rng.IntN(n)
		switch rng.IntN(8) {
		case 0: // cut short
			out = out[:at]
		case 1: // bytes lost
			out = append(out[:at], out[min(n, at+1+rng.IntN(200)):]...)
		case 2: // bytes added
			out = append(out[:at], append(bytes.Repeat([]byte{byte(rng.IntN(256))}, 1+rng.IntN(50)), out[at:]...)...)
		case 3: // a block overwritten
			for i := at; i < min(n, at+1+rng.IntN(500)); i++ {
				out[i] = byte(rng.IntN(256))
			}
		case 4: // digits changed
			for i := at; i < min(n, at+2000); i++ {
				if out[i] >= '0' && out[i] <= '9' && rng.IntN(20) == 0 {
					out[i] = byte('0' + rng.IntN(10))
				}
			}
		case 5: // a block copied elsewhere
			to := rng.IntN(n)
			copy(out[to:], append([]byte(nil), out[at:min(n, at+rng.IntN(2000))]...))
		case 6: // a keyword lost
			words := []string{"endobj", "endstream", "stream", "xref", "trailer", "startxref", ">>", "]", "/Kids", "/Length", "/Root", "/Pages"}
			w := []byte(words[rng.IntN(len(words))])
			if i := bytes.Index(out[at:], w); i >= 0 {
				copy(out[at+i:], bytes.Repeat([]byte(" "), len(w)))
			}
		case 7: // line ends converted
			if rng.IntN(2) == 0 {
				out = bytes.ReplaceAll(out, []byte("\r\n"), []byte("\n"))
			} else {
				out = bytes.ReplaceAll(out, []byte("\n"), []byte("\r\n"))
			}
		}
	}
	return out
}

// Does damage of every kind end in a reading or a clear error, quickly, and can the reading be written?
func TestDamagedCorpus(t *testing.T) {
	rounds := 2
	if testing.Short() {
		rounds = 1
	}
	for i, name := range corpusFiles(t) {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for round := range rounds {
			checkMutation(t, filepath.Base(name), data, uint64(i), uint64(round))
		}
	}
}

func checkMutation(t *testing.T, name string, data []byte, seed, round uint64) {
	t.Helper()
	bad := mutate(rand.New(rand.NewPCG(seed, round)), data)
	start := time.Now()
	var sink finding.Collector
	d, err := pdf.Open(bytes.NewReader(bad), int64(len(bad)), pdf.Options{Sink: &sink})
	if err != nil {
		return
	}
	readEverything(d)
	out, _ := update(t, d, false)
	e, err := pdf.Open(bytes.NewReader(out), int64(len(out)), pdf.Options{})
	if err != nil || e.NumPages() != d.NumPages() {
		t.Errorf("%s, round %d: written anew it does not read the same: %v", name, round, err)
	}
	if took := time.Since(start); took > 60*time.Second {
		t.Errorf("%s, round %d: took %v", name, round, took)
	}
}
