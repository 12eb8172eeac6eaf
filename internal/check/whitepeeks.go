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
	Remedies:   []string{"choke-underlay"},
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

// blockSide is the side of the squares distances are measured in, pixels: only those the outline of the white passes.
const blockSide = 128

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
	plates := image.Rect(0, 0, c.Plates.Width, c.Plates.Height)
	side := max(blockSide, 2*margin)
	for y := box.Min.Y; y < box.Max.Y; y += side {
		if err := ctx.Err(); err != nil {
			return err
		}
		for x := box.Min.X; x < box.Max.X; x += side {
			block := image.Rect(x, y, x+side, y+side).Intersect(box)
			if !hasOutline(c.crop(b, block.Inset(-1).Intersect(plates))) {
				continue
			}
			around := block.Inset(-margin).Intersect(plates)
			dw, dc, err := c.distances(b, over, around, reach)
			if err != nil || dc == nil {
				if err != nil {
					return err
				}
				continue
			}
			for by := block.Min.Y; by < block.Max.Y; by++ {
				for bx := block.Min.X; bx < block.Max.X; bx++ {
					i := (by-around.Min.Y)*around.Dx() + bx - around.Min.X
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
					m[by*w+bx] = 1
					n++
					if choke < atLeast-slack {
						short++
					}
					least = min(least, choke)
				}
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

// crop copies a part of a plate.
func (c *Case) crop(plate int, r image.Rectangle) []byte {
	out := make([]byte, 0, r.Dx()*r.Dy())
	plane := c.Plates.Plane(plate)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		out = append(out, plane[y*c.Plates.Width+r.Min.X:y*c.Plates.Width+r.Max.X]...)
	}
	return out
}

// hasOutline reports whether toner ends somewhere in a part of a plate.
func hasOutline(part []byte) bool {
	some, none := false, false
	for _, v := range part {
		some, none = some || v >= visibleTint, none || v < visibleTint
		if some && none {
			return true
		}
	}
	return false
}

// distances measures from the outlines of the white and of the toners over it; dc is nil where there are none of these.
func (c *Case) distances(b int, over plateBits, r image.Rectangle, reach float64) (dw, dc []float32, err error) {
	colours := make([]byte, r.Dx()*r.Dy())
	c.coverOf(colours, over&processPlates, r)
	for k := len(colourant.ProcessNames); k < c.Plates.Set.Len(); k++ {
		c.coverOf(colours, over&(1<<k), r)
	}
	if !anyToner(colours) {
		return nil, nil, nil
	}
	plane := func(pix []byte) distance.Plane {
		return distance.Plane{Pix: pix, W: r.Dx(), H: r.Dy(), DPI: c.Plates.DPI}
	}
	if dw, err = distance.Distances(plane(asCoverage(c.crop(b, r), r.Dx())), reach, distance.Options{Workers: 1}); err != nil {
		return nil, nil, err
	}
	dc, err = distance.Distances(plane(colours), reach, distance.Options{Workers: 1})
	return dw, dc, err
}

// coverOf adds the coverage of the darkest of some plates in a part of the page: shapes that knock each other out share the
// pixels of their common edge, and together cover them.
func (c *Case) coverOf(sum []byte, plates plateBits, r image.Rectangle) {
	var most []byte
	for k := range c.Plates.Set.Len() {
		if !plates.has(k) || c.Plates.Plane(k) == nil {
			continue
		}
		part := c.crop(k, r)
		if most == nil {
			most = part
			continue
		}
		for i, v := range part {
			most[i] = max(most[i], v)
		}
	}
	if most == nil {
		return
	}
	for i, v := range asCoverage(most, r.Dx()) {
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
