package check

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"strings"
	"testing"

	"laydown/internal/finding"
)

// tones is a square gray image of levels.
type tones struct {
	n   int
	pix []byte
}

// drawn has the levels of a function.
func drawn(n int, f func(x, y int) float64) tones {
	t := tones{n, make([]byte, n*n)}
	for y := range n {
		for x := range n {
			t.pix[y*n+x] = byte(min(255, max(0, math.Round(f(x, y)))))
		}
	}
	return t
}

// grain is noise of all levels, from a hash of the place (any that mixes well would do).
func grain(n int) tones {
	return drawn(n, func(x, y int) float64 {
		h := uint32(x)*0x9e3779b1 ^ uint32(y)*0x85ebca77
		h = (h ^ h>>15) * 0x2c1b3c6d
		h = (h ^ h>>12) * 0x297a2d39
		return float64((h ^ h>>15) & 255)
	})
}

// at reads a level, that of the border beyond it.
func (t tones) at(x, y int) float64 {
	return float64(t.pix[min(t.n-1, max(0, y))*t.n+min(t.n-1, max(0, x))])
}

// soft is the mean of squares of 2r+1 samples.
func (t tones) soft(r int) tones {
	return drawn(t.n, func(x, y int) float64 {
		sum := 0.0
		for i := -r; i <= r; i++ {
			for k := -r; k <= r; k++ {
				sum += t.at(x+i, y+k)
			}
		}
		return sum / float64((2*r+1)*(2*r+1))
	})
}

// repeatedTo repeats samples so that n make the side.
func (t tones) repeatedTo(n int) tones {
	return drawn(n, func(x, y int) float64 { return t.at(x*t.n/n, y*t.n/n) })
}

// linearTo interpolates between samples so that n make the side.
func (t tones) linearTo(n int) tones {
	f := float64(t.n) / float64(n)
	return drawn(n, func(x, y int) float64 {
		u, v := (float64(x)+.5)*f-.5, (float64(y)+.5)*f-.5
		i, k := int(math.Floor(u)), int(math.Floor(v))
		a, b := u-float64(i), v-float64(k)
		return (1-b)*((1-a)*t.at(i, k)+a*t.at(i+1, k)) + b*((1-a)*t.at(i, k+1)+a*t.at(i+1, k+1))
	})
}

// jpeg is what is left of the levels at a quality.
func (t tones) jpeg(tt *testing.T, quality int) tones {
	tt.Helper()
	im := image.NewGray(image.Rect(0, 0, t.n, t.n))
	copy(im.Pix, t.pix)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, im, &jpeg.Options{Quality: quality}); err != nil {
		tt.Fatal(err)
	}
	back, err := jpeg.Decode(&b)
	if err != nil {
		tt.Fatal(err)
	}
	g := back.(*image.Gray)
	return drawn(t.n, func(x, y int) float64 { return float64(g.GrayAt(x, y).Y) })
}

// shown puts the levels into a square of a resolution.
func (t tones) shown(space string, dpi float64) artwork {
	mm := 25.4 * float64(t.n) / dpi
	return artwork{pages: []string{shown("", 2, 2, mm, mm)}, samples: string(t.pix),
		picture: fmt.Sprintf("/Width %d /Height %d /BitsPerComponent 8 /ColorSpace %s", t.n, t.n, space)}
}

func TestImagesEnlargedBySoftware(t *testing.T) {
	const id = "image-resampled"
	// Detail of two samples, as an ordinary image has, in 200 samples.
	own := grain(200).soft(1)
	special := func(n tones) artwork { return n.shown(whiteSpace, 300) }
	noise := grain(300)
	code := drawn(100, func(x, y int) float64 { return 255 * math.Floor(noise.at(x, y)/128) })
	f := holds(t, id, finding.Warning, special(own.linearTo(300)), quiet{
		"as it came":          special(own),
		"out of focus":        special(noise.soft(4)),
		"a blend":             special(drawn(300, func(x, y int) float64 { return float64(x+y) / 2.5 })),
		"a blend of steps":    special(drawn(300, func(x, y int) float64 { return float64(x/5*2 + y/5*2) })),
		"a woven texture":     special(drawn(300, func(x, y int) float64 { return 60*float64(x%3) + 30*float64(y%3) + noise.at(x, y)/8 })),
		"a screen":            special(drawn(300, func(x, y int) float64 { return 128 + 120*math.Sin(float64(x)*.9)*math.Sin(float64(y)*.9) })),
		"blocks of JPEG":      special(own.jpeg(t, 30)),
		"a code to scan":      special(code.repeatedTo(300)),
		"enough without it":   own.repeatedTo(400).shown(whiteSpace, 600),
		"too few samples":     special(grain(60).linearTo(95)),
		"smaller than 5 mm":   own.linearTo(300).shown(whiteSpace, 1530),
		"one axis only":       special(drawn(300, func(x, y int) float64 { return noise.at(x/2, y) })),
		"enough for process":  own.linearTo(300).shown("/DeviceGray", 339),
		"soft grain of noise": special(noise.soft(1)),
	})
	if f.Figures["factor"] != 1.5 || f.Figures["resolution_dpi"] != 200 || f.Place.Colourants[0] != "White" {
		t.Errorf("%v %v", f.Figures, f.Place)
	}
	for i, c := range []struct {
		art    artwork
		factor float64
		sev    finding.Severity
	}{
		{special(own.linearTo(250)), 1.25, finding.Warning},
		{special(own.linearTo(300).jpeg(t, 90)), 1.5, finding.Warning},
		{special(grain(100).linearTo(300)), 3, finding.Warning},
		{special(grain(100).linearTo(400)), 4, finding.Warning},
		{special(own.repeatedTo(400)), 2, finding.Warning},
		{special(own.repeatedTo(300)), 1.5, finding.Warning},
		{own.repeatedTo(400).shown(whiteSpace, 599), 2, finding.Warning},
		{own.linearTo(300).shown("/DeviceGray", 336), 1.5, finding.Note},
	} {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			// A sample of the window more or less is within a hundredth.
			if f := one(t, c.art, id); math.Abs(f.Figures["factor"]-c.factor) > .011 || f.Severity != c.sev {
				t.Errorf("%v %v, want %g %v", f.Figures, f.Severity, c.factor, c.sev)
			}
		})
	}
}

// A page of 2 x 2 images of the same object is what a pattern or a logo makes: it is looked at once.
func TestEnlargedImageShownTwiceIsToldOnce(t *testing.T) {
	a := grain(200).soft(1).linearTo(300).shown(whiteSpace, 300)
	a.pages[0] += shown("", 30, 2, 20, 20)
	if f := one(t, a, "image-resampled"); !strings.HasPrefix(f.What, "2 images in a special plate have") {
		t.Error(f.What)
	}
}

// placed are inline images of w x h samples in boxes of mm.
func placed(images ...[4]float64) artwork {
	page := ""
	for i, m := range images {
		w, h := int(m[0]), int(m[1])
		page += fmt.Sprintf("q %g 0 0 %g %g %g cm BI /W %d /H %d /BPC 8 /CS /G ID ", m[2], m[3], slug+2+18*float64(i), slug+2, w, h) + noise(w*h) + " EI Q\n"
	}
	return artwork{pages: []string{page}}
}

func TestImagesOfOneRoundResolution(t *testing.T) {
	const id = "image-resolution-round"
	// Samples that are the next whole number to the size at 300 dpi, but for parts of a sample.
	rounded := func(dpi float64, off ...float64) (images [][4]float64) {
		for i, d := range off {
			w, h := 120+20*i, 100+15*i
			images = append(images, [4]float64{float64(w), float64(h), (float64(w) + d) / dpi * 25.4, (float64(h) - d/2) / dpi * 25.4})
		}
		return images
	}
	f := holds(t, id, finding.Note, placed(rounded(300, .1, -.06, .08)...), quiet{
		"exact, placed as they are": placed(rounded(300, 0, .002, 0)...),
		"two of them":               placed(rounded(300, .1, -.06)...),
		"one size three times":      placed(append(rounded(300, .1), append(rounded(300, .06), rounded(300, -.1)...)...)...),
		"no round figure":           placed(rounded(310, .1, -.06, .08)...),
		"half a dpi off":            placed(rounded(300, .1, -.06, .25)...),
		"small":                     placed(rounded(600, .1, -.06, .08)...),
	})
	if f.Figures["resolution_dpi"] != 300 || f.Figures["count"] != 3 {
		t.Errorf("%v", f.Figures)
	}
	one(t, placed(rounded(300, .1, -.06, .12)...), id)
}
