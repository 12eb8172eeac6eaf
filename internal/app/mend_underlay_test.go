package app

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// whiteRadius is the radius in mm of a disc of the same area as the white of page 1 at 1200 dpi.
func whiteRadius(t *testing.T, s *Setup, file string) float64 {
	t.Helper()
	art, err := s.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	st := &plate.Stack{}
	if err := paint.Render(context.Background(), sh.paintJob(sh.List.Page.Media, 1200, nil), st); err != nil {
		t.Fatal(err)
	}
	plane, _ := st.Lookup("White")
	sum := 0.0
	for _, v := range plane {
		sum += float64(v) / 255
	}
	px := 25.4 / 1200
	return math.Sqrt(sum * px * px / math.Pi)
}

const (
	discCentre = 15.0 // points
	discRadius = 12.0
)

// vectorDisc is a page with a disc in process colour; four Bezier curves are within 0.03 % of a circle.
func vectorDisc() []byte {
	const k = 0.5522847498 * discRadius
	f := pdfbuild.New()
	f.Page(2*discCentre, 2*discCentre, "", fmt.Sprintf("0 .6 .3 0 k %[1]g %[2]g m %[1]g %[3]g %[4]g %[5]g %[6]g %[5]g c %[7]g %[5]g %[8]g %[3]g %[8]g %[2]g c "+
		"%[8]g %[9]g %[7]g %[10]g %[6]g %[10]g c %[4]g %[10]g %[1]g %[9]g %[1]g %[2]g c f",
		discCentre+discRadius, discCentre, discCentre+k, discCentre+k, discCentre+discRadius, discCentre, discCentre-k, discCentre-discRadius,
		discCentre-k, discCentre-discRadius))
	return f.Bytes()
}

// photoDisc is the same disc as a picture of 1200 ppi with tones from a quarter up to full, its edge softened over a pixel.
func photoDisc() []byte {
	side := int(math.Floor(2 * discCentre / 72 * 1200))
	data := make([]byte, side*side)
	for y := range side {
		for x := range side {
			px, py := (float64(x)+.5)*72/1200-discCentre, (float64(y)+.5)*72/1200-discCentre
			in := (discRadius-math.Hypot(px, py))/(72./1200) + .5
			tone := .625 + .375*math.Sin(float64(x)/37)*math.Cos(float64(y)/53)
			data[y*side+x] = byte(255*math.Max(0, math.Min(1, in))*tone + .5)
		}
	}
	f := pdfbuild.New()
	im := f.Stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 8 /ColorSpace [/Separation /Magenta /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 1 0 0] >>]", side, side), string(data))
	f.Page(2*discCentre, 2*discCentre, fmt.Sprintf("/XObject << /P %d 0 R >>", im), fmt.Sprintf("%g 0 0 %[1]g 0 0 cm /P Do", 2*discCentre))
	return f.Bytes()
}

// TestUnderlaysAreChokedExactly: a choke of 0.10 mm moves the outline of a drawn disc and of a picture of one by 0.10 mm, within
// 0.01 mm, at 1200 dpi, whatever the underlay is made as. The area tells the mean; a disc has no corners that would spoil it. The
// outline not moved lies where tints pass the threshold, which in the softened edge of a picture is up to a pixel (0.021 mm) out.
func TestUnderlaysAreChokedExactly(t *testing.T) {
	s := twoSet(t)
	for name, data := range map[string][]byte{"drawn": vectorDisc(), "picture": photoDisc()} {
		for _, as := range []string{"outline", "bitmap", "image"} {
			radius := func(option string) float64 {
				dir := t.TempDir()
				mended(t, dir, s, data, "make-underlay:toner=White,dpi=1200,as="+as+","+option)
				return whiteRadius(t, s, filepath.Join(dir, "out.pdf"))
			}
			still := radius("choke=0mm")
			if off := still - discRadius*25.4/72; math.Abs(off) > .021 {
				t.Errorf("%s as %s: the outline lies %+.4f mm off", name, as, off)
			}
			for option, want := range map[string]float64{"choke=0.1mm": -.1, "spread=0.1mm": .1} {
				got := radius(option) - still
				t.Logf("%s as %s, %s: moved by %+.4f mm", name, as, option, got)
				if math.Abs(got-want) > .01 {
					t.Errorf("%s as %s, %s: the outline moved by %+.4f mm", name, as, option, got)
				}
			}
		}
	}
}

func TestUnderlayLiesOnALayerOfItsOwn(t *testing.T) {
	dir := t.TempDir()
	s := twoSet(t)
	mended(t, dir, s, vectorDisc(), "make-underlay:toner=White")
	art, err := s.Open(filepath.Join(dir, "out.pdf"))
	if err != nil {
		t.Fatal(err)
	}
	defer art.Close()
	sh, err := art.Read(context.Background(), s, 1, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	last := sh.List.Items[len(sh.List.Items)-1]
	if last.Layer == nil || last.Layer.Name != "White underlay" || !last.Layer.Visible {
		t.Fatalf("the underlay lies on layer %+v", last.Layer)
	}
	props, _ := art.Doc.Dict(art.Doc.Catalog()["OCProperties"])
	if groups, _ := art.Doc.Array(props["OCGs"]); len(groups) != 1 {
		t.Fatalf("the file lists %d layers", len(groups))
	}
	if _, ok := props["D"].(pdf.Dict); !ok {
		t.Fatal("the layers have no default configuration")
	}
}
