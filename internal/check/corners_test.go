package check

import (
	"strings"
	"testing"

	"laydown/internal/artwork/image"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// Images of less than a byte a sample: all samples decide, not the bytes, and padding does not.
func TestFlatImagesOfFewBits(t *testing.T) {
	for _, c := range []struct {
		name string
		w, h int
		bits int
		data string
		flat bool
	}{
		{"white of one bit", 8, 2, 1, "\xff\xff", true},
		{"lines of one bit", 8, 2, 1, "\xff\xfe", false},
		{"lines in bytes that are no text", 8, 3, 1, "\xff\x80\xff", false},
		{"rows that end within a byte", 12, 2, 1, "\xff\xf0\xff\xf0", true},
		{"padding of ones", 12, 2, 1, "\x00\x0f\x00\x00", true},
		{"grey of four bits", 3, 2, 4, "\x88\x80\x88\x8f", true},
		{"light greys of four bits", 2, 2, 4, "\xfe\xef", false},
		{"alternating samples", 4, 1, 2, "\x99", false},
	} {
		im := &image.Image{Width: c.w, Height: c.h, Bits: c.bits, Data: []byte(c.data), Decode: []float64{0, 1}, Stencil: c.bits == 1}
		if got := isFlat(im); got != c.flat {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestDefinitionsDifferByWhatIsSeen(t *testing.T) {
	const id = "colourant-definitions-differ"
	lab := func(name, b string) string {
		return "/" + name + " [/Separation /Moss [/Lab << /WhitePoint [.9642 1 .8249] /Range [-100 100 -100 100] >>] << /FunctionType 2 /Domain [0 1] /N 1 /C0 [100 0 0] /C1 [50 0 " + b + "] >>] "
	}
	pages := []string{fill("/M1 cs 1 scn", 5, 5, 10, 6) + fill("/M2 cs 1 scn", 25, 5, 10, 6)}
	holds(t, id, finding.Warning, artwork{pages: pages, spaces: lab("M1", "0") + lab("M2", "5")}, quiet{
		"the same to a whole number": {pages: pages, spaces: lab("M1", ".2") + lab("M2", "-.2")},
	})
}

func TestBoxesOutsideTheMediaBox(t *testing.T) {
	const id = "boxes-inconsistent"
	with := func(boxes string) artwork { return artwork{boxes: boxes, pages: []string{""}} }
	trim := boxOut("TrimBox", 0, 0, 0, 0)
	for boxes, says := range map[string]string{
		trim + boxOut("BleedBox", 3, 3, slug+1, 3):                                        "BleedBox stands out of the MediaBox",
		boxOut("TrimBox", 0, 0, slug+1, 0) + boxOut("BleedBox", 3, 3, slug+1, 3):          "TrimBox stands out of the MediaBox",
		boxOut("TrimBox", 0, 0, slug+.05, 0) + boxOut("BleedBox", 3, 3, slug+.05, 3) + "": "",
	} {
		if says == "" {
			wantQuiet(t, with(boxes), id)
			continue
		}
		if f := one(t, with(boxes), id); !strings.Contains(f.What, says) {
			t.Errorf("%s: %s", boxes, f.What)
		}
	}
}

func TestFiguresAreWrittenShort(t *testing.T) {
	f := Figure{Unit: press.UnitLength}
	for v, want := range map[float64]string{float64(press.LengthFromPoints(12)): "4.2333 mm", 3: "3 mm", .03: "0.03 mm", 75: "75 mm"} {
		if got := f.Text(v); got != want {
			t.Errorf("%v is written %s; want %s", v, got, want)
		}
	}
}

func TestLightTintsAreToldByTheLightest(t *testing.T) {
	f := one(t, artwork{pages: []string{fill(".01 0 0 0 k", 5, 5, 10, 6) + fill(".025 0 0 0 k", 25, 5, 10, 6)}}, "tint-drops-out")
	if !strings.Contains(f.What, "as light as 1.0 %") {
		t.Error(f.What)
	}
}

func TestNamesAreCutBetweenLetters(t *testing.T) {
	if got := printableName(strings.Repeat("a", 79) + "éé"); got != strings.Repeat("a", 79)+"…" {
		t.Errorf("%q", got)
	}
}

// The press and the artwork may define a toner alike: it is told of once, with the number of pictures there are.
func TestConvertedLooksAreCountedOnce(t *testing.T) {
	f := one(t, artwork{pages: []string{shown("", 5, 5, 10, 6)}, picture: row("/DeviceCMYK", 20), samples: strings.Repeat("\x33\x59\xcc\x26", 20)}, "toner-look-in-blend-or-image")
	if f.Count > 1 || !strings.HasPrefix(f.What, "1 blend or image") {
		t.Errorf("%d times: %s", f.Count, f.What)
	}
}
