package distance

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// sets joins numbers (union-find); the root of a set is its least number.
type sets []int32

func (s sets) root(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

func (s sets) join(a, b int32) {
	a, b = s.root(a), s.root(b)
	s[max(a, b)] = min(a, b)
}

// groups numbers samples, in row order, by what is connected: middles no farther apart than the stroke is wide, or 3 pixels. Middles
// of two strokes of that width are farther apart.
func (m *measurer) groups(ss []sample) []int32 {
	const nearest, farthest = 3, 16
	id := make(sets, len(ss))
	// The last samples by column, of the row and those above.
	var rows [farthest + 1][]int32
	for i := range rows {
		rows[i] = make([]int32, m.p.W)
	}
	for i, s := range ss {
		id[i] = int32(i)
		near := min(max(int(s.width), nearest), farthest)
		for up := 0; up <= min(near, int(s.y)); up++ {
			row := rows[(int(s.y)-up)%len(rows)]
			for x := max(int(s.x)-near, 0); x <= min(int(s.x)+near, m.p.W-1); x++ {
				if j := row[x] - 1; j >= 0 && int(s.y-ss[j].y) == up {
					id.join(j, int32(i))
				}
			}
		}
		rows[int(s.y)%len(rows)][s.x] = int32(i + 1)
	}
	for i := range id {
		id[i] = id.root(int32(i))
	}
	return id
}

// waver is by how much of a pixel samples of one width may differ.
const waver = 0.15

// regions puts samples together to places thinner than the limit.
func (m *measurer) regions(ss []sample) ([]Region, error) {
	// What wavers about the limit stays in one piece; whether it is thin is told by the whole of it. Ends that belong to something
	// wider count for nothing.
	id := m.groups(ss)
	const ( // of a group
		inner = 1 << iota
		thinInner
	)
	has := make([]uint8, len(ss))
	for i, s := range ss {
		if !s.end {
			has[id[i]] |= inner
			if float64(s.width) < m.limit+waver {
				has[id[i]] |= thinInner
			}
		}
	}
	kept := ss[:0:0]
	for i, s := range ss {
		if float64(s.width) < m.limit+waver && (!s.end || has[id[i]] != inner) {
			kept = append(kept, s)
		}
	}
	id = m.groups(kept)
	members := map[int32][]sample{}
	var order []int32
	for i, s := range kept {
		if _, ok := members[id[i]]; !ok {
			order = append(order, id[i])
		}
		members[id[i]] = append(members[id[i]], s)
	}
	taken := make([]uint64, (len(m.p.Pix)+63)/64)
	var out []Region
	for _, k := range order {
		if r, ok := m.region(members[k], taken); ok {
			if len(out) == maxRegions {
				return nil, fmt.Errorf("distance: more than %d places thinner than %.4f mm: this is grain or a screen, not line work",
					maxRegions, m.limit/m.p.PerMM())
			}
			out = append(out, r)
		}
	}
	return out, nil
}

// region measures one place. Pixels already taken by another place do not count again.
func (m *measurer) region(ss []sample, taken []uint64) (Region, bool) {
	p := m.p
	r := Region{X0: p.W, Y0: p.H}
	faint := r // the box of what is covered by less
	var area, sx, sy, sxx, syy, sxy float64
	short := true
	for _, s := range ss {
		short = short && s.end
		reach := int(math.Ceil(float64(s.width)/2)) + 1
		for y := max(int(s.y)-reach, 0); y <= min(int(s.y)+reach, p.H-1); y++ {
			for x := max(int(s.x)-reach, 0); x <= min(int(s.x)+reach, p.W-1); x++ {
				i := y*p.W + x
				v := float64(p.Pix[i]) / 255
				if v == 0 {
					continue
				}
				box := &faint
				if v >= 0.1 {
					box = &r
				}
				box.X0, box.Y0, box.X1, box.Y1 = min(box.X0, x), min(box.Y0, y), max(box.X1, x+1), max(box.Y1, y+1)
				if taken[i>>6]&(1<<(i&63)) != 0 {
					continue
				}
				taken[i>>6] |= 1 << (i & 63)
				dx, dy := float64(x)-float64(ss[0].x), float64(y)-float64(ss[0].y)
				area += v
				sx += float64(v * dx)
				sy += float64(v * dy)
				sxx += float64(v * dx * dx)
				syy += float64(v * dy * dy)
				sxy += float64(v * dx * dy)
			}
		}
	}
	if area == 0 {
		return Region{}, false
	}
	if r.X1 == 0 {
		r = faint
	}
	if !short {
		ss = slices.DeleteFunc(ss, func(s sample) bool { return s.end })
	}
	slices.SortStableFunc(ss, func(a, b sample) int { return cmp.Compare(a.width, b.width) })
	thinnest := ss[len(ss)/10]
	width, least := float64(ss[len(ss)/2].width), float64(thinnest.width)
	r.X, r.Y = float64(thinnest.cx), float64(thinnest.cy)
	length := area / width
	if short {
		// As wide and long as the rectangle of the same area and the same longer moment, pixels' own taken off.
		mx, my := sx/area, sy/area
		xx, yy, xy := sxx/area-square(mx)-1./12, syy/area-square(my)-1./12, sxy/area-float64(mx*my)
		longer := (xx+yy)/2 + hypot((xx-yy)/2, xy)
		length = math.Sqrt(max(12*longer, area))
		width = area / length
		if length*length < 1.1*area {
			// Round or square: between the diameter of a disc and the side of a square of that area.
			width = 1.06 * math.Sqrt(area)
			length = width
		}
		least = width
	}
	if least >= m.limit {
		return Region{}, false
	}
	mm := p.PerMM()
	r.Width, r.Thinnest, r.Length, r.Area = width/mm, least/mm, length/mm, area/square(mm)
	return r, true
}
