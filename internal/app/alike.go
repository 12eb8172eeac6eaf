package app

import (
	"fmt"
	"slices"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// alikes sorts pages into groups that look alike: the same finished size, toners and passes, and toner that lies in the same
// places but for little, as on the pages of variable data. The first page of a group stands for it.
type alikes struct {
	most   int // groups kept; 0 = mostGroups
	setup  *Setup
	groups []alikeGroup
	unlike int // pages like none of the groups that there was no more room for
}

type alikeGroup struct {
	first int // page
	pages int
	key   string
	cells [][]uint8 // by plate
}

const (
	mostGroups = 64
	alikeCells = 24 // along the longer side of the trim
	// alikeShare of a solid is how far toner may differ in the mean over the page, all toners together. A name or a code of
	// square modules is below it; another picture of a tenth of the page is above.
	alikeShare = 0.02
)

// of tells the group of a page, and whether the page is its first; -1 = like none, and there is no room for another.
func (a *alikes) of(number int, page *check.Page) (group int, first bool) {
	key, cells := a.sign(number, page)
	for i := range a.groups {
		if g := &a.groups[i]; g.key == key && alikeAs(g.cells, cells) {
			g.pages++
			return i, false
		}
	}
	most := a.most
	if most == 0 {
		most = mostGroups
	}
	if len(a.groups) >= most {
		a.unlike++
		return -1, false
	}
	a.groups = append(a.groups, alikeGroup{number, 1, key, cells})
	return len(a.groups) - 1, true
}

// sign is what pages are compared by: words that are the same, and the mean tint of each plate in cells of the trim.
func (a *alikes) sign(number int, page *check.Page) (key string, cells [][]uint8) {
	trim := page.List.Page.Trim
	x0, y0, x1, y1 := page.PixelRect(trim)
	st := page.Plates
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, st.Width), min(y1, st.Height)
	key = fmt.Sprintf("%.0f %.0f %q %q %v", trim.W(), trim.H(), page.Used(), press.LaydownOrder(page.Passes), page.PassError != nil)
	if a.setup != nil && twoFaced(a.setup.Stock) {
		key += fmt.Sprint(number % 2)
	}
	w, h := x1-x0, y1-y0
	if w <= 0 || h <= 0 {
		return key, nil
	}
	across, down := alikeCells, alikeCells
	if w > h {
		down = max(1, alikeCells*h/w)
	} else {
		across = max(1, alikeCells*w/h)
	}
	across, down = min(across, w), min(down, h)
	for i := range st.Set.Len() {
		plane := st.Plane(i)
		if plane == nil || !hasToner(plane) {
			cells = append(cells, nil)
			continue
		}
		sums, counts := make([]int, across*down), make([]int, across*down)
		for y := y0; y < y1; y++ {
			row := (y - y0) * down / h * across
			for x := x0; x < x1; x++ {
				c := row + (x-x0)*across/w
				sums[c] += int(plane[y*st.Width+x])
				counts[c]++
			}
		}
		mean := make([]uint8, len(sums))
		for c := range sums {
			mean[c] = uint8(sums[c] / max(counts[c], 1))
		}
		cells = append(cells, mean)
	}
	return key, cells
}

func alikeAs(a, b [][]uint8) bool {
	if len(a) != len(b) {
		return false
	}
	sum, n := 0, 0
	for i := range a {
		p, q := a[i], b[i]
		n = max(n, len(p), len(q))
		for k := range max(len(p), len(q)) {
			sum += max(cell(p, k)-cell(q, k), cell(q, k)-cell(p, k))
		}
	}
	return float64(sum) <= alikeShare*255*float64(n)
}

// twoFaced tells whether the sides of a stock differ.
func twoFaced(k *press.Stock) bool {
	return k != nil && (k.Back != nil || k.Spectra != nil && k.Spectra.Back != nil)
}

// cell of a plate; one without toner has none.
func cell(cells []uint8, k int) int {
	if k < len(cells) {
		return int(cells[k])
	}
	return 0
}

// note says which pages stand for others, and how many none stands for; "" where each stands for itself.
func (a *alikes) note() string {
	pages := a.unlike
	var firsts []int
	for _, g := range a.groups {
		pages += g.pages
		firsts = append(firsts, g.first)
	}
	if len(firsts) == pages {
		return ""
	}
	slices.Sort(firsts)
	words := fmt.Sprintf("worked out on page %s, which stands for %d that look alike", finding.PageList(firsts), pages-a.unlike)
	if len(firsts) > 1 {
		words = fmt.Sprintf("worked out on pages %s, which stand for %d that look alike", finding.PageList(firsts), pages-a.unlike)
	}
	if a.unlike > 0 {
		words += fmt.Sprintf("; %d more are like none of them and were left out", a.unlike)
	}
	return words
}
