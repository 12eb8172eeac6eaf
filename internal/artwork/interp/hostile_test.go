package interp

import (
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/finding"
	"laydown/internal/limits"
	"laydown/internal/pdfbuild"
)

// over interprets a page of which too much is asked: its list is well formed, says that it is
// incomplete, and a finding says why.
func over(t *testing.T, f *pdfbuild.File, id finding.ID) *displist.List {
	t.Helper()
	var sink finding.Collector
	l, err := reader(t, f).Page(context.Background(), 1, Options{Sink: &sink})
	if err != nil {
		t.Fatal(err)
	}
	if err := displist.Validate(l); err != nil {
		t.Error(err)
	}
	if !l.Incomplete {
		t.Error("the list claims to be complete")
	}
	for _, fd := range sink.Sorted() {
		if fd.ID == id {
			return l
		}
	}
	t.Errorf("no finding %s: %v", id, sink.Sorted())
	return l
}

// squeezed is a stream of n times the same content.
func squeezed(f *pdfbuild.File, dict, content string, n int) string {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	part := strings.Repeat(content, 1000)
	for range n / 1000 {
		_, _ = z.Write([]byte(part))
	}
	_ = z.Close()
	return ref(f.Stream(dict+" /Filter /FlateDecode", b.String()))
}

func TestMillionsOfItemsEndInBoundedMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	f := pdfbuild.New()
	f.PageWith(200, 100, "", squeezed(f, "", "9 9 5 5 re f\n", 1_200_000))
	l := over(t, f, "page-over-limit")
	if len(l.Items) != limits.MaxItems {
		t.Errorf("%d items, want %d", len(l.Items), limits.MaxItems)
	}
	var ms runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&ms)
	if ms.HeapAlloc > 600<<20 {
		t.Errorf("a list of a million items holds %d MB", ms.HeapAlloc>>20)
	}
	runtime.KeepAlive(l)
}

// Cells within cells, each used three times in the next one, are interpreted once each.
func TestNestedPatternsDoNotMultiply(t *testing.T) {
	f := pdfbuild.New()
	leaf := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
	for range 20 {
		leaf = f.Stream(tilingDict+"/Resources << /Pattern << /P "+ref(leaf)+" >> >>", "/Pattern cs /P scn 0 0 5 5 re f 5 5 5 5 re f 2 2 2 2 re f")
	}
	f.Page(200, 100, "/Pattern << /P "+ref(leaf)+" >>", "/Pattern cs /P scn 0 0 50 50 re f")
	l, _ := interpret(t, f, Options{})
	depth := 0
	for items := l.Items; len(items) > 0 && items[0].Paint.Tiling != nil; items = items[0].Paint.Tiling.Items {
		depth++
	}
	if depth != 21 {
		t.Errorf("cells are %d deep, want 21", depth)
	}
}

func TestPatternsNestedTooDeeplyAreReported(t *testing.T) {
	f := pdfbuild.New()
	leaf := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
	for range 40 {
		leaf = f.Stream(tilingDict+"/Resources << /Pattern << /P "+ref(leaf)+" >> >>", "0 0 1 1 re f /Pattern cs /P scn 0 0 5 5 re f")
	}
	f.Page(200, 100, "/Pattern << /P "+ref(leaf)+" >>", "/Pattern cs /P scn 0 0 50 50 re f")
	over(t, f, "page-over-limit")
}

// Each colour of use is a cell of its own; the items of all of them count.
func TestCellsOfManyColoursAreBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	f := pdfbuild.New()
	p := f.Stream(shapeDict+"/Resources << >>", strings.Repeat("0 0 5 5 re f\n", 2000))
	var c strings.Builder
	c.WriteString("/PK cs ")
	for i := range 1000 {
		fmt.Fprintf(&c, "0 .%03d 0 0 /P scn 10 10 5 5 re f\n", i)
	}
	f.Page(200, 100, "/Pattern << /P "+ref(p)+" >> /ColorSpace << /PK [/Pattern /DeviceCMYK] >>", c.String())
	over(t, f, "page-over-limit")
}

// Patterns, forms, glyphs and masks that draw each other in a ring.
func TestRingsEnd(t *testing.T) {
	f := pdfbuild.New()
	pattern, form, mask := f.Add(""), f.Add(""), f.Add("")
	res := fmt.Sprintf("/Resources << /Pattern << /P %s >> /XObject << /F %s >> /ExtGState << /M << /SMask << /S /Alpha /G %s >> >> >> /Font << /T << /Type /Font /Subtype /Type3 /FontBBox [0 0 9 9] "+
		"/FontMatrix [1 0 0 1 0 0] /FirstChar 97 /LastChar 97 /Widths [9] /Encoding << /Differences [97 /a] >> /CharProcs << /a %s >> >> >> >>", ref(pattern), ref(form), ref(mask), ref(form))
	draw := "0 0 3 3 re f /Pattern cs /P scn 0 0 5 5 re f /F Do /M gs 1 1 5 5 re f BT /T 1 Tf (a) Tj ET"
	body := func(dict string) string {
		return fmt.Sprintf("<< %s %s /Length %d >>\nstream\n%s\nendstream", dict, res, len(draw), draw)
	}
	f.Set(pattern, body(tilingDict))
	f.Set(form, body("/Subtype /Form /BBox [0 0 20 20]"))
	f.Set(mask, body("/Subtype /Form /BBox [0 0 20 20] /Group << /S /Transparency /CS /DeviceGray >>"))
	f.Page(200, 100, strings.TrimSuffix(strings.TrimPrefix(res, "/Resources <<"), ">>"), draw)
	over(t, f, "form-recursion")
}

func TestTenThousandColourants(t *testing.T) {
	f := pdfbuild.New()
	var spaces, use strings.Builder
	for i := range 10_000 {
		fmt.Fprintf(&spaces, "/S%d [/Separation /Spot%d /DeviceGray %s] ", i, i, "<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>")
		fmt.Fprintf(&use, "/S%d cs 1 1 5 5 re f\n", i)
	}
	f.Page(200, 100, "/ColorSpace << "+spaces.String()+" >>", use.String())
	l, _ := interpret(t, f, Options{})
	if len(l.Names) != 10_000 || l.Names[9_999].Name != "Spot9999" {
		t.Errorf("%d colourants", len(l.Names))
	}
}

func TestPagesThatShareForms(t *testing.T) {
	f := pdfbuild.New()
	p := f.Stream(tilingDict+"/Resources << >>", "0 0 5 5 re f")
	x := f.Stream("/Subtype /Form /BBox [0 0 90 90] /Resources << /Pattern << /P "+ref(p)+" >> >>", strings.Repeat("0 0 9 9 re f\n", 100)+"/Pattern cs /P scn 0 0 50 50 re f")
	for range 500 {
		f.Page(200, 100, "/XObject << /X "+ref(x)+" >>", strings.Repeat("1 0 0 1 1 1 cm /X Do\n", 10))
	}
	r := reader(t, f)
	for n := 1; n <= 500; n++ {
		l, err := r.Page(context.Background(), n, Options{})
		if err != nil || len(l.Items) != 1010 {
			t.Fatalf("page %d: %v, %v", n, l, err)
		}
		first, last := l.Items[100].Paint.Tiling, l.Items[1009].Paint.Tiling
		if first == last || &first.Items[0] != &last.Items[0] {
			t.Fatal("tilings in two places should be two that share a cell")
		}
	}
}

// A mesh whose data would take more memory than a page is given is cut.
func TestMeshesAreBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	f := pdfbuild.New()
	s := squeezed(f, "/ShadingType 5 /BitsPerCoordinate 1 /BitsPerComponent 1 /VerticesPerRow 2 /ColorSpace /DeviceGray /Decode [0 1 0 1 0 1]", "\x80\x60\x00\xa0", 2_000_000)
	f.Page(200, 100, "/Shading << /S "+s+" >>", "100 0 0 100 0 0 cm /S sh")
	l := over(t, f, "shading-cut")
	if n := len(l.Items[0].Shading.Mesh.Vertices); n == 0 || n > limits.MaxMeshNumbers/6 {
		t.Errorf("%d vertices are kept", n)
	}
}
