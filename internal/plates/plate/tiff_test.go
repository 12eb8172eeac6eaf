package plate

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// tiffTags is a reader of the tests' own: fields of the first directory as raw bytes.
type tiffTags struct {
	data []byte
	tag  map[uint16][]byte
	kind map[uint16]uint16
	last uint16
}

func parseTIFF(t *testing.T, data []byte) *tiffTags {
	t.Helper()
	le := binary.LittleEndian
	x := &tiffTags{data: data, tag: map[uint16][]byte{}, kind: map[uint16]uint16{}}
	big := le.Uint16(data[2:]) == 43
	var p uint64
	var n int
	if big {
		if le.Uint16(data[4:]) != 8 || le.Uint16(data[6:]) != 0 {
			t.Fatal("BigTIFF header is wrong")
		}
		p = le.Uint64(data[8:])
		n, p = int(le.Uint64(data[p:])), p+8
	} else {
		if string(data[:4]) != "II\x2a\x00" {
			t.Fatal("TIFF header is wrong")
		}
		p = uint64(le.Uint32(data[4:]))
		n, p = int(le.Uint16(data[p:])), p+2
	}
	for range n {
		tag, kind := le.Uint16(data[p:]), le.Uint16(data[p+2:])
		if tag <= x.last {
			t.Fatalf("tag %d after %d", tag, x.last)
		}
		x.last = tag
		size := map[uint16]uint64{2: 1, 3: 2, 4: 4, 5: 8, 16: 8}[kind]
		if big {
			bytes := le.Uint64(data[p+4:]) * size
			at := p + 12
			if bytes > 8 {
				at = le.Uint64(data[at:])
			}
			x.tag[tag] = data[at : at+bytes]
			p += 20
		} else {
			bytes := uint64(le.Uint32(data[p+4:])) * size
			at := p + 8
			if bytes > 4 {
				at = uint64(le.Uint32(data[at:]))
			}
			x.tag[tag] = data[at : at+bytes]
			p += 12
		}
		x.kind[tag] = kind
	}
	return x
}

func (x *tiffTags) numbers(tag uint16) []uint64 {
	var out []uint64
	b := x.tag[tag]
	for len(b) > 0 {
		switch x.kind[tag] {
		case 3:
			out, b = append(out, uint64(binary.LittleEndian.Uint16(b))), b[2:]
		case 16:
			out, b = append(out, binary.LittleEndian.Uint64(b)), b[8:]
		default:
			out, b = append(out, uint64(binary.LittleEndian.Uint32(b))), b[4:]
		}
	}
	return out
}

func writeTIFF(t *testing.T, s *Stack, rows int, compress, big bool) []byte {
	t.Helper()
	w := &TIFFWriter{Path: filepath.Join(t.TempDir(), "plates.tif"), Compress: compress, forceBig: big, stripSize: 1 << 14}
	if err := s.Replay(w, rows); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(w.Path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestTIFFHoldsThePlates(t *testing.T) {
	s := randomStack(401, 300, 2) // more than one strip
	s.DPI = 600
	for _, compress := range []bool{false, true} {
		for _, big := range []bool{false, true} {
			data := writeTIFF(t, s, 64, compress, big)
			x := parseTIFF(t, data)
			for tag, want := range map[uint16][]uint64{
				256: {401}, 257: {300}, 258: {8, 8, 8, 8, 8, 8, 8}, 262: {5}, 277: {7}, 284: {2}, 296: {2}, 332: {2}, 334: {7}, 336: {0, 255}, 282: {600000, 1000},
				259: {map[bool]uint64{false: 1, true: 8}[compress]}, 278: {1 << 14 / 401},
			} {
				got := x.numbers(tag)
				if len(got) != len(want) {
					t.Fatalf("tag %d is %v, want %v", tag, got, want)
				}
				for i := range got {
					if got[i] != want[i] {
						t.Errorf("tag %d is %v, want %v", tag, got, want)
					}
				}
			}
			if got, want := string(x.tag[333]), "Cyan\x00Magenta\x00Yellow\x00Black\x00White\x00spot white\x00white\x00"; got != want {
				t.Errorf("InkNames %q, want %q", got, want)
			}
			offsets, counts := x.numbers(273), x.numbers(279)
			strips := len(offsets) / 7
			for i := range 7 {
				var plane []byte
				for k := range strips {
					strip := data[offsets[i*strips+k]:][:counts[i*strips+k]]
					if compress {
						strip = inflate(t, strip)
						for p := range strip {
							if p%401 != 0 {
								strip[p] += strip[p-1]
							}
						}
					}
					plane = append(plane, strip...)
				}
				want := s.Plane(i)
				if want == nil {
					want = make([]byte, 401*300)
				}
				if !bytes.Equal(plane, want) {
					t.Errorf("compress %v, big %v: plane %d differs from the plate", compress, big, i)
				}
			}
		}
	}
}

func inflate(t *testing.T, data []byte) []byte {
	t.Helper()
	z, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestTIFFBytesDoNotDependOnTheBands(t *testing.T) {
	s := randomStack(300, 800, 3)
	for _, compress := range []bool{false, true} {
		want := writeTIFF(t, s, 800, compress, false)
		for _, rows := range []int{7, 64, 54, 55} {
			if !bytes.Equal(want, writeTIFF(t, s, rows, compress, false)) {
				t.Errorf("compress %v: bands of %d rows give another file", compress, rows)
			}
		}
	}
}

func TestProcessOnlyTIFFIsMarkedCMYK(t *testing.T) {
	x := parseTIFF(t, writeTIFF(t, testStack(testHeader(1, 1), map[string]string{"Cyan": "9"}), 1, false, false))
	if x.numbers(332)[0] != 1 || x.tag[333] != nil {
		t.Errorf("InkSet %v, InkNames %q", x.numbers(332), x.tag[333])
	}
}

// A page whose plates take more than 4 GB needs 64-bit offsets; untouched plates are holes.
func TestHugeTIFFIsBigAndSparse(t *testing.T) {
	h := testHeader(27000, 28000, "a", "b")
	path := filepath.Join(t.TempDir(), "huge.tif")
	w := &TIFFWriter{Path: path}
	if err := w.Begin(h); err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for y := 0; y < h.Height; y += 1000 {
		b := &Band{Y0: y, Rows: 1000, Planes: make([][]byte, 6)}
		if err := w.Band(b); err != nil {
			t.Fatal(err)
		}
	}
	if !w.big {
		t.Fatal("written as a classic TIFF")
	}
	if err := w.End(); err != nil {
		t.Skipf("no file of this size can be made here: %v", err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	r := &tiffReader{r: f, size: info.Size(), fields: map[uint16][]uint64{}}
	if err := r.directory(); err != nil {
		t.Fatal(err)
	}
	offsets := r.fields[tagStripOffsets]
	if last := offsets[len(offsets)-1]; last < 1<<32 {
		t.Errorf("the last strip lies at %d", last)
	}
	if got, err := r.header(); err != nil || got.Width != h.Width || got.Height != h.Height {
		t.Errorf("header %v, %v", got, err)
	}
}

func TestReadTIFFGivesThePlatesBack(t *testing.T) {
	s := randomStack(501, 300, 4)
	s.DPI = 600
	for _, compress := range []bool{false, true} {
		for _, big := range []bool{false, true} {
			data := writeTIFF(t, s, 64, compress, big)
			got, err := readTIFF(bytes.NewReader(data), int64(len(data)))
			if err != nil {
				t.Fatal(err)
			}
			if d := Diff(s, got); !d.Equal() || got.DPI != 600 {
				t.Errorf("compress %v, big %v: %v", compress, big, d)
			}
			if got.Plane(2) != nil {
				t.Error("an untouched plate takes memory")
			}
		}
	}
}

// Damaged files end in an error or in plates of the size they say.
func FuzzReadTIFF(f *testing.F) {
	s := testStack(testHeader(3, 2, "White"), map[string]string{"White": "123 456"})
	for _, compress := range []bool{false, true} {
		w := &TIFFWriter{Path: filepath.Join(f.TempDir(), "a.tif"), Compress: compress, forceBig: compress}
		if err := s.Replay(w, 2); err != nil {
			f.Fatal(err)
		}
		data, err := os.ReadFile(w.Path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := readTIFF(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		for i := range s.Set.Len() {
			if p := s.Plane(i); p != nil && len(p) != s.Width*s.Height {
				t.Errorf("plate %d has %d bytes for %d x %d", i, len(p), s.Width, s.Height)
			}
		}
	})
}
