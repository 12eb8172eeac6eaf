package app

import (
	"fmt"
	"image"
	"math"
	"slices"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/look"
	"laydown/internal/plan"
	"laydown/internal/plates/plate"
)

// Resolutions pages are measured in for a plan, and bounds on what waits in memory until all pages are known.
const (
	planDPI     = 150  // places where toners meet
	planPileDPI = 75   // sums of tints: three pixels a millimetre, which is what they are averaged over
	planLookDPI = 50   // changes of the look
	planVisible = 26   // of 255, 10 %: as the checks count toner
	planPages   = 2000 // planned page by page; more are planned as one
	lookedPages = 24   // whose piles and change of look are worked out, each standing for those alike
)

// planner collects what a plan needs to know of each page as the pages pass by.
type planner struct {
	setup *Setup
	sides []plan.Side
	asked [][]wished // by side
	pages []*plannedPage
	alike *alikes
	notes []string
	looks *looks
	bare  bool // passes alone are asked for, and nothing of how they look

	group func(page int) int // nil = every page is planned for itself
	at    map[int]int        // side of a page that stands for others, which are added to it
	count []int              // pages in a side
	read  []int              // pages measured
}

// plannedPage is what is kept of a page.
type plannedPage struct {
	number  int
	group   int          // of pages that look alike; -1 = like none
	stack   *plate.Stack // coarse, of the trim; nil where another page stands for this one
	process *look.Process
	cuts    []knockOut
	bleed   *plate.Stack // coarse, for piles
}

// add measures a page.
func (pl *planner) add(sh *Sheet, page *check.Page) error {
	if pl.setup.Press == nil {
		return nil
	}
	if pl.alike == nil {
		pl.alike = &alikes{most: lookedPages, setup: pl.setup}
	}
	x0, y0, x1, y1 := page.PixelRect(page.List.Page.Bleed)
	full := page.Plates
	if x0 > 0 || y0 > 0 || x1 < full.Width || y1 < full.Height {
		full = full.Crop(x0, y0, x1, y1)
	}
	px := 25.4 / full.DPI
	number := pl.like(sh.Number)
	side := plan.Side{Page: number, Leaf: pl.leaf(number), AreaMM2: float64(full.Width*full.Height) * px * px}
	means := &plate.Means{}
	if err := full.Replay(means, 128); err != nil {
		return err
	}
	used := page.Used()
	for _, name := range used {
		k, _ := page.Plates.Set.Lookup(name)
		side.Toners = append(side.Toners, plan.Laid{Name: name, Mean: means.Percent[k]})
	}
	coarse := full
	if n := int(full.DPI / planDPI); n > 1 {
		coarse = full.Downscale(n)
	}
	// Pixels of the bleed to millimetres from the trim.
	tx, ty, _, _ := page.PixelRect(page.List.Page.Trim)
	left, top := float64(x0-tx)*px, float64(y0-ty)*px
	boxes := make([]image.Rectangle, len(used))
	for i, name := range used {
		boxes[i] = tonerBox(coarse, name)
	}
	for i, a := range used {
		for k, b := range used[:i] {
			if pl.known(number, a, b) {
				continue
			}
			if m, ok := meetingIn(coarse, b, a, boxes[i].Intersect(boxes[k]), left, top); ok {
				side.Meet = append(side.Meet, m)
			}
		}
	}
	for _, name := range page.Unmounted() {
		if note := fmt.Sprintf("The press has no toner named “%s”: what is painted in it is planned as it would print, in process colours made from its stand-in colour.", name); !slices.Contains(pl.notes, note) {
			pl.notes = append(pl.notes, note)
		}
	}
	asked := pl.setup.wished(page)
	for _, w := range asked {
		for _, u := range w.orders {
			if _, known := sideMeets(&side, u.Lower, u.Upper); !known && meet(page, u) {
				side.Meet = append(side.Meet, plan.Meeting{A: u.Lower, B: u.Upper})
			}
		}
	}
	pl.read = append(pl.read, sh.Number)
	if at, ok := pl.at[number]; ok {
		pl.merge(at, side, asked)
		return nil
	}
	pl.at[number] = len(pl.sides)
	kept, first := &plannedPage{number: sh.Number, group: -1}, false
	if !pl.bare {
		kept.cuts = knockOuts(page)
		kept.group, first = pl.alike.of(sh.Number, page)
	}
	if first {
		kept.bleed = coarse.Downscale(max(1, int(coarse.DPI/planPileDPI)))
		var err error
		if kept.process, err = sh.art.process(pl.setup, sh.Number, sh.Findings); err != nil {
			return err
		}
		tx0, ty0, tx1, ty1 := page.PixelRect(page.List.Page.Trim)
		kept.stack = page.Plates.Crop(tx0, ty0, tx1, ty1).Downscale(max(1, int(full.DPI/planLookDPI)))
	}
	pl.sides, pl.asked, pl.pages, pl.count = append(pl.sides, side), append(pl.asked, asked), append(pl.pages, kept), append(pl.count, 1)
	return nil
}

// merge adds a page to the side it is planned with: what is used and meets on either is used and meets, tints are averaged.
func (pl *planner) merge(at int, more plan.Side, asked []wished) {
	side, n := &pl.sides[at], float64(pl.count[at])
	pl.count[at]++
	for i := range side.Toners {
		side.Toners[i].Mean *= n / (n + 1)
	}
	for _, t := range more.Toners {
		mean := t.Mean * more.AreaMM2 / side.AreaMM2 / (n + 1)
		if k := slices.IndexFunc(side.Toners, func(l plan.Laid) bool { return l.Name == t.Name }); k >= 0 {
			side.Toners[k].Mean += mean
			continue
		}
		side.Toners = append(side.Toners, plan.Laid{Name: t.Name, Mean: mean})
	}
	for _, m := range more.Meet {
		k := slices.IndexFunc(side.Meet, func(o plan.Meeting) bool { return o.A == m.A && o.B == m.B || o.A == m.B && o.B == m.A })
		if k < 0 {
			side.Meet = append(side.Meet, m)
			continue
		}
		o := &side.Meet[k]
		o.AreaMM2, o.EdgeMM = max(o.AreaMM2, m.AreaMM2), max(o.EdgeMM, m.EdgeMM)
	}
	for _, w := range asked {
		k := slices.IndexFunc(pl.asked[at], func(o wished) bool { return o.text == w.text })
		if k < 0 {
			pl.asked[at] = append(pl.asked[at], w)
			continue
		}
		for _, u := range w.orders {
			if !slices.Contains(pl.asked[at][k].orders, u) {
				pl.asked[at][k].orders = append(pl.asked[at][k].orders, u)
			}
		}
	}
}

// leaf numbers sheets of the piece: both sides of one, unless the job prints one side only.
func (pl *planner) leaf(page int) int {
	if pl.setup.Job != nil && pl.setup.Job.Sides == 1 {
		return page
	}
	return (page - 1) / 2
}

func sideMeets(s *plan.Side, a, b string) (plan.Meeting, bool) {
	for _, m := range s.Meet {
		if m.A == a && m.B == b || m.A == b && m.B == a {
			return m, true
		}
	}
	return plan.Meeting{}, false
}

// wishes are what the job asks, by its words, with orders of every side.
func (pl *planner) wishes() (out []plan.Wish) {
	at := map[string]int{}
	for i, list := range pl.asked {
		for _, w := range list {
			n, ok := at[w.text]
			if !ok {
				n = len(out)
				at[w.text] = n
				out = append(out, plan.Wish{Text: w.text})
			}
			for len(out[n].Orders) < len(pl.sides) {
				out[n].Orders = append(out[n].Orders, nil)
			}
			out[n].Orders[i] = append(out[n].Orders[i], w.orders...)
		}
	}
	return out
}

// known tells whether it needs no more measuring that two toners lie on each other on the page others are planned with.
func (pl *planner) known(number int, a, b string) bool {
	at, ok := pl.at[number]
	if !ok {
		return false
	}
	m, _ := sideMeets(&pl.sides[at], a, b)
	return m.AreaMM2 >= leastLying
}

// tonerBox is where a plate has toner, with the two pixels round it that its edges are looked for in.
func tonerBox(st *plate.Stack, name string) image.Rectangle {
	plane, _ := st.Lookup(name)
	if plane == nil {
		return image.Rectangle{}
	}
	box := image.Rectangle{}
	for y := range st.Height {
		row := plane[y*st.Width : (y+1)*st.Width]
		if !hasToner(row) {
			continue
		}
		x0, x1 := 0, len(row)
		for row[x0] == 0 {
			x0++
		}
		for row[x1-1] == 0 {
			x1--
		}
		box = box.Union(image.Rect(x0, y, x1, y+1))
	}
	return box.Inset(-2).Intersect(image.Rect(0, 0, st.Width, st.Height))
}

// meeting measures how two toners of a stack share places; left and top are of its corner from the trim, in mm.
func meeting(st *plate.Stack, a, b string, left, top float64) (m plan.Meeting, any bool) {
	return meetingIn(st, a, b, image.Rect(0, 0, st.Width, st.Height), left, top)
}

// meetingIn measures it where both may be.
func meetingIn(st *plate.Stack, a, b string, in image.Rectangle, left, top float64) (m plan.Meeting, any bool) {
	m = plan.Meeting{A: a, B: b}
	pa, _ := st.Lookup(a)
	pb, _ := st.Lookup(b)
	if pa == nil || pb == nil {
		return m, false
	}
	w, h := st.Width, st.Height
	px := 25.4 / st.DPI
	var box image.Rectangle
	area, edges := 0, 0
	both := func(i int) bool { return pa[i] >= planVisible && pb[i] >= planVisible }
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			i := y*w + x
			if pa[i]|pb[i] == 0 {
				continue
			}
			if pa[i] != 0 && pb[i] != 0 {
				any = true
				box = box.Union(image.Rect(x, y, x+1, y+1))
				// Only squares of four count: rims of anti-aliasing are no overlap.
				if both(i) && squareOf(both, i, x, y, w, h) {
					area++
				}
			}
			if e := edgeAt(pa, pb, i, 1, x, w) + edgeAt(pa, pb, i, w, y, h); e > 0 {
				edges += e
				any = true
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	m.AreaMM2 = float64(area) * px * px
	// Steps along pixels are longer than the line they follow, by 4/π in the mean over all directions.
	m.EdgeMM = float64(edges) * px * math.Pi / 4
	m.Box = finding.BoxMM{X: round2(left + float64(box.Min.X)*px), Y: round2(top + float64(box.Min.Y)*px), W: round2(float64(box.Dx()) * px), H: round2(float64(box.Dy()) * px)}
	return m, any
}

// squareOf tells whether a pixel belongs to a square of four that all hold.
func squareOf(on func(int) bool, i, x, y, w, h int) bool {
	for _, dy := range [2]int{-1, 1} {
		for _, dx := range [2]int{-1, 1} {
			if x+dx >= 0 && x+dx < w && y+dy >= 0 && y+dy < h && on(i+dx) && on(i+dy*w) && on(i+dy*w+dx) {
				return true
			}
		}
	}
	return false
}

// edgeAt counts 1 where one plate ends and the other begins between a pixel and the next in a direction, be it with a pixel
// of both or of neither between them.
func edgeAt(a, b []byte, i, step, at, n int) int {
	only := func(i int) int {
		va, vb := a[i] >= planVisible, b[i] >= planVisible
		switch {
		case va == vb:
			return 0
		case va:
			return 1
		}
		return 2
	}
	first := only(i)
	if first == 0 || at+1 >= n {
		return 0
	}
	next := only(i + step)
	if next == 0 && at+2 < n {
		next = only(i + 2*step)
	}
	if next != 0 && next != first {
		return 1
	}
	return 0
}

// Pile is the highest sum of tints in one place, averaged over the press's area.
type Pile struct {
	Page    int     `json:"page"`
	Pass    int     `json:"pass"` // of the page, from 1; 0 = all passes together
	Percent float64 `json:"percent"`
	Limit   float64 `json:"limit_percent"`
}

// Words are the pile in a sentence.
func (p Pile) Words() string {
	of := fmt.Sprintf("pass %d", p.Pass)
	if p.Pass == 0 {
		of = "all passes together"
	}
	over := ""
	if p.Percent > p.Limit {
		over = ", which is too much"
	}
	return fmt.Sprintf("page %d, %s: up to %.0f %% of %.0f %%%s", p.Page, of, p.Percent, p.Limit, over)
}

// pilesOf measures a plan's passes on the pages that are still known.
func (pl *planner) pilesOf(p *plan.Plan) (out []Pile, err error) {
	limit := pl.setup.Press.Pile
	for i, kept := range pl.pages {
		passes := p.Side(i)
		if kept.bleed == nil || len(passes) == 0 {
			continue
		}
		var all []int
		for n, pass := range passes {
			var plates []int
			for _, t := range pass.Toners {
				if k, ok := kept.bleed.Set.Lookup(t); ok {
					plates = append(plates, k)
				}
			}
			all = append(all, plates...)
			v, err := pileOf(kept.bleed, plates, float64(limit.Area))
			if err != nil {
				return nil, err
			}
			out = append(out, Pile{kept.number, n + 1, v, float64(limit.PerPass)})
		}
		if len(passes) > 1 {
			v, err := pileOf(kept.bleed, all, float64(limit.Area))
			if err != nil {
				return nil, err
			}
			out = append(out, Pile{kept.number, 0, v, float64(limit.Sum)})
		}
	}
	return out, nil
}

func pileOf(st *plate.Stack, plates []int, area float64) (float64, error) {
	p := &plate.Pile{Plates: plates, AreaMM2: area}
	err := st.Replay(p, 128)
	return round2(p.AreaMax), err
}
