package look

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/gif"
	"image/png"
	"math"
	"testing"
)

// apngFrames reads an animated PNG by way of image/png, each frame as the viewer sees it.
func apngFrames(t *testing.T, data []byte) (frames []*image.RGBA, delay [][2]uint16) {
	t.Helper()
	if _, err := png.Decode(bytes.NewReader(data)); err != nil {
		t.Fatalf("a program that knows no animation: %v", err)
	}
	const head = 8
	var ihdr []byte
	var body bytes.Buffer
	var box image.Rectangle
	next, announced := uint32(0), uint32(0)
	canvas := &image.RGBA{}
	flush := func() {
		if body.Len() == 0 {
			return
		}
		var file bytes.Buffer
		chunk := func(kind string, data []byte) {
			file.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
			file.WriteString(kind)
			file.Write(data)
			file.Write(binary.BigEndian.AppendUint32(nil, crc32.Update(crc32.ChecksumIEEE([]byte(kind)), crc32.IEEETable, data)))
		}
		file.Write(data[:head])
		h := append([]byte(nil), ihdr...)
		binary.BigEndian.PutUint32(h, uint32(box.Dx()))
		binary.BigEndian.PutUint32(h[4:], uint32(box.Dy()))
		chunk("IHDR", h)
		chunk("IDAT", body.Bytes())
		chunk("IEND", nil)
		img, err := png.Decode(&file)
		if err != nil {
			t.Fatalf("frame %d: %v", len(frames), err)
		}
		draw.Draw(canvas, box, img, image.Point{}, draw.Over)
		frames = append(frames, copyOf(canvas))
		body.Reset()
	}
	for at := head; at < len(data); {
		n := int(binary.BigEndian.Uint32(data[at:]))
		kind, part := string(data[at+4:at+8]), data[at+8:at+8+n]
		if sum := crc32.ChecksumIEEE(data[at+4 : at+8+n]); sum != binary.BigEndian.Uint32(data[at+8+n:]) {
			t.Fatalf("%s: wrong checksum", kind)
		}
		at += 12 + n
		if kind == "fcTL" || kind == "fdAT" {
			if got := binary.BigEndian.Uint32(part); got != next {
				t.Fatalf("%s has number %d, want %d", kind, got, next)
			}
			next++
		}
		switch kind {
		case "IHDR":
			ihdr = part
			canvas = image.NewRGBA(image.Rect(0, 0, int(binary.BigEndian.Uint32(part)), int(binary.BigEndian.Uint32(part[4:]))))
		case "acTL":
			announced = binary.BigEndian.Uint32(part)
		case "fcTL":
			flush()
			u := func(i int) int { return int(binary.BigEndian.Uint32(part[4*i:])) }
			box = image.Rect(u(3), u(4), u(3)+u(1), u(4)+u(2))
			if !box.In(canvas.Rect) {
				t.Fatalf("a frame at %v", box)
			}
			delay = append(delay, [2]uint16{binary.BigEndian.Uint16(part[20:]), binary.BigEndian.Uint16(part[22:])})
		case "IDAT":
			body.Write(part)
		case "fdAT":
			body.Write(part[4:])
		case "IEND":
			flush()
		}
	}
	if int(announced) != len(frames) {
		t.Fatalf("%d frames are announced, %d come", announced, len(frames))
	}
	return frames, delay
}

func someAnimation() Animation {
	a := MailAnimation(StripLight())
	a.Frames = 6
	return a
}

// Pixels may be off by deltaLimit before they are shown anew.
func TestAnimatedPNGShowsEveryFrame(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 90, 60)
	a := someAnimation()
	got, err := animate(src, st, a, 2, func(f *frames) ([]byte, error) { return f.apng([]Note{{"Stock", "board"}}, 2) })
	if err != nil {
		t.Fatal(err)
	}
	frames, delay := apngFrames(t, got.Data)
	if len(frames) != 6 || got.Frames != 6 || got.Width != 90 || got.Height != 60 {
		t.Fatalf("%d frames, told %d of %d x %d", len(frames), got.Frames, got.Width, got.Height)
	}
	total := 0.0
	for i, f := range frames {
		want, _, err := litImage(src, st, a.at(float64(i)/6), 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		for k, v := range f.Pix {
			if d := int(v) - int(want.Pix[k]); d < -deltaLimit || d > deltaLimit {
				t.Fatalf("frame %d, byte %d: %d, want %d", i, k, v, want.Pix[k])
			}
		}
		total += float64(delay[i][0]) / float64(delay[i][1])
	}
	near(t, "seconds", total, 3, .01)
}

func TestAnimatedGIFShowsEveryFrameInFewerColours(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 90, 60)
	a := someAnimation()
	got, err := animate(src, st, a, 1, (*frames).gif)
	if err != nil {
		t.Fatal(err)
	}
	g, err := gif.DecodeAll(bytes.NewReader(got.Data))
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Image) != 6 || g.LoopCount != 0 {
		t.Fatalf("%d frames, loop count %d", len(g.Image), g.LoopCount)
	}
	canvas := image.NewRGBA(image.Rect(0, 0, 90, 60))
	total := 0
	for i, f := range g.Image {
		draw.Draw(canvas, f.Rect, f, f.Rect.Min, draw.Over)
		want, _, err := litImage(src, st, a.at(float64(i)/6), 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for k, v := range canvas.Pix {
			d := float64(v) - float64(want.Pix[k])
			sum += d * d
		}
		// Noise of seven plates in 255 colours; a picture gives 2 to 3.
		if rms := math.Sqrt(sum / float64(len(canvas.Pix)) * 4 / 3); rms > 8 {
			t.Errorf("frame %d is off by %.1f", i, rms)
		}
		total += g.Delay[i]
	}
	if total != 300 {
		t.Errorf("a round takes %d hundredths of a second", total)
	}
}

func TestAnimationIsTheSameForAnyWorkers(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 90, 60)
	for name, encode := range map[string]func(int) func(*frames) ([]byte, error){
		"apng": func(n int) func(*frames) ([]byte, error) {
			return func(f *frames) ([]byte, error) { return f.apng(nil, n) }
		},
		"gif": func(int) func(*frames) ([]byte, error) { return (*frames).gif },
	} {
		var want []byte
		for _, n := range []int{1, 3} {
			got, err := animate(src, st, someAnimation(), n, encode(n))
			if err != nil {
				t.Fatal(err)
			}
			if want == nil {
				want = got.Data
			}
			if !bytes.Equal(want, got.Data) {
				t.Errorf("%s differs with %d workers", name, n)
			}
		}
	}
}

func TestAnimationShrinksUntilItFits(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 140, 100)
	a := someAnimation()
	a.Frames, a.Most = 3, 60_000
	got, err := animate(src, st, a, 2, func(f *frames) ([]byte, error) { return f.apng(nil, 2) })
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Data) > a.Most || got.Reduce < 2 {
		t.Errorf("%d bytes, reduced by %d", len(got.Data), got.Reduce)
	}
	a.Most = 100
	if _, err := animate(src, st, a, 2, (*frames).gif); err == nil {
		t.Error("100 bytes are enough")
	}
}

func TestAnimationLoops(t *testing.T) {
	a := MailAnimation(StripLight())
	p, q := a.at(0), a.at(1)
	near(t, "top", p.TiltTop, q.TiltTop, 1e-9)
	near(t, "right", p.TiltRight, q.TiltRight, 1e-9)
	if p.Azimuth != a.Light.Azimuth || p.Elevation != a.Light.Elevation {
		t.Error("the lamp moves")
	}
	near(t, "brightest", p.TiltTop, 14, 1e-9)
	near(t, "across", a.at(.25).TiltRight, 7, 1e-9)
}

func TestAnimationRefusesNonsense(t *testing.T) {
	src := testModel(t)
	st := someStack(t, 40, 40)
	for _, change := range []func(*Animation){
		func(a *Animation) { a.Frames = 1 }, func(a *Animation) { a.Frames = 1000 }, func(a *Animation) { a.Seconds = 0 },
		func(a *Animation) { a.Swing = 90 }, func(a *Animation) { a.Most = 0 }, func(a *Animation) { a.Light.Elevation = 200 },
	} {
		a := someAnimation()
		change(&a)
		if _, err := animate(src, st, a, 1, (*frames).gif); err == nil {
			t.Errorf("%+v is taken", a)
		}
	}
}

func TestPaletteOfFewColoursIsExact(t *testing.T) {
	img := filled(40, 40, color.RGBA{10, 20, 30, 255})
	want := []color.RGBA{{10, 20, 30, 255}, {200, 100, 0, 255}, {0, 255, 255, 255}, {255, 255, 255, 255}}
	for i, c := range want {
		draw.Draw(img, image.Rect(0, 9*i, 40, 9*i+9), image.NewUniform(c), image.Point{}, draw.Src)
	}
	var h histogram
	h.add(img)
	p := h.palette(255)
	if len(p) != len(want) {
		t.Fatalf("%d colours", len(p))
	}
	for _, c := range want {
		if got := p[p.Index(c)]; got != c {
			t.Errorf("%v becomes %v", c, got)
		}
	}
}

func TestDitherKeepsTheMean(t *testing.T) {
	sum := 0
	for _, row := range bayer {
		seen := 0
		for _, v := range row {
			sum += v
			seen |= v
		}
		if seen == 0 {
			t.Error("a row without steps")
		}
	}
	if sum != 63*32 {
		t.Errorf("the matrix adds up to %d", sum)
	}
	q := newQuantiser(color.Palette{color.RGBA{100, 100, 100, 255}, color.RGBA{110, 110, 110, 255}})
	dark := 0
	for y := range 8 {
		for x := range 8 {
			if q.at(x, y, 105, 105, 105) == 0 {
				dark++
			}
		}
	}
	if dark < 16 || dark > 48 {
		t.Errorf("%d of 64 are dark half-way", dark)
	}
}
