package app

import (
	"context"

	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/look"
	"laydown/internal/press"
)

// LookPoint is how one point of the sheet looks and what lies there.
type LookPoint struct {
	XMM  float64   `json:"x_mm"`
	YMM  float64   `json:"y_mm"`
	Lab  press.Lab `json:"lab"`  // D50, 2 degrees, lamp at 45 degrees, seen from above
	SRGB string    `json:"srgb"` // as a screen shows it
	// Plates are the tints in percent, by colourant; those without toner are left out.
	Plates map[string]float64 `json:"plates"`
	Pile   float64            `json:"pile"` // sum of all tints, percent
}

// LookAt tells the looks of points. The first stands at the top.
type LookAt struct {
	LookPoint
	Page  int     `json:"page"`
	DPI   float64 `json:"dpi"`
	Stock string  `json:"stock"`
	// More points, and the CIEDE2000 difference of each to the first.
	More        []LookPoint `json:"more,omitempty"`
	Differences []float64   `json:"differences,omitempty"`

	Toners   []TonerLook       `json:"toners"` // of the page, first laid first
	Notes    []string          `json:"notes,omitempty"`
	Findings []finding.Finding `json:"findings"`
}

// LookAtRequest asks how points look.
type LookAtRequest struct {
	File   string
	Setup  *Setup
	Page   int
	DPI    float64 // of the plates the tints are taken from
	Points []PointMM
	View   LookView
	Timer  *instrument.Timer
}

// LookAtPoints tells how points of a page look. A point outside the page is an error.
func LookAtPoints(ctx context.Context, req LookAtRequest) (*LookAt, error) {
	v, err := req.Setup.view(ctx, req.File, req.Page, req.Timer)
	if err != nil {
		return nil, err
	}
	defer v.Close()
	m, layers, err := v.model(req.View)
	if err != nil {
		return nil, err
	}
	out := &LookAt{Page: req.Page, DPI: req.DPI, Stock: v.stock.Title, Notes: m.Notes()}
	for i, p := range req.Points {
		px, err := v.laid.sheet.pixel(ctx, PixelRequest{Page: req.Page, DPI: req.DPI, XMM: p.X, YMM: p.Y, From: BoxTrim})
		if err != nil {
			return nil, err
		}
		tints := make([]uint8, len(px.Plates))
		at := LookPoint{XMM: p.X, YMM: p.Y, Plates: map[string]float64{}, Pile: round2(px.Total)}
		for k, pl := range px.Plates {
			tints[k] = pl.Value
			if pl.Value > 0 {
				at.Plates[pl.Colourant] = round2(float64(pl.Value) / 2.55)
			}
		}
		at.Lab, at.SRGB = rounded(m.Lab(tints)), css(m.SRGB(tints))
		if i == 0 {
			out.LookPoint = at
			continue
		}
		out.More = append(out.More, at)
		out.Differences = append(out.Differences, round2(look.Difference(out.Lab, at.Lab)))
	}
	out.Toners = tonerLooks(v.stock, req.View.side(req.Page), m, layers)
	out.Findings = v.laid.sheet.allFindings(v.art)
	return out, nil
}
