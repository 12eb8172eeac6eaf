package plate

import (
	"strings"
	"testing"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

func testHeader(w, h int, specials ...string) Header {
	var list []colourant.Colourant
	for _, n := range specials {
		list = append(list, colourant.Colourant{Name: n})
	}
	return Header{Width: w, Height: h, DPI: 72, Set: colourant.NewSet(list...)}
}

// testStack fills plates from digits, "" = untouched: '0' to '9' scaled to 0..255.
func testStack(h Header, plates map[string]string) *Stack {
	s := NewStack(h)
	for name, text := range plates {
		i, _ := h.Set.Lookup(name)
		plane := make([]byte, 0, h.Width*h.Height)
		for _, c := range strings.Join(strings.Fields(text), "") {
			plane = append(plane, byte((int(c-'0')*255+4)/9))
		}
		s.SetPlane(i, plane)
	}
	return s
}

func TestStackCollectsBandsAndLeavesUntouchedPlatesNil(t *testing.T) {
	in := testStack(testHeader(3, 3, "White"), map[string]string{"White": "123 000 789", "Black": "000 000 000"})
	for _, rows := range []int{1, 2, 3, 7} {
		var out Stack
		if err := in.Replay(&out, rows); err != nil {
			t.Fatal(err)
		}
		want := "Cyan -\nMagenta -\nYellow -\nBlack -\nWhite\n123\n000\n789\n"
		if got := TextGrid(&out); got != want {
			t.Errorf("bands of %d rows: got\n%s want\n%s", rows, got, want)
		}
		if out.Plane(3) != nil {
			t.Errorf("bands of %d rows: a blank plate takes memory", rows)
		}
	}
}

func TestHexGridShowsExactTints(t *testing.T) {
	s := NewStack(testHeader(2, 1))
	s.SetPlane(3, []byte{1, 254})
	if got, want := HexGrid(s), "Cyan -\nMagenta -\nYellow -\nBlack\n01 fe\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestSinksRefuseBandsOutOfOrder(t *testing.T) {
	h := testHeader(2, 4)
	full := func(y, rows int) *Band { return &Band{Y0: y, Rows: rows, Planes: make([][]byte, 4)} }
	for name, bands := range map[string][]*Band{
		"gap":         {full(0, 1), full(2, 2)},
		"twice":       {full(0, 2), full(0, 2)},
		"too long":    {full(0, 5)},
		"no rows":     {full(0, 0)},
		"planes":      {{Y0: 0, Rows: 4, Planes: make([][]byte, 3)}},
		"short plane": {{Y0: 0, Rows: 4, Planes: [][]byte{{1}, nil, nil, nil}}},
		"missing end": {full(0, 3)},
	} {
		var s Stack
		err := s.Begin(h)
		for _, b := range bands {
			if err == nil {
				err = s.Band(b)
			}
		}
		if err == nil {
			err = s.End()
		}
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestHeadersBeyondLimitsAreRefused(t *testing.T) {
	for _, h := range []Header{
		testHeader(0, 1), testHeader(1, -1), testHeader(limits.MaxPlateSide+1, 1), testHeader(limits.MaxPlateSide, limits.MaxPlateSide), {Width: 1, Height: 1},
	} {
		if err := new(Stack).Begin(h); err == nil {
			t.Errorf("%d x %d: no error", h.Width, h.Height)
		}
	}
	if err := new(Stack).Begin(testHeader(limits.MaxPlateSide, 1)); err != nil {
		t.Errorf("the largest side is refused: %v", err)
	}
}

func TestCropKeepsPlaceOnThePage(t *testing.T) {
	s := testStack(testHeader(4, 3, "White"), map[string]string{"White": "1234 5678 9012"})
	c := s.Crop(1, 1, 9, 9)
	if got, want := TextGrid(c), "Cyan -\nMagenta -\nYellow -\nBlack -\nWhite\n678\n012\n"; got != want {
		t.Errorf("got\n%s want\n%s", got, want)
	}
	if c.OriginX != 1 || c.OriginY != 1 {
		t.Errorf("origin %g, %g, want 1, 1", c.OriginX, c.OriginY)
	}
	if e := s.Crop(5, 5, 9, 9); e.Width != 0 && e.Height != 0 {
		t.Errorf("a crop off the page has %d x %d pixels", e.Width, e.Height)
	}
}

func TestDownscaleAveragesBoxes(t *testing.T) {
	s := NewStack(testHeader(3, 3))
	s.SetPlane(0, []byte{0, 10, 7, 20, 30, 8, 1, 2, 200})
	d := s.Downscale(2)
	if got, want := HexGrid(d), "Cyan\n0f 08\n02 c8\nMagenta -\nYellow -\nBlack -\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if d.DPI != 36 {
		t.Errorf("resolution %g, want 36", d.DPI)
	}
}

type failing struct{ aborted bool }

func (f *failing) Begin(Header) error { return nil }
func (f *failing) Band(*Band) error   { return nil }
func (f *failing) End() error         { return nil }
func (f *failing) Abort()             { f.aborted = true }

func TestTeeFeedsAndAbortsAll(t *testing.T) {
	in := testStack(testHeader(2, 1), map[string]string{"Cyan": "19"})
	var a, b Stack
	f := &failing{}
	sink := Tee(&a, f, &b)
	if err := in.Replay(sink, 1); err != nil {
		t.Fatal(err)
	}
	if TextGrid(&a) != TextGrid(in) || TextGrid(&b) != TextGrid(in) {
		t.Error("a sink got other plates")
	}
	Abort(sink)
	if !f.aborted {
		t.Error("Abort did not reach a sink")
	}
}
