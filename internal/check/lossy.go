package check

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/press"
)

var lossyImage = Rule{
	ID:    "image-lossy",
	Group: Images,
	Measures: "the quality of JPEG images, 1 to 100, estimated from their quantisation tables against the example table of the standard scaled the usual way (qualities " +
		"under 20 are read as up to 15), and of JPEG 2000 images: that of the JPEG whose steps leave the same error as the quantisation steps and the bit planes left out; " +
		"images in special plates and others",
	Figures: []Figure{
		{Key: "special", Unit: press.UnitNumber, Default: 90, What: "quality below which an image in a special plate is a fault", Source: CommonPractice},
		{Key: "least", Unit: press.UnitNumber, Default: 40, What: "quality below which any image is a fault", Source: CommonPractice},
		{Key: "size", Unit: press.UnitLength, Default: 5, What: "images with both sides shorter do not count", Source: CommonPractice},
	},
	Source:     "ITU-T T.81, B.2.4.1 and Annex K, table K.1; ITU-T T.800, Annexes B, D and E; scaling by quality: common practice, no source; alike errors for alike qualities: our own reading",
	Severities: []finding.Severity{finding.Warning},
	Page: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		known := map[pdf.Ref]coded{}
		var special, other lossyImages
		for _, pic := range c.pictures() {
			im := c.List.Items[pic.item].Image
			if im.Filter != "DCTDecode" && im.Filter != "JPXDecode" || im.Ref == (pdf.Ref{}) || pic.flat || max(pic.w, pic.h) < c.figure("size") {
				continue
			}
			q, ok := known[im.Ref]
			if !ok {
				q = c.codedQuality(im.Ref)
				known[im.Ref] = q
			}
			switch {
			case q.quality == 0:
			case pic.toner&c.specialPlates() != 0:
				if q.quality < c.figure("special") {
					special.add(pic.item, q)
				}
			case q.quality < c.figure("least"):
				other.add(pic.item, q)
			}
		}
		if len(special.items) > 0 {
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s in a special plate with %s; %.0f is wanted.", imagesAre(len(special.items)), special.worst.words(), c.figure("special")),
				Why:      "Lossy compression leaves blocks and specks of light tints round edges; white, metal and clear show them where the eye forgives them in a picture.",
				Remedy:   "Export plates of special toners without loss (ZIP compression).",
				Place:    c.place(c.boundsOf(special.items), special.items, c.plateNames(c.tonerOfItems(special.items)&c.specialPlates())...),
				Figures:  special.worst.figures(),
			})
		}
		if len(other.items) > 0 {
			c.Add(finding.Finding{
				Severity: finding.Warning,
				What:     fmt.Sprintf("%s compressed to %s; %.0f is the least.", imagesAre(len(other.items)), other.worst.words(), c.figure("least")),
				Why:      "So much is lost that blocks and rims show in print.",
				Remedy:   "Use the original image, and export with a higher quality.",
				Place:    c.place(c.boundsOf(other.items), other.items),
				Figures:  other.worst.figures(),
			})
		}
		return nil
	},
}

// lossyImages gathers the images of one finding and the worst of them.
type lossyImages struct {
	items []int
	worst coded
}

func (l *lossyImages) add(item int, q coded) {
	if l.items == nil || q.quality < l.worst.quality {
		l.worst = q
	}
	l.items = append(l.items, item)
}

// coded is how well an image was coded.
type coded struct {
	quality float64 // of JPEG, 1 to 100; 0 = not known, or nothing was lost
	jpx     bool    // by JPEG 2000, which the next two are of
	err     float64 // expected error of a tint, percent
	planes  int     // bit planes left out
}

func (q coded) words() string {
	if !q.jpx {
		return fmt.Sprintf("a JPEG quality of about %.0f", q.quality)
	}
	return fmt.Sprintf("JPEG 2000 of an error of %.1f %% or so, which is a JPEG quality of about %.0f", q.err, q.quality)
}

func (q coded) figures() map[string]float64 {
	f := map[string]float64{"quality": math.Round(q.quality)}
	if q.jpx {
		f["error_percent"], f["planes"] = round2(q.err), float64(q.planes)
	}
	return f
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

// codedQuality estimates the quality of the JPEG or JPEG 2000 data of an image object.
func (in *Input) codedQuality(ref pdf.Ref) (q coded) {
	s, ok := in.Doc.Stream(ref)
	if !ok {
		return q
	}
	data, rest, err := in.Doc.ImageData(s)
	if err != nil || len(rest) == 0 {
		return q
	}
	switch rest[0].Name {
	case "DCTDecode":
		if table, ok := quantisation(data); ok {
			q.quality = qualityOf(table)
		}
	case "JPXDecode":
		if l, err := image.JPXLoss(data); err == nil && !l.Lossless {
			q = coded{quality: qualityOfError(l.Error), jpx: true, err: 100 * l.Error, planes: l.Planes}
		}
	}
	return q
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
	return qualityOfScale(100 * float64(sum) / float64(example))
}

func qualityOfScale(scale float64) float64 {
	if scale <= 100 {
		return min(100, (200-scale)/2)
	}
	return max(1, 5000/scale)
}

// qualityOfError is the quality whose scaled table leaves an error, in parts of the range: a coefficient known to a step is
// off by a twelfth of its square, and the cosine transform keeps the sum of squares.
func qualityOfError(e float64) float64 {
	square := 0
	for _, v := range luminance {
		square += v * v
	}
	return qualityOfScale(100 * e * 255 / math.Sqrt(float64(square)/64/12))
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
