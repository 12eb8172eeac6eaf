package check

import (
	"context"
	"fmt"
	"image"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var whiteUnderBlackType = Rule{
	ID:    "white-under-black-type",
	Group: Laydown,
	Measures: "type in black alone with a white under more than half of it that ends with the type: white on less than three tenths of the rim round it, " +
		"so that type on a white ground does not count",
	Figures: []Figure{
		{Key: "area", Unit: press.UnitArea, Default: .5, What: "smallest area of type on white that counts", Source: CommonPractice},
		{Key: "rim", Unit: press.UnitLength, Default: .5, What: "width of the rim looked at", Source: CommonPractice},
	},
	Source:     CommonPractice + ": no white below black; it saves toner and shows no white rim",
	Severities: []finding.Severity{finding.Note},
	Page: func(ctx context.Context, c *Case) error {
		rank := c.rank()
		for b := len(colourant.ProcessNames); b < c.Plates.Set.Len(); b++ {
			if c.Plates.Set.At(b).Kind != colourant.OpaqueWhite || c.Plates.Plane(b) == nil || c.Plates.Plane(processBlack) == nil ||
				rank[b] < 0 || rank[processBlack] < rank[b] {
				continue
			}
			if err := c.whiteUnderType(ctx, b); err != nil {
				return err
			}
		}
		return nil
	},
}

func (c *Case) whiteUnderType(ctx context.Context, b int) error {
	var items []int
	for _, s := range c.plan() {
		if it := &c.List.Items[s.Item]; it.Text != nil && blackAlone(&s) && !it.Bounds.Intersect(c.List.Page.Bleed).Empty() {
			items = append(items, s.Item)
		}
	}
	rim := press.Length(min(c.figure("rim"), widestRim)).Points()
	pixels := c.pixelsOf(c.boundsOf(items).Grow(rim))
	if len(items) == 0 || pixels.Empty() {
		return nil
	}
	letters := c.newMask()
	err := c.alone(ctx, items, pixels, func(_, y int, tints []byte) {
		start := y*c.Plates.Width + pixels.Min.X
		for x, v := range tints {
			letters[start+x] |= bit(v >= solidTint)
		}
	})
	if err != nil {
		return err
	}
	var found []int
	total := 0
	for _, i := range items {
		box := c.pixelsOf(c.List.Items[i].Bounds.Grow(rim))
		if n, under := c.shapedWhite(letters, c.Plates.Plane(b), box); under {
			found, total = append(found, i), total+n
		}
	}
	area := float64(total) * c.px() * c.px()
	if area < c.figure("area") {
		return nil
	}
	name := c.Plates.Set.At(b).Name
	c.Add(finding.Finding{
		Severity: finding.Note,
		What:     fmt.Sprintf("%s lies under black type and ends with it, on %s.", name, areaText(area)),
		Why:      "Black hides what lies under it, so the white only costs toner, and where the plates are off each other it shows as a rim round the letters.",
		Remedy:   fmt.Sprintf("Leave %s out under type in plain black.", name),
		Place:    c.place(c.boundsOf(found), found, name, colourant.Black),
		Figures:  map[string]float64{"area_mm2": round2(area)},
	})
	return nil
}

// shapedWhite counts the pixels of letters with white under them in a box, and tells whether the white has the
// letters' shape: most of them have it, and the rim of a box round each row of letters has not.
func (c *Case) shapedWhite(letters mask, white []byte, box image.Rectangle) (n int, shaped bool) {
	reach := max(1, int(min(c.figure("rim"), widestRim)/c.px()))
	w := c.Plates.Width
	inLetters, inRim, rimWhite := 0, 0, 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			i := y*w + x
			if letters[i] != 0 {
				inLetters++
				n += int(bit(white[i] >= solidTint))
				continue
			}
			if !c.nearLetter(letters, x, y, reach, box) {
				continue
			}
			inRim++
			rimWhite += int(bit(white[i] >= solidTint))
		}
	}
	return n, inLetters > 0 && 2*n > inLetters && 10*rimWhite < 3*inRim
}

// widestRim is as far as rims are looked at, mm.
const widestRim = 5

// nearLetter looks along the row and the column.
func (c *Case) nearLetter(letters mask, x, y, reach int, box image.Rectangle) bool {
	w := c.Plates.Width
	for d := 1; d <= reach; d++ {
		if x-d >= box.Min.X && letters[y*w+x-d] != 0 || x+d < box.Max.X && letters[y*w+x+d] != 0 ||
			y-d >= box.Min.Y && letters[(y-d)*w+x] != 0 || y+d < box.Max.Y && letters[(y+d)*w+x] != 0 {
			return true
		}
	}
	return false
}
