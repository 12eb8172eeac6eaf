package look

import (
	"errors"
	"fmt"
	"image"
	"image/draw"
	"math"
	"strconv"

	"laydown/internal/limits"
	"laydown/internal/plates/plate"
)

// StripTilts turn the sheet under the measuring lamp so that the viewer is 15, 25, 45, 75 and 110 degrees from its
// mirror direction, the angles at which metallic colours are measured (ASTM E2194 and common practice): degrees
// towards the lamp.
var StripTilts = []float64{15, 10, 0, -15, -32.5}

// StripLight is the lamp of a strip: an instrument's, of the size of a hand, with the light on the sheet kept even, in a
// room that is not quite dark.
func StripLight() Light {
	return Light{Elevation: 45, Azimuth: 0, Radius: 2, Strength: 0.95, Ambient: 0.05, Even: true, Glint: DefaultGlint()}
}

// Strip is a picture of the same part of a sheet held at several angles.
type Strip struct {
	Image *image.RGBA
	Gamut GamutCount // of all parts
}

// TiltStrip shows part of a sheet, reduced by a whole factor, at each angle: side by side where it is taller than wide,
// one below the other otherwise, each with its angle.
func (m *Model) TiltStrip(part *plate.Stack, l Light, tilts []float64, reduce, workers int) (*Strip, error) {
	return tiltStrip(m, part, l, tilts, reduce, workers)
}

func tiltStrip(source surfaceSource, part *plate.Stack, l Light, tilts []float64, reduce, workers int) (*Strip, error) {
	if len(tilts) == 0 || len(tilts) > 15 {
		return nil, fmt.Errorf("a strip shows 1 to 15 angles, not %d", len(tilts))
	}
	reduce = max(reduce, 1)
	w, h, err := pictureSize(part.Header, reduce, source.inputPlates())
	if err != nil {
		return nil, err
	}
	letters, err := newLabeller(labelSize(min(w, h)))
	if err != nil {
		return nil, err
	}
	across := w <= h
	gap := max(2, min(w, h)/60)
	step := image.Pt(0, h+letters.height)
	if across {
		step = image.Pt(w+gap, 0)
	}
	last := step.Mul(len(tilts) - 1)
	width, height := last.X+w, last.Y+h+letters.height
	if width > limits.MaxPagePixels/height {
		return nil, fmt.Errorf("a strip of %d x %d pixels is too large; show a smaller part or reduce it", width, height)
	}
	s := &Strip{Image: filled(width, height, labelPaper)}
	for i, tilt := range tilts {
		panel, gamut, err := litImage(source, part, l.Tilted(tilt), reduce, workers)
		if err != nil {
			return nil, err
		}
		s.Gamut.add(gamut)
		at := step.Mul(i)
		draw.Draw(s.Image, image.Rectangle{at, at.Add(image.Pt(w, h))}, panel, image.Point{}, draw.Src)
		text := letters.shorten(TiltWords(tilt), w)
		x := at.X
		if across {
			x += (w - letters.width(text)) / 2
		}
		letters.put(s.Image, x, at.Y+h, labelInk, text)
	}
	return s, nil
}

// litImage shows a stack under a light.
func litImage(source surfaceSource, st *plate.Stack, l Light, reduce, workers int) (*image.RGBA, GamutCount, error) {
	s, err := newLitSink(source, l, &imageCanvas{}, workers)
	if err != nil {
		return nil, GamutCount{}, err
	}
	s.Reduce = reduce
	if err := st.Replay(s, 128); err != nil {
		return nil, GamutCount{}, err
	}
	return s.Image(), s.Gamut(), nil
}

// TiltWords names an angle: degrees towards the lamp, or away from it.
func TiltWords(degrees float64) string {
	n := strconv.FormatFloat(math.Abs(degrees), 'f', -1, 64)
	switch {
	case degrees > 0:
		return n + "° to the lamp"
	case degrees < 0:
		return n + "° away"
	}
	return "flat"
}

// SideBySide sets two pictures of the same size beside each other, or one above the other where they are wide, each
// with its words below.
func SideBySide(a, b *image.RGBA, wordsA, wordsB string) (*image.RGBA, error) {
	letters, err := pairLabeller(a, b)
	if err != nil {
		return nil, err
	}
	w, h := a.Rect.Dx(), a.Rect.Dy()
	gap := max(2, min(w, h)/60)
	step := image.Pt(0, h+letters.height)
	if w <= h*3/2 {
		step = image.Pt(w+gap, 0)
	}
	out := filled(step.X+w, step.Y+h+letters.height, labelPaper)
	for i, img := range []*image.RGBA{a, b} {
		at := step.Mul(i)
		draw.Draw(out, image.Rectangle{at, at.Add(image.Pt(w, h))}, img, img.Rect.Min, draw.Src)
		letters.put(out, at.X, at.Y+h, labelInk, letters.shorten([]string{wordsA, wordsB}[i], w))
	}
	return out, nil
}

// Divided shows the left part of one picture and the right part of another of the same size, with a line between them
// at a share of the width, 0 to 1, and words in the two lower corners.
func Divided(a, b *image.RGBA, at float64, wordsA, wordsB string) (*image.RGBA, error) {
	letters, err := pairLabeller(a, b)
	if err != nil {
		return nil, err
	}
	if !(at >= 0 && at <= 1) {
		return nil, fmt.Errorf("the line lies at %g of the width; it can lie at 0 to 1", at)
	}
	w, h := a.Rect.Dx(), a.Rect.Dy()
	x := int(math.Round(at * float64(w)))
	out := filled(w, h, labelPaper)
	draw.Draw(out, image.Rect(0, 0, x, h), a, a.Rect.Min, draw.Src)
	draw.Draw(out, image.Rect(x, 0, w, h), b, b.Rect.Min.Add(image.Pt(x, 0)), draw.Src)
	wide := max(1, min(w, h)/300)
	// Dark in light, to be seen on everything.
	draw.Draw(out, image.Rect(x-wide-1, 0, x+wide+1, h), image.NewUniform(labelInk), image.Point{}, draw.Src)
	draw.Draw(out, image.Rect(x-wide, 0, x+wide, h), image.NewUniform(labelPaper), image.Point{}, draw.Src)
	air := letters.height / 2 // a tag is wider than its words by this
	edge := letters.height / 3
	if room := x - edge - air - wide; room > 0 {
		if text := letters.shorten(wordsA, room-edge); text != "" {
			letters.tag(out, edge, h-letters.height-edge, text)
		}
	}
	if room := w - x - edge - air - wide; room > 0 {
		if text := letters.shorten(wordsB, room-edge); text != "" {
			letters.tag(out, w-edge-air-letters.width(text), h-letters.height-edge, text)
		}
	}
	return out, nil
}

func pairLabeller(a, b *image.RGBA) (*labeller, error) {
	if a == nil || b == nil || a.Rect.Empty() {
		return nil, errors.New("a picture is missing or empty")
	}
	if a.Rect.Size() != b.Rect.Size() {
		return nil, fmt.Errorf("the pictures have %v and %v pixels; they must have the same size", a.Rect.Size(), b.Rect.Size())
	}
	return newLabeller(labelSize(min(a.Rect.Dx(), a.Rect.Dy())))
}
