package plan

import (
	"errors"
	"math"
	"strings"
	"testing"

	"laydown/internal/press"
)

func value(t *testing.T, f Figure) float64 {
	t.Helper()
	if f.Value == nil {
		t.Fatalf("%s is not given: %v", f.What, f.NotGiven)
	}
	return *f.Value
}

// ptr gives figures a place.
func ptr[T any](v T) *T { return &v }

// twoPasses is a job whose figures are worked out by hand below: white under cyan on one page of 20000 mm².
func twoPasses(t *testing.T) *Request {
	p := mustPress(t, "two-set")
	p.Speed = press.Speed{SheetsPerHour: ptr(1000.0), SetUpMinutes: ptr(5.0), SetChangeMinutes: ptr(20.0)}
	p.Waste = press.Waste{Sheets: ptr(10), Share: ptr(press.Percent(3))}
	p.Price = press.Price{Currency: "EUR", Click: 0.1, SetChange: 20, Hour: ptr(60.0)}
	r := &Request{Press: p, Stock: &press.Stock{Title: "board", Price: &press.StockPrice{Currency: "EUR", Sheet: 0.5}}, Quantity: 400, Up: 4}
	r.Sides = []Side{{Page: 1, AreaMM2: 20000, Toners: []Laid{{"White", 50}, {"Cyan", 20}}, Meet: []Meeting{{A: "White", B: "Cyan", AreaMM2: 100}}}}
	wish(r, "White under process", "White", "process")
	return r
}

func TestFiguresAreThoseWorkedOutByHand(t *testing.T) {
	p, err := Best(twoPasses(t))
	if err != nil {
		t.Fatal(err)
	}
	k := p.Reckoning
	// 400 pieces, 4 on a sheet: 100 good sheets. Into the second pass 100 x 1.03 = 103, + 10 = 113; into the first
	// 113 x 1.03 = 116.39, so 117, + 10 = 127.
	// White: 0.02 m² x 50 % x 10 g/m² = 0.1 g; on 127 sheets of 4: 50.8 g. Cyan: 0.02 x 20 % x 4.5 = 0.018 g; on 113 x 4: 8.136 g.
	// Time: 2 x 5 + 20 + 240 sheets fed at 1000 an hour = 14.4: 44.4 minutes.
	// Money: white 50.8 g at 140 = 7.112; cyan 8.136 g at 60 = 0.48816; 240 clicks 24; a change 20; 44.4 min at 60 = 44.4; 127 sheets 63.5.
	const slack = 1e-9 // of floating point
	for _, c := range []struct {
		f    Figure
		want float64
	}{
		{k.Sheets[0], 100}, {k.Sheets[1], 127}, {k.Sheets[2], 113}, {k.Sheets[3], 127},
		{k.Toner[0].Piece, 0.018}, {k.Toner[0].Sheet, 0.072}, {k.Toner[0].Job, 8.136}, {k.Toner[0].Cost, 0.48816},
		{k.Toner[1].Piece, 0.1}, {k.Toner[1].Sheet, 0.4}, {k.Toner[1].Job, 50.8}, {k.Toner[1].Cost, 7.112},
		{k.Minutes, 44.4}, {k.Total, 7.112 + 0.48816 + 24 + 20 + 44.4 + 63.5}, {k.PerPiece, 159.50016 / 400},
	} {
		if got := value(t, c.f); math.Abs(got-c.want) > slack {
			t.Errorf("%s is %v, want %v (%s)", c.f.What, got, c.want, c.f.Formula)
		}
	}
	for _, f := range []struct{ got, want string }{
		{k.Toner[1].Piece.Formula, "0.02 m² × 50 % × 10 g/m²"}, {k.Toner[1].Job.Formula, "127 sheets × 4 × 0.1 g"}, {k.Sheets[1].Formula, "113 × 1.03, rounded up, + 10 to set up"},
	} {
		if f.got != f.want {
			t.Errorf("formula %q, want %q", f.got, f.want)
		}
	}
}

func TestWhatIsNotGivenIsNoZero(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(r *Request)
		what  string
		figs  func(k *Reckoning) []Figure // without a value
	}{
		{"no quantity", func(r *Request) { r.Quantity = 0 }, "quantity", func(k *Reckoning) []Figure { return []Figure{k.Total, k.PerPiece, k.Toner[0].Job, k.Sheets[0]} }},
		{"no price of an hour", func(r *Request) { r.Press.Price.Hour = nil }, "price of an hour of the press", func(k *Reckoning) []Figure { return []Figure{k.Costs[4]} }},
		{"no speed", func(r *Request) { r.Press.Speed.SheetsPerHour = nil }, "sheets the press feeds in an hour", func(k *Reckoning) []Figure { return []Figure{k.Costs[4], k.Time[2]} }},
		{"no price of the stock", func(r *Request) { r.Stock.Price = nil }, "price of a sheet of the stock", func(k *Reckoning) []Figure { return []Figure{k.Costs[5]} }},
		{"a stock in another currency", func(r *Request) { r.Stock.Price.Currency = "SEK" }, "price of a sheet in EUR (it is given in SEK)", func(k *Reckoning) []Figure { return []Figure{k.Costs[5]} }},
		{"no price of the white", func(r *Request) { r.Press.Toners[4].PricePerKg = 0 }, "price of a kilogram of White", func(k *Reckoning) []Figure { return []Figure{k.Costs[1]} }},
		{"no speeds at all", func(r *Request) { r.Press.Speed = press.Speed{} }, "minutes to set up a pass", func(k *Reckoning) []Figure { return []Figure{k.Minutes, k.Costs[4]} }},
		{"no prices", func(r *Request) { r.Press.Price = press.Price{} }, "prices of the press", func(k *Reckoning) []Figure { return []Figure{k.Total, k.PerPiece} }},
	} {
		r := twoPasses(t)
		c.spoil(r)
		p, err := Best(r)
		if err != nil {
			t.Fatal(err)
		}
		k := p.Reckoning
		for _, f := range c.figs(k) {
			if f.Value != nil {
				t.Errorf("%s: %s has the value %v", c.name, f.What, *f.Value)
			}
		}
		if !strings.Contains(strings.Join(k.Total.NotGiven, "; "), c.what) {
			t.Errorf("%s: the sum misses %v", c.name, k.Total.NotGiven)
		}
	}
}

func TestWasteNotGivenIsSaid(t *testing.T) {
	r := twoPasses(t)
	r.Press.Waste = press.Waste{}
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	if n := value(t, p.Reckoning.Sheets[len(p.Reckoning.Sheets)-1]); n != 100 || !strings.Contains(strings.Join(p.Reckoning.Assumptions, " "), "no figures of waste") {
		t.Errorf("%v sheets; %v", n, p.Reckoning.Assumptions)
	}
}

func TestMoreSheetsFeedBothSidesOfASheet(t *testing.T) {
	r := twoPasses(t)
	r.Sides = append(r.Sides, Side{Page: 2, Leaf: 0, AreaMM2: 20000, Toners: []Laid{{"Cyan", 10}}}, Side{Page: 3, Leaf: 1, AreaMM2: 20000, Toners: []Laid{{"Cyan", 10}}})
	r.Wishes[0].Orders = append(r.Wishes[0].Orders, nil, nil)
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	// Page 3 is a sheet of its own: 103 + 10 = 113. Pages 1 and 2 share one: 113, 127, and 127 x 1.03 = 130.81, so 131, + 10 = 141.
	k := p.Reckoning
	if n := value(t, k.Sheets[len(k.Sheets)-1]); n != 113+141 {
		t.Errorf("%v sheets are needed: %+v", n, k.Sheets)
	}
}

func TestPriceBreaksFallByThePiece(t *testing.T) {
	r := twoPasses(t)
	r.Breaks = []int{100, 400, 2000}
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	b := p.Reckoning.Breaks
	if len(b) != 3 || value(t, b[1].Total) != value(t, p.Reckoning.Total) {
		t.Fatalf("%+v", b)
	}
	if !(value(t, b[0].PerPiece) > value(t, b[1].PerPiece) && value(t, b[1].PerPiece) > value(t, b[2].PerPiece)) {
		t.Errorf("a piece costs %v, %v, %v", value(t, b[0].PerPiece), value(t, b[1].PerPiece), value(t, b[2].PerPiece))
	}
}

// Nothing known of the parts is no sum of 0.
func TestASumOfNothingKnownIsNotGiven(t *testing.T) {
	f := sum("cost", "EUR", []Figure{missing("a", "EUR", "", "price of a"), missing("b", "EUR", "", "price of b")})
	if f.Value != nil || f.Text(2) != "not given" || len(f.NotGiven) != 2 || f.Formula != "a + b" {
		t.Errorf("%+v", f)
	}
	if f := sum("cost", "EUR", nil); f.Value == nil || *f.Value != 0 {
		t.Errorf("no parts at all: %+v", f)
	}
}

// A formula gives the figure beside it when it is worked out again.
func TestWasteIsWrittenInFull(t *testing.T) {
	r := twoPasses(t)
	r.Press.Waste.Share = ptr(press.Percent(3.25))
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := p.Reckoning.Sheets[2].Formula, "100 × 1.0325, rounded up, + 10 to set up"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestFiguresThatCannotBeAreRefused(t *testing.T) {
	for name, spoil := range map[string]func(r *Request){
		"a negative quantity":        func(r *Request) { r.Quantity = -1 },
		"a quantity beyond counting": func(r *Request) { r.Quantity = math.MaxInt },
		"a price break of nothing":   func(r *Request) { r.Breaks = []int{0} },
		"too many on a sheet":        func(r *Request) { r.Up = math.MaxInt },
		"a page without a size":      func(r *Request) { r.Sides[0].AreaMM2 = math.NaN() },
		"a tint without end":         func(r *Request) { r.Sides[0].Toners[0].Mean = math.Inf(1) },
	} {
		r := twoPasses(t)
		spoil(r)
		_, err := Best(r)
		_, also := Alternatives(r)
		var e *Impossible
		if !errors.As(err, &e) || e.Remedy == "" || !errors.As(also, &e) {
			t.Errorf("%s: %v, %v", name, err, also)
		}
	}
}

// Thousands of pages planned as one make thousands of millions of pieces: figures do not run over.
func TestVeryManyPiecesAreReckoned(t *testing.T) {
	r := twoPasses(t)
	r.Quantity, r.Up = 1_000_000_000_000, 10_000
	p, err := Best(r)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 1e8 good sheets, 103,000,010 into the second pass, x 1.03 = 106,090,010.3, so 106,090,011, + 10 into the first, which
	// lays 0.1 g of white on each of 10,000 pieces.
	if n, g := value(t, p.Reckoning.Sheets[1]), value(t, p.Reckoning.Toner[1].Job); n != 106_090_021 || g != 106_090_021_000 {
		t.Errorf("%v sheets, %v g of white", n, g)
	}
}
