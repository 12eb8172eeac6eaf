package jpx

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var remake = flag.Bool("remake", false, "make testdata anew with opj_compress")

// kept are samples of invented pictures in testdata, so that tests need no other program.
var kept = []struct {
	name          string
	w, h, n, bits int
	args          string
	tolerance     int
}{
	{"gray", 21, 17, 1, 8, "-n 3", 0},
	{"rgb-tiles", 21, 17, 3, 8, "-n 2 -d 3,5 -t 12,9 -p PCRL -c [8,8] -SOP -EPH", 0},
	{"four", 21, 17, 4, 8, "-n 3 -p CPRL -TP C", 0},
	{"twelve-bits-all-styles", 21, 17, 1, 12, "-n 3 -M 63 -r 4,1 -b 8,8", 0},
	{"bypass", 21, 17, 1, 16, "-n 2 -M 1", 0},
	{"layers", 33, 29, 1, 8, "-n 3 -r 8,3,1 -p RLCP -b 8,8", 0},
	{"wavelet-9-7", 33, 29, 3, 8, "-n 4 -I -r 1.5", 3},
	{"one-bit", 22, 17, 1, 1, "-n 2", 0},
}

func sample(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name+".j2k"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestKeptSamplesDecode(t *testing.T) {
	for _, k := range kept {
		want := invented(k.w, k.h, k.n, k.bits)
		if *remake {
			data := encode(t, want, k.w, k.h, k.bits, "j2k", strings.Fields(k.args)...)
			if err := os.WriteFile(filepath.Join("testdata", k.name+".j2k"), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		p, got := decoded(t, sample(t, k.name), 1)
		if p.Damage != nil {
			t.Errorf("%s: %v", k.name, p.Damage)
		}
		if most, count := worst(got, want); most > k.tolerance {
			t.Errorf("%s: %d samples differ, by up to %d", k.name, count, most)
		}
		for _, stripRows = range []int{1, 2, 7, 256} {
			if again, _ := decoded(t, sample(t, k.name), 1); !bytes.Equal(again.Data, p.Data) {
				t.Errorf("%s: strips of %d rows decode otherwise", k.name, stripRows)
			}
		}
	}
}

func box(kind string, body ...byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(8+len(body)))
	return append(append(b, kind...), body...)
}

// jp2 puts boxes and a codestream into a file.
func jp2(stream []byte, header ...[]byte) []byte {
	b := box("jP  ", 13, 10, 0x87, 10)
	b = append(b, box("jp2h", bytes.Join(header, nil)...)...)
	return append(b, box("jp2c", stream...)...)
}

func enumerated(space byte) []byte { return box("colr", 1, 0, 0, 0, 0, 0, space) }

func TestBoxesTellColourAndChannels(t *testing.T) {
	four := sample(t, "four")
	tests := []struct {
		name     string
		data     []byte
		colours  int
		opacity  int
		space    int
		profile  string
		channels []int // components
	}{
		{"no boxes", four, 4, -1, 0, "", []int{0, 1, 2, 3}},
		{"CMYK", jp2(four, enumerated(12)), 4, -1, 12, "", []int{0, 1, 2, 3}},
		{"profile", jp2(four, box("colr", 2, 0, 0, 'i', 'c', 'c')), 4, -1, 0, "icc", []int{0, 1, 2, 3}},
		{"opacity last", jp2(four, enumerated(16), box("cdef", 0, 4, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 2, 0, 2, 0, 0, 0, 3, 0, 3, 0, 1, 0, 0)), 3, 3, 16, "", []int{0, 1, 2, 3}},
		{"premultiplied first, blue green red", jp2(four, enumerated(16), box("cdef", 0, 4, 0, 0, 0, 2, 0, 0, 0, 1, 0, 0, 0, 3, 0, 2, 0, 0, 0, 2, 0, 3, 0, 0, 0, 1)), 3, 3, 16, "", []int{3, 2, 1, 0}},
		{"opacity of one colour", jp2(four, box("cdef", 0, 1, 0, 3, 0, 1, 0, 2)), 3, -1, 0, "", []int{0, 1, 2, 3}},
		{"garbage before the codestream", append([]byte("garbage"), four...), 4, -1, 0, "", []int{0, 1, 2, 3}},
	}
	for _, tt := range tests {
		f, err := Parse(tt.data)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if f.ColourChannels() != tt.colours || f.Opacity() != tt.opacity {
			t.Errorf("%s: %d colours, opacity %d", tt.name, f.ColourChannels(), f.Opacity())
		}
		if tt.space != 0 && (len(f.Colours) != 1 || f.Colours[0].Enumerated != tt.space) || tt.profile != "" && string(f.Colours[0].Profile) != tt.profile {
			t.Errorf("%s: %+v", tt.name, f.Colours)
		}
		for i, c := range f.Channels {
			if c.component != tt.channels[i] {
				t.Errorf("%s: channel %d is component %d", tt.name, i, c.component)
			}
		}
	}
}

func TestPaletteIsAppliedUnlessIndicesAreWanted(t *testing.T) {
	pclr := []byte{0, 2, 2, 7, 3, 10, 1, 20, 15} // two entries of 8 and 4 bits
	data := jp2(sample(t, "one-bit"), box("pclr", pclr...), box("cmap", 0, 0, 1, 1, 0, 0, 1, 0))
	f, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	bits := invented(22, 17, 1, 1)[0]
	p, err := f.Decode(Options{Channels: []int{0, 1}, Alpha: -1})
	if err != nil {
		t.Fatal(err)
	}
	q, err := f.Decode(Options{Channels: []int{0}, Alpha: -1, Raw: true})
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range bits {
		// The first channel is the column of 4 bits, scaled to 8.
		if want := [][2]byte{{17, 10}, {255, 20}}[v]; p.Data[2*i] != want[0] || p.Data[2*i+1] != want[1] || q.Data[i] != byte(v) {
			t.Fatalf("sample %d: %d %d and %d", i, p.Data[2*i], p.Data[2*i+1], q.Data[i])
		}
	}
}

func TestSamplesAreScaledToTheFullRange(t *testing.T) {
	for _, k := range kept {
		f, err := Parse(sample(t, k.name))
		if err != nil {
			t.Fatal(err)
		}
		p, err := f.Decode(Options{Channels: []int{0}, Alpha: -1})
		if err != nil {
			t.Fatal(err)
		}
		from, to := 1<<k.bits-1, 255
		if k.bits > 8 {
			to = 65535
		}
		for i, v := range invented(k.w, k.h, k.n, k.bits)[0] {
			got := int(p.Data[i*p.Bits/8])
			if p.Bits == 16 {
				got = got<<8 | int(p.Data[2*i+1])
			}
			if d := got - (v*to+from/2)/from; d > k.tolerance || d < -k.tolerance {
				t.Fatalf("%s: sample %d is %d, from %d", k.name, i, got, v)
			}
		}
	}
}

// Cut at any byte, the data gives a picture of the right size or none, and what stands before the
// cut in order of tiles is as it was.
func TestCutDataShowsWhatIsThere(t *testing.T) {
	data := sample(t, "rgb-tiles")
	whole, _ := decoded(t, data, 1)
	for n := range data {
		f, err := Parse(data[:n])
		if err != nil {
			continue
		}
		p, err := f.Decode(Options{Channels: []int{0, 1, 2}, Alpha: -1, Raw: true, Workers: 1})
		if err != nil {
			t.Fatalf("cut at %d: %v", n, err)
		}
		if len(p.Data) != len(whole.Data) {
			t.Fatalf("cut at %d: %d bytes", n, len(p.Data))
		}
		if p.Damage == nil && n < len(data)-2 {
			t.Fatalf("cut at %d: no damage is told", n)
		}
		if n > len(data)*9/10 && !bytes.Equal(p.Data[:3*21*4], whole.Data[:3*21*4]) {
			t.Fatalf("cut at %d: the first rows differ", n)
		}
	}
}

func TestLimitsHoldBeforeMemoryIsTaken(t *testing.T) {
	data := bytes.Clone(sample(t, "gray"))
	size := func(w, h uint32) []byte {
		b := bytes.Clone(data)
		for i, v := range map[int]uint32{8: w, 12: h, 24: w, 28: h} {
			binary.BigEndian.PutUint32(b[i:], v)
		}
		return b
	}
	for _, s := range [][2]uint32{{1 << 31, 1}, {1 << 19, 1 << 19}, {100_000, 100_000}} {
		if _, err := Parse(size(s[0], s[1])); err == nil || !strings.Contains(err.Error(), ErrTooLarge.Error()) {
			t.Errorf("%d x %d: %v", s[0], s[1], err)
		}
	}
	f, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Decode(Options{Channels: []int{0}, Alpha: -1, MaxBytes: 100}); err == nil {
		t.Error("more bytes than are allowed")
	}
}

func FuzzDecode(f *testing.F) {
	for _, k := range kept {
		f.Add(sample(f, k.name))
	}
	f.Add(jp2(sample(f, "one-bit"), enumerated(17), box("pclr", 0, 2, 2, 7, 3, 10, 1, 20, 15), box("cmap", 0, 0, 1, 1, 0, 0, 1, 0)))
	f.Add(jp2(sample(f, "four"), enumerated(16), box("cdef", 0, 1, 0, 3, 0, 1, 0, 0)))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Parse(data)
		if err != nil {
			return
		}
		if file.Width*file.Height > 1<<16 || len(file.Channels) > 8 {
			return
		}
		opt := Options{Alpha: file.Opacity(), Workers: 1}
		for i := range file.Channels {
			opt.Channels = append(opt.Channels, i)
		}
		p, err := file.Decode(opt)
		if err != nil {
			return
		}
		if size := file.Width * file.Height * p.Bits / 8; len(p.Data) != size*len(opt.Channels) || opt.Alpha >= 0 && len(p.Alpha) != size {
			t.Fatalf("%d bytes of samples, %d of opacity", len(p.Data), len(p.Alpha))
		}
		opt.Workers = 3
		again, err := file.Decode(opt)
		if err != nil || !bytes.Equal(again.Data, p.Data) || !bytes.Equal(again.Alpha, p.Alpha) {
			t.Fatal("three goroutines decode otherwise than one")
		}
	})
}

// A picture of one colour may hold no code-block at all.
func TestPictureWithoutCodeBlocks(t *testing.T) {
	data := sample(t, "gray")
	at := bytes.Index(data, []byte{0xff, markSOD & 0xff}) + 2
	empty := append(bytes.Clone(data[:at]), 0, 0, 0, 0xff, markEOC&0xff) // three packets that hold nothing
	binary.BigEndian.PutUint32(empty[bytes.Index(empty, []byte{0xff, markSOT & 0xff})+6:], 0)
	p, got := decoded(t, empty, 1)
	if p.Damage != nil {
		t.Error(p.Damage)
	}
	for i, v := range got[0] {
		if v != 128 {
			t.Fatalf("sample %d is %d", i, v)
		}
	}
}

// The bytes of the 9-7 wavelet are pinned: they are the same on every machine and for every GOAMD64.
func TestBytesOfTheIrreversibleWavelet(t *testing.T) {
	p, _ := decoded(t, sample(t, "wavelet-9-7"), 1)
	if got := fmt.Sprintf("%x", sha256.Sum256(p.Data))[:16]; got != "8c6054f939fed28e" {
		t.Errorf("%s", got)
	}
}
