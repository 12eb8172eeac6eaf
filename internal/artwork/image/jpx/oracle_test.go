package jpx

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// invented draws a picture with edges, ramps and texture: n components of bits bits, planar.
func invented(w, h, n, bits int) [][]int {
	top := 1<<bits - 1
	out := make([][]int, n)
	seed := uint32(1)
	for c := range out {
		out[c] = make([]int, w*h)
		for y := range h {
			for x := range w {
				v := (0.5 + 0.3*math.Sin(float64(x*(c+1))/17)*math.Cos(float64(y)/(11+float64(c)))) * float64(top)
				if (x-w/2)*(x-w/2)+(y-h/2)*(y-h/2) < (w*h)/16 {
					v = float64(top) * float64((x+y+c*5)%23) / 22
				}
				seed = seed*1664525 + 1013904223
				v += float64(seed>>24) / 255 * float64(top) / 40
				out[c][y*w+x] = max(0, min(top, int(v)))
			}
		}
	}
	return out
}

// raw is the input of the encoder: planar, 8 or 16 bits little-endian.
func raw(planes [][]int, bits int) []byte {
	var b bytes.Buffer
	for _, p := range planes {
		for _, v := range p {
			b.WriteByte(byte(v))
			if bits > 8 {
				b.WriteByte(byte(v >> 8))
			}
		}
	}
	return b.Bytes()
}

func encode(t testing.TB, planes [][]int, w, h, bits int, format string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath("opj_compress"); err != nil {
		t.Skip("the encoder is not here")
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.rawl"), filepath.Join(dir, "out."+format)
	if err := os.WriteFile(in, raw(planes, bits), 0o600); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(args, " "), "-F ") {
		args = append(args, "-F", fmt.Sprintf("%d,%d,%d,%d,u", w, h, len(planes), bits))
	}
	msg, err := exec.Command("opj_compress", append([]string{"-i", in, "-o", out}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	return b
}

// foreign decodes with the other program: one plane after the other.
func foreign(t testing.TB, data []byte, format string, n, size, bits int) [][]int {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in."+format), filepath.Join(dir, "out.rawl")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command("opj_decompress", "-i", in, "-o", out).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	planes := make([][]int, n)
	for c := range planes {
		for range size {
			v := int(b[0])
			b = b[1:]
			if bits > 8 {
				v |= int(b[0]) << 8
				b = b[1:]
			}
			planes[c] = append(planes[c], v)
		}
	}
	return planes
}

// decoded is what our decoder makes of it, unscaled.
func decoded(t testing.TB, data []byte, workers int) (*Picture, [][]int) {
	t.Helper()
	f, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	all := make([]int, len(f.Channels))
	for i := range all {
		all[i] = i
	}
	p, err := f.Decode(Options{Channels: all, Alpha: -1, Raw: true, Workers: workers})
	if err != nil {
		t.Fatal(err)
	}
	planes := make([][]int, len(all))
	for i := range p.Width * p.Height {
		for c := range planes {
			at := i*len(planes) + c
			if p.Bits == 8 {
				planes[c] = append(planes[c], int(p.Data[at]))
			} else {
				planes[c] = append(planes[c], int(p.Data[2*at])<<8|int(p.Data[2*at+1]))
			}
		}
	}
	return p, planes
}

func worst(a, b [][]int) (most, count int) {
	for c := range a {
		for i := range a[c] {
			d := a[c][i] - b[c][i]
			if d < 0 {
				d = -d
			}
			if d > 0 {
				count++
			}
			most = max(most, d)
		}
	}
	return most, count
}

var ways = []struct {
	name       string
	w, h, n    int
	bits       int
	format     string
	args       string
	tolerance  int // against the other decoder
	asOriginal bool
}{
	{"gray lossless", 123, 77, 1, 8, "j2k", "", 0, true},
	{"RGB lossless", 123, 77, 3, 8, "jp2", "", 0, true},
	{"one level", 123, 77, 1, 8, "j2k", "-n 2", 0, true},
	{"no wavelet", 65, 63, 1, 8, "j2k", "-n 1", 0, true},
	{"few pixels", 3, 5, 1, 8, "j2k", "-n 2", 0, true},
	{"one pixel", 1, 1, 3, 8, "j2k", "-n 1", 0, true},
	{"one column", 1, 40, 1, 8, "j2k", "-n 1", 0, true},
	{"CMYK", 90, 60, 4, 8, "j2k", "", 0, true},
	{"12 bits", 90, 60, 1, 12, "j2k", "", 0, true},
	{"16 bits", 90, 60, 3, 16, "j2k", "", 0, true},
	{"4 bits", 90, 60, 1, 4, "j2k", "", 0, true},
	{"1 bit", 90, 60, 1, 1, "j2k", "", 0, true},
	{"layers LRCP", 200, 150, 3, 8, "j2k", "-r 40,10,1 -p LRCP", 0, true},
	{"layers RLCP", 200, 150, 3, 8, "j2k", "-r 40,10,1 -p RLCP", 0, true},
	{"layers RPCL", 200, 150, 3, 8, "j2k", "-r 40,10,1 -p RPCL -c [64,64],[32,32]", 0, true},
	{"layers PCRL", 200, 150, 3, 8, "j2k", "-r 40,10,1 -p PCRL -c [64,64],[32,32]", 0, true},
	{"layers CPRL", 200, 150, 3, 8, "j2k", "-r 40,10,1 -p CPRL -c [64,64],[32,32]", 0, true},
	{"tiles", 200, 150, 3, 8, "j2k", "-t 64,48", 0, true},
	{"tiles off the corner", 200, 150, 3, 8, "j2k", "-d 21,35 -T 5,9 -t 67,43 -p PCRL -c [32,32]", 0, true},
	{"tile-parts", 200, 150, 3, 8, "j2k", "-t 100,80 -TP R -p RLCP", 0, true},
	{"tile-parts of layers", 200, 150, 3, 8, "j2k", "-r 20,1 -t 100,80 -TP L -SOP -EPH -PLT -TLM", 0, true},
	{"small code-blocks", 200, 150, 1, 8, "j2k", "-b 4,16", 0, true},
	{"wide code-blocks", 300, 50, 1, 8, "j2k", "-b 64,4", 0, true},
	{"bypass", 200, 150, 1, 16, "j2k", "-M 1", 0, true},
	{"reset", 200, 150, 1, 8, "j2k", "-M 2", 0, true},
	{"each pass ends", 200, 150, 1, 8, "j2k", "-M 4", 0, true},
	{"vertically causal", 200, 150, 1, 8, "j2k", "-M 8", 0, true},
	{"predictable end", 200, 150, 1, 8, "j2k", "-M 20", 0, true},
	{"segmentation symbols", 200, 150, 1, 8, "j2k", "-M 32", 0, true},
	{"all styles", 200, 150, 3, 12, "j2k", "-M 63 -r 30,5,1", 0, true},
	{"bypass, each pass ends, layers", 200, 150, 1, 12, "j2k", "-M 5 -r 9,5,1", 0, true},
	{"changes of progression", 200, 150, 3, 8, "j2k", "-n 6 -POC T0=0,0,1,3,3,CPRL/T0=3,0,1,6,3,RLCP", 0, true},
	{"tall", 71, 1101, 1, 8, "j2k", "", 0, true},
	{"tall, tiles off the corner", 71, 1101, 3, 8, "j2k", "-n 3 -d 7,301 -T 3,100 -t 64,700 -b 16,64", 0, true},
	{"tall 9-7", 71, 1101, 3, 8, "j2k", "-I -r 6 -d 0,13 -b 64,8", 1, false},
	{"lossy 5-3", 200, 150, 3, 8, "j2k", "-r 20", 0, false},
	{"9-7", 200, 150, 3, 8, "j2k", "-I -r 10", 1, false},
	{"9-7 gray", 201, 151, 1, 8, "j2k", "-I -r 3 -d 3,1", 1, false},
	{"9-7 16 bits", 201, 151, 3, 16, "j2k", "-I -r 3", 4, false},
	{"9-7 tiles", 192, 150, 4, 8, "j2k", "-I -r 4 -t 64,64", 1, false},
	{"region of interest", 201, 151, 3, 8, "j2k", "-ROI c=1,U=7", 0, true},
}

// Every way of coding gives back the picture when it is lossless, and what another decoder makes of
// it when it is not. The number of goroutines does not matter.
func TestEveryWayOfCodingIsDecoded(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, tt := range ways {
		t.Run(tt.name, func(t *testing.T) {
			want := invented(tt.w, tt.h, tt.n, tt.bits)
			data := encode(t, want, tt.w, tt.h, tt.bits, tt.format, strings.Fields(tt.args)...)
			if !tt.asOriginal {
				want = foreign(t, data, tt.format, tt.n, tt.w*tt.h, tt.bits)
			}
			p, got := decoded(t, data, 1)
			if p.Damage != nil {
				t.Errorf("damage: %v", p.Damage)
			}
			if p.Width != tt.w || p.Height != tt.h || len(got) != tt.n {
				t.Fatalf("%d x %d x %d", p.Width, p.Height, len(got))
			}
			if most, count := worst(got, want); most > tt.tolerance {
				t.Errorf("%d samples differ, by up to %d", count, most)
			}
			if again, _ := decoded(t, data, 3); !bytes.Equal(again.Data, p.Data) {
				t.Error("three goroutines decode otherwise than one")
			}
			defer func(n int) { stripRows = n }(stripRows)
			for _, stripRows = range []int{6, 10_000} {
				if again, _ := decoded(t, data, 1); !bytes.Equal(again.Data, p.Data) {
					t.Errorf("strips of %d rows decode otherwise", stripRows)
				}
			}
		})
	}
}

func TestSubsampledComponentsAreRepeated(t *testing.T) {
	const w, h = 40, 30
	full, half := invented(w, h, 1, 8), invented(w/2, h/2, 2, 8)
	planes := [][]int{full[0], half[0], half[1]}
	data := encode(t, planes, w, h, 8, "j2k", "-F", fmt.Sprintf("%d,%d,3,8,u@1x1:2x2:2x2", w, h), "-mct", "0", "-n", "3", "-t", "16,16")
	p, got := decoded(t, data, 2)
	if p.Damage != nil || p.Width != w || p.Height != h {
		t.Fatalf("%d x %d, %v", p.Width, p.Height, p.Damage)
	}
	for y := range h {
		for x := range w {
			if a, b, c := got[0][y*w+x], got[1][y*w+x], got[2][y*w+x]; a != full[0][y*w+x] || b != half[0][y/2*w/2+x/2] || c != half[1][y/2*w/2+x/2] {
				t.Fatalf("pixel %d, %d is %d %d %d", x, y, a, b, c)
			}
		}
	}
}
