package check

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var lossyImage = Rule{
	ID:    "image-lossy",
	Group: Images,
	Measures: "the quality of JPEG images, 1 to 100, estimated from their quantisation tables against the example table of the standard scaled the usual way (qualities " +
		"under 20 are read as up to 15); images in special plates and others",
	Figures: []Figure{
		{Key: "special", Unit: press.UnitNumber, Default: 90, What: "quality below which an image in a special plate is a fault", Source: CommonPractice},
		{Key: "least", Unit: press.UnitNumber, Default: 40, What: "quality below which any image is a fault", Source: CommonPractice},
		{Key: "size", Unit: press.UnitLength, Default: 5, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     "ITU-T T.81, B.2.4.1 and Annex K, table K.1; scaling by quality: common practice, no source",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		known := map[pdf.Ref]float64{}
		var special, other []int
		lowest := [2]float64{101, 101}
		for _, pic := range c.pictures() {
			im := c.List.Items[pic.item].Image
			if im.Filter != "DCTDecode" || im.Ref == (pdf.Ref{}) || pic.flat || max(pic.w, pic.h) < c.figure("size") {
				continue
			}
			q, ok := known[im.Ref]
			if !ok {
				q = c.jpegQuality(im.Ref)
				known[im.Ref] = q
			}
			switch {
			case q == 0:
			case pic.toner&c.specialPlates() != 0:
				if q < c.figure("special") {
					special = append(special, pic.item)
					lowest[0] = min(lowest[0], q)
				}
			case q < c.figure("least"):
				other = append(other, pic.item)
				lowest[1] = min(lowest[1], q)
			}
		}
		if len(special) > 0 {
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s in a special plate with a JPEG quality of about %.0f; %.0f is wanted.", imagesAre(len(special)), lowest[0], c.figure("special")),
				Why:      "Lossy compression leaves blocks and specks of light tints round edges; white, metal and clear show them where the eye forgives them in a picture.",
				Remedy:   "Export plates of special toners without loss (ZIP compression).",
				Place:    c.place(c.boundsOf(special), special, c.plateNames(c.tonerOfItems(special)&c.specialPlates())...),
				Figures:  map[string]float64{"quality": math.Round(lowest[0])},
			})
		}
		if len(other) > 0 {
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s compressed to a JPEG quality of about %.0f; %.0f is the least.", imagesAre(len(other)), lowest[1], c.figure("least")),
				Why:      "So much is lost that blocks and rims show in print.",
				Remedy:   "Use the original image, and export with a higher quality.",
				Place:    c.place(c.boundsOf(other), other),
				Figures:  map[string]float64{"quality": math.Round(lowest[1])},
			})
		}
		return nil
	},
}

func imagesAre(n int) string {
	if n == 1 {
		return "1 image is"
	}
	return fmt.Sprintf("%d images are", n)
}

func (p *Page) tonerOfItems(items []int) (b plateBits) {
	for _, i := range items {
		b |= p.itemToner(i)
	}
	return b
}

// jpegQuality estimates the quality of the JPEG data of an image object; 0 = not known.
func (in *Input) jpegQuality(ref pdf.Ref) float64 {
	s, ok := in.Doc.Stream(ref)
	if !ok {
		return 0
	}
	data, rest, err := in.Doc.ImageData(s)
	if err != nil || len(rest) == 0 || rest[0].Name != "DCTDecode" {
		return 0
	}
	table, ok := quantisation(data)
	if !ok {
		return 0
	}
	return qualityOf(table)
}

// luminance is table K.1 of ITU-T T.81, in zigzag order as tables are stored.
var luminance = [64]int{
	16, 11, 12, 14, 12, 10, 16, 14, 13, 14, 18, 17, 16, 19, 24, 40,
	26, 24, 22, 22, 24, 49, 35, 37, 29, 40, 58, 51, 61, 60, 57, 51,
	56, 55, 64, 72, 92, 78, 64, 68, 87, 69, 55, 56, 80, 109, 81, 87,
	95, 98, 103, 104, 103, 62, 77, 113, 121, 112, 100, 120, 92, 101, 103, 99,
}

// qualityOf is the quality whose scaled table has the same mean: 5000/q percent of the example below 50, 200-2q
// from there on.
func qualityOf(table [64]int) float64 {
	sum, example := 0, 0
	for i, v := range table {
		sum, example = sum+v, example+luminance[i]
	}
	scale := 100 * float64(sum) / float64(example)
	if scale <= 100 {
		return min(100, (200-scale)/2)
	}
	return max(1, 5000/scale)
}

// quantisation reads the first quantisation table of JPEG data (B.2.4.1).
func quantisation(data []byte) (table [64]int, ok bool) {
	for i := 2; i+4 <= len(data); {
		if data[i] != 0xff {
			return table, false
		}
		marker := data[i+1]
		if marker == 0xff {
			i++
			continue
		}
		n := int(binary.BigEndian.Uint16(data[i+2:]))
		if marker == 0xda || n < 2 || i+2+n > len(data) {
			return table, false
		}
		if seg := data[i+4 : i+2+n]; marker == 0xdb && len(seg) > 0 {
			wide := seg[0] >> 4
			seg = seg[1:]
			for k := range table {
				switch {
				case wide == 0 && k < len(seg):
					table[k] = int(seg[k])
				case wide == 1 && 2*k+1 < len(seg):
					table[k] = int(binary.BigEndian.Uint16(seg[2*k:]))
				default:
					return table, false
				}
			}
			return table, true
		}
		i += 2 + n
	}
	return table, false
}
