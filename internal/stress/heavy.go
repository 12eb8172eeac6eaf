// Package stress makes hostile and heavy pages and holds what the program spends on them: processor time and
// resident memory of the built program, run as a person runs it.
//
// Heavy pages are sound work of unusual size; hostile ones are small files that ask for unbounded work.
package stress

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"math"
	"strings"

	"laydown/internal/pdfbuild"
)

// PointsPerMM is the size of a millimetre in points.
const PointsPerMM = 72 / 25.4

// flate stores a stream compressed.
func flate(f *pdfbuild.File, dict string, data []byte) int {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	w.Write(data) // to memory: cannot fail
	w.Close()
	return f.Stream(dict+" /Filter /FlateDecode", b.String())
}

// noise is a small generator of repeatable numbers (a linear congruential one).
type noise uint32

// next returns a number 0 <= v < n.
func (r *noise) next(n int) int {
	*r = *r*1664525 + 1013904223
	return int(uint64(*r) * uint64(n) >> 32)
}

// photo is samples that look like a picture: smooth shapes with some grain.
func photo(w, h, components int) []byte {
	out := make([]byte, 0, w*h*components)
	grain := noise(7)
	for y := range h {
		for x := range w {
			for c := range components {
				v := 128 + 90*math.Sin(float64(x)/float64(40+9*c)+float64(c))*math.Cos(float64(y)/float64(55+7*c))
				out = append(out, byte(v+float64(grain.next(24))))
			}
		}
	}
	return out
}

// spots is a resource dictionary's inside that names n Separation spaces S0, S1, ... of colourants Toner 0, ...
func spots(n int) string {
	var b strings.Builder
	b.WriteString("/ColorSpace <<")
	for i := range n {
		fmt.Fprintf(&b, " /S%d %s", i, pdfbuild.Spot(fmt.Sprintf("Toner#20%d", i), float64(i%3)/3, float64(i%5)/5, float64(i%7)/7, 0))
	}
	b.WriteString(" >>")
	return b.String()
}

// Poster is an A3 page with twelve colourants: a photo faded out by a soft mask over a tinted ground, gradients,
// thousands of curves in eight special toners, some translucent, and a group.
func Poster() []byte {
	const w, h = 297 * PointsPerMM, 420 * PointsPerMM
	f := pdfbuild.New()
	const pw, ph = 2400, 1800
	mask := flate(f, "/Type /XObject /Subtype /Image /Width 600 /Height 450 /ColorSpace /DeviceGray /BitsPerComponent 8", photo(600, 450, 1))
	image := flate(f, fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceCMYK /BitsPerComponent 8 /SMask %s",
		pw, ph, pdfbuild.Ref(mask)), photo(pw, ph, 4))
	group := flate(f, fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 %g %g] /Group << /S /Transparency /I true >> /Resources << %s >>", w, h, spots(8)),
		curves(8, 800, w, h))
	content := fmt.Sprintf("0.05 0.1 0 0.3 k 0 0 %g %g re f /Fade sh q 700 0 0 525 70 500 cm /Photo Do Q\n%s\n/Glass gs /Group Do", w, h, curves(8, 6000, w, h))
	c := flate(f, "", []byte(content))
	f.PageWith(w, h, fmt.Sprintf(`%s /XObject << /Photo %s /Group %s >> /ExtGState << /Glass << /ca 0.6 /BM /Multiply >> >>
		/Shading << /Fade << /ShadingType 2 /ColorSpace /DeviceCMYK /Coords [0 0 0 %g] /Extend [true true]
		/Function << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0.6 0.2 0 0] /C1 [0 0.1 0.5 0.1] >> >> >>`,
		spots(8), pdfbuild.Ref(image), pdfbuild.Ref(group), h), pdfbuild.Ref(c))
	return f.Bytes()
}

// curves draws n closed curves and n strokes spread over w x h points in the spaces S0 to S(toners-1).
func curves(toners, n int, w, h float64) []byte {
	var b bytes.Buffer
	r := noise(11)
	at := func() (float64, float64) {
		return float64(r.next(1000)) / 1000 * w, float64(r.next(1000)) / 1000 * h
	}
	for i := range n {
		x, y := at()
		s := 4 + float64(r.next(60))
		fmt.Fprintf(&b, "/S%d cs /S%d CS %.2f scn 1 SCN %.2f w\n", i%toners, (i+1)%toners, float64(r.next(100)+1)/100, 0.2+float64(r.next(20))/10)
		fmt.Fprintf(&b, "%.1f %.1f m %.1f %.1f %.1f %.1f %.1f %.1f c %.1f %.1f %.1f %.1f %.1f %.1f c h B\n", x, y,
			x+s, y, x+s, y+s, x, y+s, x-s/2, y+s, x-s/2, y, x, y)
	}
	return b.Bytes()
}

// Booklet has pages of A5 that share three forms and two images, each page in another arrangement.
func Booklet(pages int) []byte {
	const w, h = 148 * PointsPerMM, 210 * PointsPerMM
	f := pdfbuild.New()
	mask := flate(f, "/Type /XObject /Subtype /Image /Width 300 /Height 300 /ColorSpace /DeviceGray /BitsPerComponent 8", photo(300, 300, 1))
	photoA := flate(f, fmt.Sprintf("/Type /XObject /Subtype /Image /Width 600 /Height 450 /ColorSpace /DeviceCMYK /BitsPerComponent 8 /SMask %s", pdfbuild.Ref(mask)),
		photo(600, 450, 4))
	photoB := flate(f, "/Type /XObject /Subtype /Image /Width 400 /Height 400 /ColorSpace /DeviceRGB /BitsPerComponent 8", photo(400, 400, 3))
	form := func(n int) int {
		return flate(f, fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 %g %g] /Resources << %s >>", w, h, spots(3)), curves(3, n, w, h))
	}
	resources := fmt.Sprintf("%s /XObject << /A %s /B %s /F0 %s /F1 %s /F2 %s >>", spots(3), pdfbuild.Ref(photoA), pdfbuild.Ref(photoB),
		pdfbuild.Ref(form(100)), pdfbuild.Ref(form(200)), pdfbuild.Ref(form(300)))
	for i := range pages {
		f.Page(w, h, resources, fmt.Sprintf("q %d 0 0 200 20 %d cm /A Do Q q 100 0 0 100 %d 30 cm /B Do Q /F%d Do /S%d cs 1 scn %d 10 20 20 re f",
			200+i%50, 200+i%100, 50+i%200, i%3, i%3, 10+i%300))
	}
	return f.Bytes()
}

// Records has tickets of 90 x 55 mm that share a picture and a white ground; each has a picture and a number of its own.
func Records(n int) []byte {
	const w, h = 96 * PointsPerMM, 61 * PointsPerMM
	f := pdfbuild.New()
	shared := flate(f, "/Type /XObject /Subtype /Image /Width 800 /Height 500 /ColorSpace /DeviceCMYK /BitsPerComponent 8", photo(800, 500, 4))
	white := pdfbuild.Ref(f.Add(pdfbuild.Spot("White", .2, .1, .3, 0)))
	own := photo(200, 220, 1)
	for i := range n {
		from := i % 20 * 200
		picture := flate(f, "/Type /XObject /Subtype /Image /Width 200 /Height 200 /ColorSpace /DeviceGray /BitsPerComponent 8", own[from:from+200*200])
		content := "/White cs 1 scn 10 10 200 100 re f q 200 0 0 100 10 10 cm /A Do Q q 40 0 0 40 215 60 cm /B Do Q 0 0 0 1 k "
		for bit := range 12 {
			if i>>bit&1 == 1 {
				content += fmt.Sprintf("%d 130 12 6 re f ", 20+18*bit)
			}
		}
		f.Page(w, h, "/ColorSpace << /White "+white+" >> /XObject << /A "+pdfbuild.Ref(shared)+" /B "+pdfbuild.Ref(picture)+" >>", content,
			fmt.Sprintf("/TrimBox [%g %g %g %g]", 3*PointsPerMM, 3*PointsPerMM, w-3*PointsPerMM, h-3*PointsPerMM))
	}
	return f.Bytes()
}
