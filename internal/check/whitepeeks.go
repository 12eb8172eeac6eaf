package check

import (
	"context"
	"fmt"
	"image"
	"math"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plates/distance"
	"laydown/internal/press"
)

var whitePeeksOut = Rule{
	ID:    "white-peeks-out",
	Group: Laydown,
	Measures: "how far the outline of a white lies inside that of the toners over it (10 % or more, clear aside), inside the trim, by exact distance; white " +
		"that stands out of them on purpose, or ends far inside, does not count; on stock darker than the figure. Nobody having asked for a choke, it is a warning " +
		"below the register within a pass, and a note from there to that between passes",
	Figures: []Figure{
		{Key: "choke", Unit: press.UnitLength, From: "choke of the job's underlay, else the register of the press, within a pass or between passes", What: "least distance of the outlines", Source: "job and press definition"},
		{Key: "slack", Unit: press.UnitLength, Default: .03, What: "what the distance may fall short by", Source: CommonPractice},
		{Key: "length", Unit: press.UnitLength, Default: 5, What: "shortest length of outline that counts", Source: CommonPractice},
		{Key: "lightness", Unit: press.UnitNumber, Default: 85, What: "L* of the stock below which a white rim is seen", Source: CommonPractice},
	},
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Remedies:   []string{"choke-underlay", "make-underlay"},
	Page: func(ctx context.Context, c *Case) error {
		if c.Stock == nil || c.Press == nil || c.Stock.Front[0] >= c.figure("lightness") {
			return nil
		}
		rank := c.rank()
		for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
			if c.Plates.Set.At(b).Kind != colourant.OpaqueWhite || c.Plates.Plane(b) == nil || rank[b] < 0 {
				continue
			}
			var over plateBits
			for k := range c.Plates.Set.Len() {
				if rank[k] > rank[b] && c.Plates.Plane(k) != nil && c.Plates.Set.At(k).Kind != colourant.Clear {
					over |= 1 << k
				}
			}
			if over&processPlates != 0 {
				if err := c.peeking(ctx, b, over); err != nil {
					return err
				}
			}
		}
		return nil
	},
}

// wantedChoke is how far the white should stay inside the colours, mm, and how far at least.
func (c *Case) wantedChoke(b int, over plateBits) (want, least float64) {
	name := c.Plates.Set.At(b).Name
	wish := 0.0
	if c.Job != nil {
		for _, w := range c.Job.Wishes.Underlay {
			if w.Toner == name {
				wish = float64(w.Choke)
			}
		}
	}
	least = wish
	if wish == 0 {
		least = float64(c.Press.Register.Within)
		wish = float64(c.Press.Register.Within)
		for _, pass := range c.Passes {
			here := false
			for _, t := range pass.Toners {
				here = here || t == name
			}
			for _, t := range pass.Toners {
				if k, ok := c.Plates.Set.Lookup(t); ok && (over & processPlates).has(k) && !here {
					wish = float64(c.Press.Register.Between)
				}
			}
		}
	}
	want = c.figureElse("choke", wish)
	if set := c.figureElse("choke", 0); set > 0 {
		least = set
	}
	return want, min(want, least)
}

// stripRows is how many rows distances are measured of at a time: they take 8 bytes a pixel.
const stripRows = 512

// peeking looks at the outline of white b against the colours over it.
func (c *Case) peeking(ctx context.Context, b int, over plateBits) error {
	slack := c.figure("slack")
	want, atLeast := c.wantedChoke(b, over)
	if want <= slack {
		return nil
	}
	px, w := c.px(), c.Plates.Width
	reach := want + 3*px
	margin := int(reach/px) + 4
	box := c.pixelsOf(c.List.Page.Bleed)
	if c.List.Page.HasTrim {
		// White and colours end together where they are cut.
		box = image.Rect(c.PixelRect(c.List.Page.Trim.Grow(-2 * want * geom.PointsPerMM)))
	}
	var m mask
	n, short := 0, 0 // pixels of outline under what is wanted, and under the least
	least := math.Inf(1)
	for top := box.Min.Y; top < box.Max.Y; top += stripRows {
		if err := ctx.Err(); err != nil {
			return err
		}
		y0, y1 := max(0, top-margin), min(c.Plates.Height, top+stripRows+margin)
		white := distance.Plane{Pix: c.Plates.Plane(b)[y0*w : y1*w], W: w, H: y1 - y0, DPI: c.Plates.DPI}
		if !anyToner(white.Pix) {
			continue
		}
		colours := distance.Plane{Pix: make([]byte, len(white.Pix)), W: w, H: y1 - y0, DPI: c.Plates.DPI}
		c.coverOf(colours.Pix, over&processPlates, y0, y1)
		for k := len(colourant.ProcessNames); k < c.Plates.Set.Len(); k++ {
			c.coverOf(colours.Pix, over&(1<<k), y0, y1)
		}
		if !anyToner(colours.Pix) {
			continue
		}
		white.Pix = asCoverage(white.Pix, w)
		dw, err := distance.Distances(white, reach, distance.Options{})
		if err != nil {
			return err
		}
		dc, err := distance.Distances(colours, reach, distance.Options{})
		if err != nil {
			return err
		}
		for y := top; y < min(top+stripRows, box.Max.Y); y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				i := (y-y0)*w + x
				// The outline of the white passes here, inside it.
				if d := float64(dw[i]); d < 0 || d >= px {
					continue
				}
				choke := float64(dc[i]) - float64(dw[i])
				if choke < -slack || choke >= want-slack {
					continue
				}
				if m == nil {
					m = c.newMask()
				}
				m[y*w+x] = 1
				n++
				if choke < atLeast-slack {
					short++
				}
				least = min(least, choke)
			}
		}
	}
	length := float64(n) * px
	if m == nil || length < c.figure("length") {
		return nil
	}
	over = c.meeting(over, m)
	name := c.Plates.Set.At(b).Name
	severity := finding.Note
	if float64(short)*px >= c.figure("length") {
		severity = finding.Warning
	}
	c.Add(finding.Finding{
		Severity: severity,
		What: fmt.Sprintf("%s ends with the colours over it, or less than %.2f mm inside them, on %.0f mm of outline; %.2f mm nearest.", name, want, length,
			max(0, least)),
		Why:     fmt.Sprintf("Plates may be off each other: where the colours do not reach over the edge of %s, a white rim shows on the stock.", name),
		Remedy:  fmt.Sprintf("Make %s smaller by %.2f mm all round, or the colours larger.", name, want),
		Place:   c.place(c.bounds(m).Grow(.2*geom.PointsPerMM), c.itemsTouching(m, 1<<b), append([]string{name}, c.plateNames(over)...)...),
		Figures: map[string]float64{"choke_mm": round3(max(0, least)), "length_mm": math.Round(length)},
	})
	return nil
}

// coverOf adds the coverage of the darkest of some plates in a strip of rows: shapes that knock each other out share the
// pixels of their common edge, and together cover them.
func (c *Case) coverOf(sum []byte, plates plateBits, y0, y1 int) {
	w := c.Plates.Width
	most := make([]byte, len(sum))
	for k := range c.Plates.Set.Len() {
		if plane := c.Plates.Plane(k); plates.has(k) && plane != nil {
			for i, v := range plane[y0*w : y1*w] {
				most[i] = max(most[i], v)
			}
		}
	}
	for i, v := range asCoverage(most, w) {
		sum[i] = byte(min(255, int(sum[i])+int(v)))
	}
}

// asCoverage turns tints into coverage near outlines: each pixel in parts of the darkest of its neighbourhood of 3 x 3, so
// that the outline of a tint lies where its shape ends. What is not visible is nothing.
func asCoverage(plane []byte, w int) []byte {
	out, across := make([]byte, len(plane)), make([]byte, len(plane))
	for i, v := range plane {
		most := v
		if i%w > 0 {
			most = max(most, plane[i-1])
		}
		if i%w < w-1 {
			most = max(most, plane[i+1])
		}
		across[i] = most
	}
	for i, v := range plane {
		most := across[i]
		if i >= w {
			most = max(most, across[i-w])
		}
		if i+w < len(plane) {
			most = max(most, across[i+w])
		}
		if most >= visibleTint {
			out[i] = byte(int(v) * 255 / int(most))
		}
	}
	return out
}

func anyToner(plane []byte) bool {
	for _, v := range plane {
		if v != 0 {
			return true
		}
	}
	return false
}
