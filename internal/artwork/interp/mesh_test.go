package interp

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
)

// meshPage shows one mesh whose coordinates are bytes 0..255 and whose colours are bytes of DeviceGray,
// or parameters when the dictionary has a function.
func meshPage(kind int, data, more string) *pdfbuild.File {
	f := pdfbuild.New()
	flag := ""
	if kind != 5 {
		flag = "/BitsPerFlag 8 "
	}
	space := "/ColorSpace /DeviceGray "
	if strings.Contains(more, "/ColorSpace") {
		space = ""
	}
	s := f.Stream(fmt.Sprintf("/ShadingType %d /BitsPerCoordinate 8 /BitsPerComponent 8 %s%s/Decode [0 255 0 255 0 1] %s", kind, flag, space, more), data)
	f.Page(300, 300, "/Shading << /G "+ref(s)+" >>", "/G sh")
	return f
}

func mesh(t *testing.T, f *pdfbuild.File) (*displist.Shading, []string) {
	t.Helper()
	l, found := interpret(t, f, Options{})
	var ids []string
	for _, fd := range found {
		ids = append(ids, string(fd.ID))
	}
	if len(l.Items) == 0 {
		return nil, ids
	}
	return l.Items[0].Shading, ids
}

func bytesOf(v ...int) string {
	b := make([]byte, len(v))
	for i, x := range v {
		b[i] = byte(x)
	}
	return string(b)
}

func TestFreeFormTriangles(t *testing.T) {
	for _, c := range []struct {
		name  string
		data  string
		want  []int32
		found string
	}{
		{"three vertices", bytesOf(0, 10, 10, 0, 0, 90, 10, 128, 0, 10, 90, 255), []int32{0, 1, 2}, "[]"},
		{"flag 1 goes on from b and c", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 1, 90, 90, 0), []int32{0, 1, 2, 1, 2, 3}, "[]"},
		{"flag 2 goes on from a and c", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 2, 90, 90, 0, 1, 99, 99, 0), []int32{0, 1, 2, 0, 2, 3, 2, 3, 4}, "[]"},
		{"flags within a triangle do not count", bytesOf(0, 10, 10, 0, 3, 90, 10, 0, 1, 10, 90, 0), []int32{0, 1, 2}, "[]"},
		{"blank bytes at the end", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 10), []int32{0, 1, 2}, "[]"},
		{"data end within a triangle", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 0, 9, 9, 9), []int32{0, 1, 2}, "[shading-cut]"},
		{"data end within a vertex", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 1, 9), []int32{0, 1, 2}, "[shading-cut]"},
		{"unknown flag", bytesOf(0, 10, 10, 0, 0, 90, 10, 0, 0, 10, 90, 0, 3, 9, 9, 9), []int32{0, 1, 2}, "[shading-cut]"},
		{"first flag goes on from nothing", bytesOf(1, 10, 10, 0), nil, "[shading-damaged]"},
		{"no data", "", nil, "[shading-damaged]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, found := mesh(t, meshPage(4, c.data, ""))
			if fmt.Sprint(found) != c.found {
				t.Errorf("found %v, want %s", found, c.found)
			}
			if c.want == nil {
				if s != nil {
					t.Error("the shading is on the list")
				}
				return
			}
			if fmt.Sprint(s.Mesh.Triangles) != fmt.Sprint(c.want) {
				t.Errorf("triangles %v, want %v", s.Mesh.Triangles, c.want)
			}
		})
	}
}

func TestLatticeIsCutIntoTriangles(t *testing.T) {
	s, found := mesh(t, meshPage(5, bytesOf(0, 0, 0, 10, 0, 50, 20, 0, 99, 0, 10, 0, 10, 10, 50, 20, 10, 255), "/VerticesPerRow 3"))
	if fmt.Sprint(s.Mesh.Triangles) != "[0 1 3 1 4 3 1 2 4 2 5 4]" || len(found) != 0 {
		t.Errorf("triangles %v, found %v", s.Mesh.Triangles, found)
	}
	if s, found := mesh(t, meshPage(5, bytesOf(0, 0, 0, 10, 0, 50, 20, 0, 99, 0, 10, 0), "/VerticesPerRow 3")); s != nil || fmt.Sprint(found) != "[shading-damaged]" {
		t.Errorf("one row and a bit: %v, %v", s, found)
	}
}

// A square of straight sides: its inner points stand on the thirds. The second patch shares a side.
func TestCoonsPatches(t *testing.T) {
	square := []int{0, 0, 0, 0, 30, 0, 60, 0, 90, 30, 90, 60, 90, 90, 90, 90, 60, 90, 30, 90, 0, 60, 0, 30, 0, 0, 85, 170, 255}
	beside := func(flag int) []int {
		return []int{flag, 100, 90, 110, 90, 120, 90, 120, 60, 120, 30, 120, 0, 110, 0, 100, 0, 51, 102}
	}
	for flag := 1; flag <= 3; flag++ {
		s, found := mesh(t, meshPage(6, bytesOf(append(append([]int{}, square...), beside(flag)...)...), ""))
		if len(found) != 0 || s == nil || len(s.Mesh.Patches) != 2 {
			t.Fatalf("flag %d: %v, found %v", flag, s, found)
		}
		p, q := s.Mesh.Patches[0], s.Mesh.Patches[1]
		for i := range 4 {
			for j := range 4 {
				if want := (geom.Point{X: float64(30 * i), Y: float64(30 * j)}); p.P[4*i+j] != want {
					t.Errorf("control point %d %d is %v, want %v", i, j, p.P[4*i+j], want)
				}
			}
		}
		corner := []int{0, 3, 15, 12} // of P, as C goes round
		if q.P[0] != p.P[corner[flag]] || q.P[3] != p.P[corner[(flag+1)%4]] {
			t.Errorf("flag %d: the shared side runs from %v to %v", flag, q.P[0], q.P[3])
		}
		if q.C[0][0] != p.C[flag][0] || q.C[1][0] != p.C[(flag+1)%4][0] || q.C[2][0] != .2 || q.C[3][0] != .4 {
			t.Errorf("flag %d: colours %v", flag, q.C)
		}
	}
}

func TestTensorPatchKeepsItsInnerPoints(t *testing.T) {
	s, found := mesh(t, meshPage(7, bytesOf(0, 0, 0, 0, 30, 0, 60, 0, 90, 30, 90, 60, 90, 90, 90, 90, 60, 90, 30, 90, 0, 60, 0, 30, 0, 11, 11, 12, 12, 22, 22, 21, 21, 0, 85, 170, 255), ""))
	if len(found) != 0 || s == nil {
		t.Fatalf("found %v", found)
	}
	p := s.Mesh.Patches[0].P
	if p[5].X != 11 || p[6].X != 12 || p[10].X != 22 || p[9].X != 21 {
		t.Errorf("inner points %v %v %v %v", p[5], p[6], p[9], p[10])
	}
}

// Vertices of odd sizes begin at whole bytes.
func TestMeshBits(t *testing.T) {
	f := pdfbuild.New()
	// Flag 2 bits, coordinates 12 bits, colour 4 bits: 30 bits of 32.
	vertex := func(flag, x, y, c int) string {
		v := flag<<30 | x<<18 | y<<6 | c<<2
		return bytesOf(v>>24, v>>16, v>>8, v)
	}
	s := f.Stream("/ShadingType 4 /BitsPerCoordinate 12 /BitsPerComponent 4 /BitsPerFlag 2 /ColorSpace "+whiteSpace+" /Decode [-100 100 0 4095 1 0]",
		vertex(0, 0, 0, 0)+vertex(0, 4095, 7, 15)+vertex(0, 0, 100, 3))
	f.Page(300, 300, "/Shading << /G "+ref(s)+" >>", "/G sh")
	l, _ := interpret(t, f, Options{})
	ms := l.Items[0].Shading.Mesh
	if ms.Vertices[0] != (geom.Point{X: -100}) || ms.Vertices[1] != (geom.Point{X: 100, Y: 7}) || ms.Comps[0][0] != 1 || ms.Comps[1][0] != 0 || ms.Comps[2][0] != .8 {
		t.Errorf("vertices %v, colours %v", ms.Vertices, ms.Comps)
	}
}

func TestMeshWithFunctionHasParameters(t *testing.T) {
	s, found := mesh(t, meshPage(4, bytesOf(0, 10, 10, 0, 0, 90, 10, 128, 0, 10, 90, 255), "/ColorSpace /DeviceCMYK /Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [1 1 1 1] >>"))
	if len(found) != 0 || len(s.Mesh.Comps[2]) != 1 || s.Mesh.Comps[2][0] != 1 || fmt.Sprint(s.Domain) != "[0 1]" {
		t.Errorf("found %v, %v", found, s)
	}
}

// Indexed colours become those of the base before anything is interpolated (8.7.4.4).
func TestMeshOfIndexedColours(t *testing.T) {
	f := pdfbuild.New()
	st := f.Stream("/ShadingType 4 /BitsPerCoordinate 8 /BitsPerComponent 8 /BitsPerFlag 8 /ColorSpace [/Indexed /DeviceRGB 1 <0000ff00ff00>] /Decode [0 255 0 255 0 255]",
		bytesOf(0, 10, 10, 0, 0, 90, 10, 1, 0, 10, 90, 0))
	f.Page(300, 300, "/Shading << /G "+ref(st)+" >>", "/G sh")
	l, _ := interpret(t, f, Options{})
	s := l.Items[0].Shading
	if s.Space.String() != "DeviceRGB" || fmt.Sprint(s.Mesh.Comps) != "[[0 0 1] [0 1 0] [0 0 1]]" {
		t.Errorf("%v: %v", s.Space, s.Mesh.Comps)
	}
}

func TestFunctionShading(t *testing.T) {
	f := pdfbuild.New()
	fn := f.Stream("/FunctionType 4 /Domain [0 2 0 1] /Range [0 1]", "{ mul }")
	f.Page(200, 100, "/Shading << /G << /ShadingType 1 /ColorSpace /DeviceGray /Domain [0 2 0 1] /Matrix [20 0 0 20 10 10] /Function "+ref(fn)+" >> >>", "/G sh")
	check(t, "shading/function-based", f, Options{})
}
