package pdf_test

import (
	"bytes"
	"compress/flate"
	"io"
	"math/rand/v2"
	"testing"

	"laydown/internal/artwork/pdf"
)

// Does the fast inflater give the bytes of the standard library's, also of data that is damaged, up to the damage?
func TestInflateAsTheStandardLibrary(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for round := range 400 {
		text := make([]byte, rng.IntN(100_000))
		for i := range text {
			text[i] = byte(rng.IntN(1 + rng.IntN(256)))
			if i > 100 && rng.IntN(3) > 0 {
				text[i] = text[i-1-rng.IntN(100)]
			}
		}
		var b bytes.Buffer
		w, err := flate.NewWriter(&b, round%11-2)
		if err != nil {
			t.Fatal(err)
		}
		w.Write(text)
		w.Close()
		data := b.Bytes()
		if round%2 == 1 {
			data = mutate(rng, data)
		}
		want, werr := io.ReadAll(flate.NewReader(bytes.NewReader(data)))
		s := pdf.NewStream(pdf.Dict{"Filter": pdf.Name("FlateDecode")}, append([]byte{0x78, 0x9C}, data...), false)
		r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody)
		r.table("/Root 1 0 R /Size 4", 0, 1, 2, 3)
		d, _ := open(t, append(r.Bytes(), bytes.Repeat([]byte(" "), 1<<20)...))
		got, err := d.Data(s)
		if len(want) > 0 && !bytes.Equal(got, want) || (err == nil) != (werr == nil) {
			t.Fatalf("round %d: %d bytes, %v; the standard library %d, %v", round, len(got), err, len(want), werr)
		}
	}
}
