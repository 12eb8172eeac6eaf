package displist

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/pdfbuild"
)

// sound is a list that keeps every promise: a fill, a stroke under a clip, an image and text in
// nested groups, a soft mask; then (7 to 12) tilings of both kinds, shadings as paint and by themselves.
func sound(t testing.TB) *List {
	t.Helper()
	page := geom.Rect{X1: 100, Y1: 50}
	square := &geom.Path{}
	square.Rect(geom.Rect{X0: 10, Y0: 10, X1: 20, Y1: 20})
	box := geom.Rect{X0: 10, Y0: 10, X1: 20, Y1: 20}
	black := Paint{Space: colour.CMYK, Comps: []float64{0, 0, 0, 1}}
	fill := func() Item { return Item{Kind: Fill, Bounds: box, Shape: Shape{Path: square}, Paint: black, Alpha: 1} }
	mask := fill()
	l := &List{Items: []Item{
		fill(),
		{Kind: Stroke, Bounds: box, Clip: &Clip{Shape: Shape{Path: square}, Bounds: page}, Shape: Shape{Path: square}, Paint: black, Alpha: 1,
			Pen: &Pen{Style: geom.StrokeStyle{Width: 1, MiterLimit: 10, Dash: []float64{2, 1}}, M: geom.Identity}},
		{Kind: BeginGroup, Bounds: page, Alpha: .5, Group: &Group{End: 6}},
		fill(),
		{Kind: BeginGroup, Bounds: page, Alpha: 1, Group: &Group{End: 6}},
		{Kind: Image, Bounds: box, Alpha: 1, Image: &Picture{Image: &image.Image{Width: 1, Height: 1, Bits: 8, Space: colour.Gray, Data: []byte{0}}, M: geom.Identity}},
		{Kind: Fill, Bounds: box, Shape: Shape{Glyphs: []Glyph{{Outline: square, M: geom.Identity}}}, Paint: black, Alpha: 1, Text: &Text{Font: "Sans"},
			SoftMask: &SoftMask{Bounds: page, Items: []Item{mask}, Space: colour.Gray, Backdrop: []float64{0}}},
	}}
	grey := rampFrom(t, "0", "1")
	cell := &Tiling{Items: []Item{fill()}, BBox: geom.Rect{X1: 30, Y1: 30}, XStep: 30, YStep: 20, M: geom.Scale(2, -2), Coloured: true, Bounds: box}
	gradient := func() *Shading {
		return &Shading{Type: 2, Space: colour.Gray, M: geom.Identity, BBox: &geom.Rect{X1: 90, Y1: 90}, Coords: []float64{0, 0, 9, 0}, Domain: []float64{0, 1}, Function: grey}
	}
	mesh := &Shading{Type: 4, Space: colour.Gray, M: geom.Identity, Mesh: &Mesh{Triangles: []int32{0, 1, 2}, Vertices: []geom.Point{{X: 0, Y: 0}, {X: 9, Y: 0}, {X: 0, Y: 9}},
		Comps: [][]float64{{0}, {.5}, {1}}, Bounds: geom.Rect{X1: 9, Y1: 9}}}
	patch := &Shading{Type: 7, Space: colour.CMYK, M: geom.Identity, Function: rampFrom(t, "0 0 0 0", "1 1 1 1"), Domain: []float64{0, 2}, Mesh: &Mesh{
		Patches: []Patch{{C: [4][]float64{{0}, {1}, {2}, {1}}}}}}
	backed := gradient()
	backed.Background = []float64{.5}
	tiled, shaded, stencilled := fill(), fill(), fill()
	tiled.Paint, shaded.Paint = Paint{Tiling: cell}, Paint{Shading: backed}
	stencilled.Paint.Tiling = &Tiling{Items: cell.Items, BBox: cell.BBox, XStep: 1, YStep: 1, M: geom.Identity, Bounds: box}
	shade := func(s *Shading) Item { return Item{Kind: Shade, Bounds: box, Alpha: 1, Shading: s} }
	l.Items = append(l.Items, tiled, shaded, stencilled, shade(gradient()), shade(mesh), shade(patch))
	l.Page = Page{Number: 1, ToList: geom.Identity, Media: page, Crop: page, Bleed: page, Trim: page, Art: page, UserUnit: 1}
	return l
}

// rampFrom is the function from one colour to another over 0 to 1.
func rampFrom(t testing.TB, c0, c1 string) colour.Function {
	t.Helper()
	file := pdfbuild.New()
	file.Page(9, 9, "", "")
	data := file.Bytes()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	nums := func(s string) (a pdf.Array) {
		for _, f := range strings.Fields(s) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			a = append(a, pdf.Real(v))
		}
		return a
	}
	f, err := colour.NewReader(doc, finding.Discard).Function(pdf.Dict{"FunctionType": pdf.Integer(2), "Domain": nums("0 1"), "N": pdf.Integer(1), "C0": nums(c0), "C1": nums(c1)})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// TestValidate breaks one promise of a sound list at a time.
func TestValidate(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	if err := Validate(sound(t)); err != nil {
		t.Fatalf("the sound list: %v", err)
	}
	for _, c := range []struct {
		name  string
		spoil func(*List)
		want  string // a part of the error
	}{
		{"group ends past the list", func(l *List) { l.Items[2].Group.End = 14 }, "item 2 (group): group ends at 14 of 13"},
		{"group ends before it begins", func(l *List) { l.Items[2].Group.End = 1 }, "group ends at 1"},
		{"group is empty", func(l *List) { l.Items[4].Group.End = 5 }, "item 4 (group): group ends at 5"},
		{"groups overlap", func(l *List) { l.Items[4].Group.End = 7 }, "item 4 (group): group ends at 7, after the one around it at 6"},
		{"group without attributes", func(l *List) { l.Items[2].Group = nil }, "no group"},
		{"member leaves the group", func(l *List) { l.Items[3].Bounds.X1 = 101 }, "item 3 (fill): bounds"},
		{"member of a hidden group prints", func(l *List) { l.Items[2].Hidden = true }, "prints inside a hidden group"},

		{"too few components", func(l *List) { l.Items[0].Paint.Comps = []float64{0, 0, 0} }, "has 3 components, wants 4"},
		{"too many components", func(l *List) { l.Items[0].Paint.Comps = make([]float64, 5) }, "has 5 components, wants 4"},
		{"component out of range", func(l *List) { l.Items[0].Paint.Comps = []float64{0, 0, 0, 1.5} }, "component 3 is 1.5"},
		{"component is not a number", func(l *List) { l.Items[0].Paint.Comps = []float64{0, nan, 0, 1} }, "component 1 is NaN"},
		{"no colour space", func(l *List) { l.Items[0].Paint.Space = nil }, "paint without colour space"},

		{"alpha below 0", func(l *List) { l.Items[0].Alpha = -.25 }, "item 0 (fill): alpha -0.25"},
		{"alpha above 1", func(l *List) { l.Items[0].Alpha = 1.25 }, "alpha 1.25"},
		{"alpha is not a number", func(l *List) { l.Items[0].Alpha = nan }, "alpha NaN"},
		{"unknown blend mode", func(l *List) { l.Items[0].Blend = 99 }, "blend 99"},
		{"unknown overprint mode", func(l *List) { l.Items[0].OverprintMode = 2 }, "overprint mode 2"},
		{"overprint under a blend mode", func(l *List) { l.Items[0].Overprint, l.Items[0].Blend = true, Multiply }, "overprint under Multiply"},
		{"unknown kind", func(l *List) { l.Items[0].Kind = 9 }, "unknown kind"},

		{"bounds are not a number", func(l *List) { l.Items[0].Bounds.Y0 = nan }, "bounds"},
		{"bounds are endless", func(l *List) { l.Items[0].Bounds.X1 = inf }, "bounds"},
		{"bounds are empty", func(l *List) { l.Items[0].Bounds = geom.Rect{} }, "bounds"},
		{"page box is not a number", func(l *List) { l.Page.Trim.X0 = nan }, "page box"},
		{"page matrix is not a number", func(l *List) { l.Page.ToList.E = nan }, "page matrix"},
		{"point is not a number", func(l *List) { l.Items[0].Shape.Path.Points[2].X = nan }, "path point"},
		{"path lacks a point", func(l *List) { l.Items[0].Shape.Path.Points = l.Items[0].Shape.Path.Points[:3] }, "path wants 4 points, has 3"},
		{"path does not start", func(l *List) { l.Items[0].Shape.Path.Verbs[0] = geom.LineTo }, "path segment 0 has no start"},
		{"shape is neither path nor glyphs", func(l *List) { l.Items[0].Shape.Path = nil }, "shape needs a path or glyphs"},
		{"shape is both", func(l *List) { l.Items[0].Shape.Glyphs = []Glyph{{}} }, "shape needs a path or glyphs"},
		{"glyph matrix is not a number", func(l *List) { l.Items[6].Shape.Glyphs[0].M.A = nan }, "glyph matrix"},

		{"stroke without a pen", func(l *List) { l.Items[1].Pen = nil }, "pen is"},
		{"fill with a pen", func(l *List) { l.Items[0].Pen = l.Items[1].Pen }, "pen is"},
		{"negative width", func(l *List) { l.Items[1].Pen.Style.Width = -1 }, "pen"},
		{"miter limit below 1", func(l *List) { l.Items[1].Pen.Style.MiterLimit = .5 }, "pen"},
		{"negative dash", func(l *List) { l.Items[1].Pen.Style.Dash = []float64{2, -1} }, "dash"},
		{"dashes of no length", func(l *List) { l.Items[1].Pen.Style.Dash = []float64{0, 0} }, "dash"},
		{"item leaves its clip", func(l *List) { l.Items[1].Clip.Bounds.X1 = 15 }, "leave the clip's"},
		{"clip link is not a number", func(l *List) { l.Items[1].Clip.Bounds.X1 = nan }, "clip bounds"},
		{"clip has no shape", func(l *List) { l.Items[1].Clip.Shape = Shape{} }, "clip: shape needs"},
		{"clip chain without end", func(l *List) { l.Items[1].Clip.Parent = l.Items[1].Clip }, "clip chain has no end"},

		{"image lacks samples", func(l *List) { l.Items[5].Image.Data = nil }, "image has 0 bytes"},
		{"image without colour space", func(l *List) { l.Items[5].Image.Space = nil }, "image without colour space"},
		{"image matrix is not a number", func(l *List) { l.Items[5].Image.M.D = nan }, "no finite matrix"},
		{"shading item without shading", func(l *List) { l.Items[0].Kind = Shade }, "no shading"},

		{"mask member has a bad colour", func(l *List) { l.Items[6].SoftMask.Items[0].Paint.Comps = nil }, "soft mask: item 0 (fill)"},
		{"mask backdrop has a bad colour", func(l *List) { l.Items[6].SoftMask.Backdrop = []float64{2} }, "soft mask: DeviceGray component 0"},
		{"mask backdrop without space", func(l *List) { l.Items[6].SoftMask.Space = nil }, "backdrop without colour space"},
		{"mask box is not a number", func(l *List) { l.Items[6].SoftMask.BBox = &Clip{Bounds: geom.Rect{X1: nan, Y1: 1}} }, "soft mask: clip bounds"},
		{"mask bounds are not a number", func(l *List) { l.Items[6].SoftMask.Bounds.X0 = nan }, "soft mask: bounds"},

		{"paint is two patterns", func(l *List) { l.Items[7].Paint.Shading = l.Items[8].Paint.Shading }, "a tiling and a shading"},
		{"coloured tiling with a colour", func(l *List) { l.Items[7].Paint.Space = colour.Gray }, "a pattern and a colour"},
		{"uncoloured tiling without a colour", func(l *List) { l.Items[9].Paint.Space = nil }, "paint without colour space"},
		{"cell's box is empty", func(l *List) { l.Items[7].Paint.Tiling.BBox = geom.Rect{} }, "tiling: box"},
		{"step of nothing", func(l *List) { l.Items[7].Paint.Tiling.XStep = 0 }, "steps 0 and 20"},
		{"negative step", func(l *List) { l.Items[7].Paint.Tiling.YStep = -1 }, "steps 30 and -1"},
		{"tiling's matrix is singular", func(l *List) { l.Items[7].Paint.Tiling.M.A = 0 }, "is not regular"},
		{"cell's bounds leave its box", func(l *List) { l.Items[7].Paint.Tiling.Bounds.X1 = 31 }, "tiling: bounds"},
		{"cell marks outside its bounds", func(l *List) { l.Items[7].Paint.Tiling.Bounds.X0 = 15 }, "leave the cell's"},
		{"cell member has a bad colour", func(l *List) { l.Items[7].Paint.Tiling.Items[0].Paint.Comps = nil }, "tiling: item 0 (fill)"},

		{"shading of no type", func(l *List) { l.Items[10].Shading.Type = 8 }, "shading of type 8: no such type"},
		{"shading on an item that is none", func(l *List) { l.Items[0].Shading = l.Items[10].Shading }, "on an item that is none"},
		{"sh has a background", func(l *List) { l.Items[10].Shading.Background = []float64{0} }, "sh has a background"},
		{"bad background", func(l *List) { l.Items[8].Paint.Shading.Background[0] = 2 }, "background: DeviceGray component 0"},
		{"shading without space", func(l *List) { l.Items[10].Shading.Space = nil }, "space <nil>"},
		{"shading's matrix is singular", func(l *List) { l.Items[10].Shading.M.D = 0 }, "is not regular"},
		{"shading's box is not a number", func(l *List) { l.Items[10].Shading.BBox.X0 = nan }, "box"},
		{"gradient without function", func(l *List) { l.Items[10].Shading.Function = nil }, "function false"},
		{"function of a wrong size", func(l *List) { l.Items[10].Shading.Space = colour.CMYK }, "function of 1 to 1 values in DeviceCMYK"},
		{"function over a table", func(l *List) { l.Items[10].Shading.Space = &colour.Indexed{Base: colour.Gray} }, "Indexed"},
		{"too few coordinates", func(l *List) { l.Items[10].Shading.Coords = []float64{0} }, "1 coordinates"},
		{"coordinate is not a number", func(l *List) { l.Items[10].Shading.Coords[1] = nan }, "coordinates [0 NaN"},
		{"negative radius", func(l *List) { s := l.Items[10].Shading; s.Type, s.Coords = 3, []float64{0, 0, -1, 0, 0, 1} }, "radii -1 and 1"},
		{"mesh type without mesh", func(l *List) { l.Items[11].Shading.Mesh = nil }, "mesh false"},
		{"corner without a vertex", func(l *List) { l.Items[11].Shading.Mesh.Triangles[1] = 3 }, "triangle corner 3 of 3"},
		{"vertex without a colour", func(l *List) { m := l.Items[11].Shading.Mesh; m.Comps = m.Comps[:2] }, "3 vertices of 2 colours"},
		{"vertex has a bad colour", func(l *List) { l.Items[11].Shading.Mesh.Comps[1] = []float64{-1} }, "vertex 1: DeviceGray component 0"},
		{"vertex outside the bounds", func(l *List) { l.Items[11].Shading.Mesh.Vertices[1].X = 10 }, "vertex 1: point"},
		{"parameter outside the domain", func(l *List) { l.Items[12].Shading.Mesh.Patches[0].C[2][0] = 3 }, "patch 0: parameter [3]"},
		{"control point is not a number", func(l *List) { l.Items[12].Shading.Mesh.Patches[0].P[9].Y = nan }, "patch 0: point"},

		{"reserved colourant name", func(l *List) { l.Names = []NamedColourant{{Name: "All", Spaces: []colour.Space{colour.Gray}}} }, `colourant "All"`},
		{"colourant without a space", func(l *List) { l.Names = []NamedColourant{{Name: "White"}} }, `colourant "White"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := sound(t)
			c.spoil(l)
			err := Validate(l)
			if err == nil {
				t.Fatal("passes as sound")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %q, want %q in it", err, c.want)
			}
		})
	}
}

// A mask used within its own members must not be followed for ever.
func TestValidateEndsOnMasksWithinThemselves(t *testing.T) {
	l := sound(t)
	sm := l.Items[6].SoftMask
	sm.Items[0].SoftMask = sm
	if err := Validate(l); err != nil {
		t.Errorf("a mask met before is not judged twice: %v", err)
	}
}
