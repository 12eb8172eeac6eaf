package paint

import (
	"fmt"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/image"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/limits"
)

// What painting costs, in square points of a plain opaque fill. Only the list decides, not the
// resolution, the region, what is skipped or how many paint: the same items are left out for a page, for a
// crop of it and for one pixel.
const (
	costPlain   = 1
	costBlended = 3      // 16 bits
	costMode    = 18     // a blend mode: the backdrop is read as well
	costFloat   = 14     // a mode that is no polynomial of what is premultiplied
	costImage   = 6      // samples are averaged
	costGroup   = 4      // a buffer is cleared, filled and composited
	costMasked  = 2      // something under a soft mask
	costMask    = 16     // a soft mask: a group, turned into values
	costClip    = 1      // the cover of a clip that is no rectangle
	costSample  = 1      // a sample of an image, which is read however small the image stands
	costPoint   = 8      // a point of a path: flattening and sorting
	costTable   = 40_000 // of a mask's transfer function, once
)

// A budget adds up what painting a list costs.
type budget struct {
	page  geom.Rect
	masks map[*displist.SoftMask]float64
	held  []*displist.SoftMask // masks a window would still remember, the newest last
	clip  *displist.Clip
	depth int

	// Of the cells of tilings and of shadings (tilingcost.go).
	scale  float64                    // what a square unit of the list counts
	real   float64                    // square points of a square unit of the list
	once   *float64                   // cost of what is made once, such as rasters of cells
	met    map[any]bool               // of these
	made   map[*displist.Shading]bool // meshes of these, for the page or the tile
	meshes map[meshSize]meshCost
	cells  map[*displist.Tiling]cost
	reader *planner // asked what cells read of their backdrop
	looked float64  // items of cells looked at tile by tile
}

// affordable is how many items of a page are painted: all, unless they are more work than
// limits allow.
func affordable(list *displist.List) int {
	_, n := workOf(list, limits.PaintWorkFloor+float64(limits.PaintWorkFactor*area(wholePage(list))))
	return n
}

func wholePage(list *displist.List) geom.Rect {
	return list.Page.Media.Union(list.Page.Crop).Union(list.Page.Bleed)
}

// workOf is what a list's first items cost that together stay below limit, and how many they are.
func workOf(list *displist.List, limit float64) (work float64, n int) {
	b := &budget{page: wholePage(list), masks: map[*displist.SoftMask]float64{}, scale: 1, real: 1, once: new(float64),
		met: map[any]bool{}, made: map[*displist.Shading]bool{}, meshes: map[meshSize]meshCost{}, cells: map[*displist.Tiling]cost{}, reader: &planner{}}
	work, n = b.items(list.Items, b.page, list.Blending && list.Group != nil && list.Group.Knockout, limit)
	return work + *b.once, n
}

// items is the cost of items inside within, and how many of them stay below the limit. buffered is
// whether they stand in a group's buffer.
func (b *budget) items(items []displist.Item, within geom.Rect, buffered bool, limit float64) (cost float64, n int) {
	type open struct {
		end      int
		rect     geom.Rect
		buffered bool
	}
	groups := []open{{len(items), within, buffered}}
	for i := 0; i < len(items); i++ {
		for len(groups) > 1 && i >= groups[len(groups)-1].end {
			groups = groups[:len(groups)-1]
		}
		it, in := &items[i], groups[len(groups)-1]
		if it.Hidden {
			if it.Kind == displist.BeginGroup && it.Group != nil {
				i = max(i, min(it.Group.End, len(items))-1)
			}
			continue
		}
		rect := it.Bounds.Intersect(in.rect)
		if it.Clip != nil {
			rect = rect.Intersect(it.Clip.Bounds)
		}
		size := b.area(rect)
		c := 0.0
		if it.SoftMask != nil && size > 0 {
			c += b.mask(it.SoftMask) + float64(costMasked*size)
		}
		if it.Clip != nil && it.Clip != b.clip && size > 0 {
			b.clip = it.Clip
			if p := it.Clip.Shape.Path; p == nil || !isRect(p) {
				c += float64(costClip*b.area(it.Clip.Bounds.Intersect(b.page))) + points(&it.Clip.Shape)
			}
		}
		blended := in.buffered || it.Alpha < 1 || it.Blend != displist.Normal || it.SoftMask != nil
		switch it.Kind {
		case displist.BeginGroup:
			if g := it.Group; g != nil {
				own := it.Alpha < 1 || it.Blend != displist.Normal || it.SoftMask != nil || g.Knockout || g.Isolated || g.Space != nil
				if own && len(groups) <= limits.MaxGroupDepth {
					c += float64((costGroup + modeCost(it.Blend)) * size)
				}
				groups = append(groups, open{min(max(g.End, i+1), in.end), rect, in.buffered || own})
			}
		case displist.Image:
			if size > 0 && it.Image != nil {
				c += float64((costImage+modeCost(it.Blend))*size) + samples(it.Image.Image)
			}
		default:
			each := float64(costPlain)
			if blended {
				each = costBlended
			}
			if rect.X0 <= rect.X1 && rect.Y0 <= rect.Y1 {
				c += float64((each+modeCost(it.Blend))*size) + points(&it.Shape)
			}
		}
		if it.Kind != displist.BeginGroup {
			c += b.pattern(it, rect)
		}
		if cost+c+*b.once > limit {
			return cost, i
		}
		cost += c
	}
	return cost, len(items)
}

// modeCost is what a blend mode costs beyond Normal, for each square point.
func modeCost(mode displist.Blend) float64 {
	switch mode {
	case displist.Normal:
		return 0
	case displist.Multiply, displist.Screen, displist.Darken, displist.Lighten:
		return costMode
	}
	return costMode + costFloat
}

// mask is the cost of painting a soft mask; nothing while a window remembers it.
func (b *budget) mask(m *displist.SoftMask) float64 {
	for i, h := range b.held {
		if h == m {
			b.held = append(append(b.held[:i:i], b.held[i+1:]...), m)
			return 0
		}
	}
	if m.Transfer != nil && !b.met[m] {
		b.met[m] = true
		*b.once += costTable
	}
	cost, known := b.masks[m]
	if !known {
		b.masks[m] = 0 // a mask within itself is not painted again
		if b.depth++; b.depth <= limits.MaxGroupDepth {
			rect := m.Bounds.Intersect(b.page)
			cost, _ = b.items(m.Items, rect, true, 1e300)
			cost += float64(costMask * b.area(rect))
		}
		b.depth--
		b.masks[m] = cost
	}
	if b.held = append(b.held, m); len(b.held) > maxMasks {
		b.held = append(b.held[:0], b.held[1:]...)
	}
	return cost
}

func isRect(p *geom.Path) bool {
	_, ok := p.AsRect()
	return ok
}

// points is the cost of a shape's points.
func points(s *displist.Shape) float64 {
	n := 0
	if s.Path != nil {
		n = len(s.Path.Points)
	}
	for _, g := range s.Glyphs {
		if g.Outline != nil {
			n += len(g.Outline.Points)
		}
	}
	return costPoint * float64(n)
}

// samples is the cost of reading an image and its masks.
func samples(im *image.Image) float64 {
	n := 0.0
	if im != nil {
		for _, part := range []*image.Image{im, im.SoftMask, im.Mask} {
			if part != nil {
				n += float64(part.Width) * float64(part.Height)
			}
		}
	}
	return costSample * n
}

// area is that of a rectangle of the list, in square points.
func (b *budget) area(r geom.Rect) float64 { return area(r) * b.scale }

func area(r geom.Rect) float64 {
	if !(r.X0 < r.X1 && r.Y0 < r.Y1) {
		return 0
	}
	return float64((r.X1 - r.X0) * (r.Y1 - r.Y0))
}

// tooHeavy reports items left out.
func tooHeavy(list *displist.List, first int, sink finding.Sink) {
	it := &list.Items[first]
	sink.Add(finding.Finding{ID: "page-too-heavy", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
		What: fmt.Sprintf("The page is drawn with so much overlapping transparency that only its first %d of %d objects are painted.",
			first, len(list.Items)),
		Why:    "What lies above them is missing from the plates.",
		Remedy: "Flatten the transparency in the design program, or place the artwork as a picture.",
		Place:  finding.Place{Page: list.Page.Number, Object: it.Origin.Object, Offset: it.Origin.Offset}})
}
