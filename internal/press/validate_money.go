package press

import (
	"fmt"
	"math"
	"strings"
)

// Validation of prices, speeds and waste.

// Bounds of figures no press room would write.
const (
	mostMoney     = 1e9
	mostPerHour   = 1e6
	mostMinutes   = 1e4
	mostWaste     = 100_000 // sheets
	mostBreaks    = 24
	mostQuantity  = 100_000_000
	mostWastePart = Percent(90)
)

func (s *source) price(p *Press) {
	s.money("price.click", p.Price.Click)
	s.money("price.set_change", p.Price.SetChange)
	if p.Price.Hour != nil {
		s.money("price.hour", *p.Price.Hour)
	}
	if p.Price.Currency != "" {
		return
	}
	priced := p.Price.Click != 0 || p.Price.SetChange != 0 || p.Price.Hour != nil
	for _, t := range p.Toners {
		priced = priced || t.PricePerKg != 0
	}
	if priced {
		s.errorAt("price", "add currency: EUR or what applies", "prices are given without a currency")
	}
}

func (s *source) money(path string, v float64) {
	if v < 0 || math.IsNaN(v) || v > mostMoney {
		s.errorAt(path, "", "%sis not a price", keyOf(path))
	}
}

func (s *source) stockPrice(p *StockPrice) {
	if p == nil {
		return
	}
	s.money("price.sheet", p.Sheet)
	if strings.TrimSpace(p.Currency) == "" {
		s.errorAt("price.currency", "add currency: EUR or what applies", "a price is given without a currency")
	}
}

func (s *source) speed(v *Speed) {
	if n := v.SheetsPerHour; n != nil && !(*n > 0 && *n <= mostPerHour) {
		s.errorAt("speed.sheets_per_hour", "leave it out when it is not known", "%g sheets an hour are not possible", *n)
	}
	for _, f := range []struct {
		path string
		v    *float64
	}{{"speed.set_up_minutes", v.SetUpMinutes}, {"speed.set_change_minutes", v.SetChangeMinutes}} {
		if f.v != nil && !(*f.v >= 0 && *f.v <= mostMinutes) {
			s.errorAt(f.path, "leave it out when it is not known", "%g minutes are not possible", *f.v)
		}
	}
}

func (s *source) waste(w *Waste) {
	if w.Sheets != nil && (*w.Sheets < 0 || *w.Sheets > mostWaste) {
		s.errorAt("waste.sheets", "10 to 20 sheets are usual", "%d sheets to set up a pass are not possible", *w.Sheets)
	}
	if w.Share != nil && (*w.Share < 0 || *w.Share > mostWastePart) {
		s.errorAt("waste.share", "2% to 5% are usual", "a waste of %v is not possible", *w.Share)
	}
}

func (s *source) priceBreaks(list []int) {
	if len(list) > mostBreaks {
		s.errorAt("price_breaks", "", "%d quantities are more than %d", len(list), mostBreaks)
	}
	for i, n := range list {
		at := fmt.Sprintf("price_breaks[%d]", i)
		switch {
		case n <= 0 || n > mostQuantity:
			s.errorAt(at, "write how many finished pieces, as 500", "a quantity of %d is not possible", n)
		case i > 0 && n <= list[i-1]:
			s.errorAt(at, "write the quantities rising, as [250, 500, 1000]", "%d does not come after %d", n, list[i-1])
		}
	}
}
