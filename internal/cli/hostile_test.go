package cli

import (
	"bytes"
	"compress/flate"
	"compress/zlib"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"laydown/internal/pdfbuild"
)

// build makes the program.
func build(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "laydown")
	if out, err := exec.Command("go", "build", "-o", program, "laydown/cmd/laydown").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return program
}

// bomb is zlib data that expands to size bytes of the pattern repeated; its blocks behind the first are alike.
func bomb(pattern string, size int) string {
	var b bytes.Buffer
	b.Write([]byte{0x78, 0x9C})
	w, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		panic(err)
	}
	block := []byte(strings.Repeat(pattern, 1<<20/len(pattern)))
	var at [3]int
	for i := range at {
		w.Write(block)
		w.Flush()
		at[i] = b.Len()
	}
	for n := 3 * len(block); n < size; n += len(block) {
		b.Write(b.Bytes()[at[1]:at[2]])
	}
	b.Write([]byte{0x03, 0x00}) // an empty last block
	return b.String()
}

func deflated(data string) string {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	io.WriteString(w, data)
	w.Close()
	return b.String()
}

// Is a small file that expands to 3 GB survived within a gigabyte and half a minute, wherever the data stands?
func TestBombsAreSurvived(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a minute")
	}
	const size = 3 << 30
	const flated = "/Filter /FlateDecode"
	const twice = "/Filter [ /FlateDecode /FlateDecode ]"
	nested := deflated(bomb(" ", size))
	image := "/Type /XObject /Subtype /Image /BitsPerComponent 8 /ColorSpace /DeviceRGB " + twice
	program := build(t)
	for _, c := range []struct {
		name string
		make func(f *pdfbuild.File)
	}{
		{"spaces", func(f *pdfbuild.File) { f.PageWith(300, 300, "", pdfbuild.Ref(f.Stream(flated, bomb(" ", size)))) }},
		{"operators", func(f *pdfbuild.File) {
			f.PageWith(300, 300, "", pdfbuild.Ref(f.Stream(flated, bomb("0 0 10 10 re f\n", size))))
		}},
		{"nested", func(f *pdfbuild.File) { f.PageWith(300, 300, "", pdfbuild.Ref(f.Stream(twice, nested))) }},
		{"form", func(f *pdfbuild.File) {
			x := f.Stream("/Type /XObject /Subtype /Form /BBox [ 0 0 300 300 ] "+twice, nested)
			f.Page(300, 300, "/XObject << /X "+pdfbuild.Ref(x)+" >>", "/X Do")
		}},
		{"large image", func(f *pdfbuild.File) {
			x := f.Stream("/Width 32768 /Height 32768 "+image, nested)
			f.Page(300, 300, "/XObject << /X "+pdfbuild.Ref(x)+" >>", "300 0 0 300 0 0 cm /X Do")
		}},
		{"small image", func(f *pdfbuild.File) {
			x := f.Stream("/Width 100 /Height 100 "+image, nested)
			f.Page(300, 300, "/XObject << /X "+pdfbuild.Ref(x)+" >>", "300 0 0 300 0 0 cm /X Do")
		}},
		{"one stream a thousand times", func(f *pdfbuild.File) {
			s := pdfbuild.Ref(f.Stream(flated, bomb("0 0 10 10 re f\n", 16<<20)))
			f.PageWith(300, 300, "", "[ "+strings.Repeat(s+" ", 1000)+"]")
		}},
		{"many streams", func(f *pdfbuild.File) {
			var all strings.Builder
			data := bomb(" ", 60<<20)
			for range 200 {
				all.WriteString(pdfbuild.Ref(f.Stream(flated, data)) + " ")
			}
			f.PageWith(300, 300, "", "[ "+all.String()+"]")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := pdfbuild.New()
			c.make(f)
			name := filepath.Join(t.TempDir(), "bomb.pdf")
			if err := os.WriteFile(name, f.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
			survive(t, program, name)
		})
	}
}

// manyPages is a file of n pages that share a form with an image in it, each with content of its own.
func manyPages(n int) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	noise := make([]byte, 600*600*3)
	for i := range noise {
		noise[i] = byte(rng.Uint32())
	}
	rect := func() string {
		return fmt.Sprintf("%d %d %d %d re f\n", rng.IntN(300), rng.IntN(300), rng.IntN(50), rng.IntN(50))
	}
	f := pdfbuild.New()
	image := f.Stream("/Type /XObject /Subtype /Image /Width 600 /Height 600 /BitsPerComponent 8 /ColorSpace /DeviceRGB /Filter /FlateDecode", deflated(string(noise)))
	var b strings.Builder
	for range 2000 {
		b.WriteString(rect())
	}
	form := f.Stream("/Type /XObject /Subtype /Form /BBox [0 0 300 300] /Filter /FlateDecode /Resources << /XObject << /X "+pdfbuild.Ref(image)+" >> >>",
		deflated("q 300 0 0 300 0 0 cm /X Do Q "+b.String()))
	for range n {
		b.Reset()
		b.WriteString("q /G Do Q\n")
		for range 3000 {
			fmt.Fprintf(&b, "/S cs %.3f scn %s", rng.Float64(), rect())
		}
		c := f.Stream("/Filter /FlateDecode", deflated(b.String()))
		f.PageWith(300, 300, "/XObject << /G "+pdfbuild.Ref(form)+" >> /ColorSpace << /S "+pdfbuild.Spot("Silver", 0, 0, 0, .4)+" >>", pdfbuild.Ref(c))
	}
	return f.Bytes()
}

// Do the pages of a long file cost no more than its first ones, in time and in memory?
func TestLongFilesStayCheap(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a minute")
	}
	program := build(t)
	name := filepath.Join(t.TempDir(), "long.pdf")
	if err := os.WriteFile(name, manyPages(500), 0o600); err != nil {
		t.Fatal(err)
	}
	cost := func(pages string) (took time.Duration, memory int64) {
		cmd := exec.Command(program, "plates", name, "--pages", pages, "--dpi", "36", "--out", filepath.Join(t.TempDir(), "out"))
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			memory = u.Maxrss << 10
		}
		return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime(), memory
	}
	// The clock of the processor runs unevenly where others work too: one fair round of three is enough.
	for round := 1; ; round++ {
		first, few := cost("1-10")
		all, many := cost("1-500")
		t.Logf("10 pages %v, %d MB; 500 pages %v, %d MB", first, few>>20, all, many>>20)
		if all/500 <= first/10*12/10 && many <= few*12/10+(16<<20) {
			return
		}
		if round == 3 {
			t.Fatalf("a page of 500 costs %v, one of the first 10 %v; %d MB, %d MB", all/500, first/10, many>>20, few>>20)
		}
	}
}
