package image

import (
	"bytes"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// open builds a file with one image stream, object 3. Further objects may be added by more, whose
// numbers start at 4.
func open(t testing.TB, sink finding.Sink, dict, data string, more ...func(*pdfbuild.File)) (*Reader, *pdf.Stream) {
	t.Helper()
	f := pdfbuild.New()
	n := f.Stream(dict, data)
	for _, m := range more {
		m(f)
	}
	f.Page(10, 10, "/XObject << /Im "+pdfbuild.Ref(n)+" >>", "")
	b := f.Bytes()
	doc, err := pdf.Open(bytes.NewReader(b), int64(len(b)), pdf.Options{Sink: sink})
	if err != nil {
		t.Fatal(err)
	}
	s, ok := doc.Stream(pdf.Ref{Num: n})
	if !ok {
		t.Fatal("the image is not a stream")
	}
	return NewReader(doc, colour.NewReader(doc, sink), sink), s
}

// read decodes the image of such a file.
func read(t testing.TB, dict, data string, more ...func(*pdfbuild.File)) (*Image, []finding.Finding, error) {
	t.Helper()
	var sink finding.Collector
	r, s := open(t, &sink, dict, data, more...)
	im, err := r.Image(s, nil, finding.Place{Page: 1})
	return im, sink.Sorted(), err
}

func readTwice(t testing.TB, dict, data string) (a, b *Image) {
	t.Helper()
	r, s := open(t, finding.Discard, dict, data)
	a, _ = r.Image(s, nil, finding.Place{Page: 1})
	b, _ = r.Image(s, nil, finding.Place{Page: 2})
	return a, b
}

func has(fs []finding.Finding, id finding.ID) bool {
	for _, f := range fs {
		if f.ID == id {
			return true
		}
	}
	return false
}

func TestSamplesKeepTheirDepth(t *testing.T) {
	tests := []struct {
		bits string
		data string
		want []int
	}{
		{"1", "\xa0", []int{1, 0, 1}},
		{"2", "\x1b", []int{0, 1, 2}},
		{"4", "\x1f\x80", []int{1, 15, 8}},
		{"8", "\x01\x80\xff", []int{1, 128, 255}},
		{"16", "\x01\x02\x80\x00\xff\xff", []int{258, 32768, 65535}},
	}
	for _, tt := range tests {
		im, fs, err := read(t, "/Subtype /Image /Width 3 /Height 1 /ColorSpace /DeviceGray /BitsPerComponent "+tt.bits, tt.data)
		if err != nil || len(fs) > 0 {
			t.Fatalf("%s bits: %v %v", tt.bits, err, fs)
		}
		for x, want := range tt.want {
			if got := im.Sample(x, 0, 0); got != want {
				t.Errorf("%s bits, sample %d is %d, want %d", tt.bits, x, got, want)
			}
		}
	}
}
