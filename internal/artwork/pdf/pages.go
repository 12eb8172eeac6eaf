package pdf

import (
	"fmt"
	"math"
	"sort"
	"sync"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Page is one page with inherited attributes resolved.
type Page struct {
	Number                    int // from 1
	Ref                       Ref
	Dict                      Dict        // the page's own dictionary
	Resources                 Dict        // inherited; never nil
	MediaBox                  [4]float64  // user space, normalised; a missing or broken one is 612 x 792 with a finding
	CropBox                   [4]float64  // clipped to MediaBox
	TrimBox, BleedBox, ArtBox *[4]float64 // nil when the page itself has none (not inheritable, Table 31)
	Rotate                    int         // 0, 90, 180, 270
	UserUnit                  float64     // > 0
}

// inherited holds the attributes a page takes from its ancestors (Table 31).
type inherited struct{ resources, mediaBox, cropBox, rotate Object }

// under gives the attributes that hold below a node with dictionary n.
func (in inherited) under(n Dict) inherited {
	for _, a := range []struct {
		to  *Object
		key Name
	}{{&in.resources, "Resources"}, {&in.mediaBox, "MediaBox"}, {&in.cropBox, "CropBox"}, {&in.rotate, "Rotate"}} {
		if v := n[a.key]; v != nil {
			*a.to = v
		}
	}
	return in
}

// pageSlot is a leaf of the page tree; the page is made when asked for.
type pageSlot struct {
	ref    Ref
	direct Dict      // the page when it stands in /Kids itself, against the rule of Table 30
	in     inherited // from its ancestors
	told   sync.Once // its faults are reported once
}

// dict is the page's own dictionary.
func (d *Document) dict(s *pageSlot) Dict {
	if s.direct != nil {
		return s.direct
	}
	n, _ := d.Resolve(s.ref).(Dict)
	return n
}

// maxTreeDepth of page trees; balanced ones stay below 10.
const maxTreeDepth = 512

// treeWalk is one walk over the page tree.
type treeWalk struct {
	d     *Document
	seen  map[int]bool // nodes with kids, each entered once
	out   []*pageSlot
	nodes int
	full  bool
}

// walkPages collects the leaves of the page tree in order. It reports whether there are any.
func (d *Document) walkPages() bool {
	w := &treeWalk{d: d, seen: map[int]bool{}}
	w.node(d.catalog["Pages"], inherited{}, 0)
	d.pages = w.out
	if len(w.out) == 0 {
		return false
	}
	if root, ok := d.Dict(d.catalog["Pages"]); ok && !w.full {
		if n, ok := d.Int(root["Count"]); ok && n != len(w.out) {
			d.malformed("page-count-wrong", finding.Note, 0,
				fmt.Sprintf("The file says it has %d pages; %d were found.", n, len(w.out)), remedySaveAgain)
		}
	}
	return true
}

func (w *treeWalk) node(o Object, in inherited, depth int) {
	d := w.d
	ref, _ := o.(Ref)
	w.nodes++
	if len(w.out) >= limits.MaxPages || w.nodes > 4*limits.MaxPages || depth > maxTreeDepth {
		if !w.full {
			w.full = true
			d.sink.Add(finding.Finding{ID: "too-many-pages", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
				What:   fmt.Sprintf("The file has more pages than can be read; %d are taken.", len(w.out)),
				Remedy: "Split the file into parts."})
		}
		return
	}
	n, ok := d.Resolve(o).(Dict)
	if !ok {
		if depth > 0 {
			d.sink.Add(finding.Finding{ID: "page-missing", Severity: finding.Error, Class: finding.Malformed, Incomplete: true,
				What:   "The list of pages names a page that is not in the file.",
				Why:    "The page will not be printed, and the pages after it move forward.",
				Remedy: remedySaveAgain, Place: finding.Place{Object: ref.Num}})
		}
		return
	}
	kids, hasKids := d.Array(n["Kids"])
	kind, _ := d.Name(n["Type"])
	if !hasKids || kind == "Page" && n["Contents"] != nil {
		if kind == "Page" || kind != "Pages" && (n["MediaBox"] != nil || n["Contents"] != nil || n["Resources"] != nil) {
			s := &pageSlot{ref: ref, in: in}
			if ref.Num == 0 {
				s.direct = n
				d.malformed("page-direct", finding.Note, 0, "A page stands inside the list of pages instead of being an object of its own.", remedySaveAgain)
			}
			w.out = append(w.out, s)
			return
		}
		d.malformed("page-tree-damaged", finding.Warning, ref.Num, "The list of pages holds something that is not a page; it was left out.", remedySaveAgain)
		return
	}
	if ref.Num != 0 {
		if w.seen[ref.Num] {
			d.malformed("page-tree-damaged", finding.Warning, ref.Num, "The list of pages leads round in a circle; the repetition was left out.", remedySaveAgain)
			return
		}
		w.seen[ref.Num] = true
	}
	in = in.under(n)
	for _, k := range kids {
		w.node(k, in, depth+1)
	}
}

// collectPages takes every page object of a file whose page tree is unusable, in the order of the
// file. Attributes come from ancestors as far as /Parent leads to any.
func (d *Document) collectPages() bool {
	nums := d.numbers()
	place := func(n int) (int64, int32) {
		e := d.entries[n]
		if e.kind == entryIn {
			return d.entries[int(e.off)].off, e.gen
		}
		return e.off, -1
	}
	sort.SliceStable(nums, func(i, j int) bool {
		a, ai := place(nums[i])
		b, bi := place(nums[j])
		return a < b || a == b && ai < bi
	})
	d.pages = nil
	for _, n := range nums {
		dict, ok := d.load(n).(Dict)
		if !ok {
			continue
		}
		if t, _ := d.Name(dict["Type"]); t != "Page" {
			continue
		}
		var chain []Dict
		for p, i := dict, 0; i < limits.MaxRefHops; i++ {
			chain = append(chain, p)
			if p, ok = d.Dict(p["Parent"]); !ok {
				break
			}
		}
		in := inherited{}
		for i := len(chain) - 1; i >= 1; i-- { // the page's own come when it is made
			in = in.under(chain[i])
		}
		ref := Ref{Num: n}
		if e := d.entries[n]; e.kind == entryAt {
			ref.Gen = int(e.gen)
		}
		d.pages = append(d.pages, &pageSlot{ref: ref, in: in})
		if len(d.pages) >= limits.MaxPages {
			break
		}
	}
	if len(d.pages) > 0 {
		d.treeLost = true
		d.malformed("page-tree-damaged", finding.Warning, 0, "The list of pages is unusable; the pages are taken in the order they lie in the file.", remedySaveAgain)
	}
	return len(d.pages) > 0
}

// NumPages is the number of page leaves found by walking the tree (guarded against cycles).
func (d *Document) NumPages() int { return len(d.pages) }

// Page returns page n, from 1. Its Ref is zero when the page stands directly in the page tree's /Kids.
func (d *Document) Page(n int) (*Page, error) {
	if n < 1 || n > len(d.pages) {
		return nil, fmt.Errorf("there is no page %d: the file has %d", n, len(d.pages))
	}
	s := d.pages[n-1]
	sink := finding.Discard
	s.told.Do(func() { sink = d.sink })
	return d.makePage(n, s, sink), nil
}

func (d *Document) makePage(n int, s *pageSlot, sink finding.Sink) *Page {
	dict := d.dict(s)
	in := s.in.under(dict)
	p := &Page{Number: n, Ref: s.ref, Dict: dict, UserUnit: 1}
	fault := func(id finding.ID, what string) {
		sink.Add(finding.Finding{ID: id, Severity: finding.Warning, Class: finding.Malformed, What: what,
			Why:    "Where the page is cut and how it lies on the sheet depends on it.",
			Remedy: remedySaveAgain, Place: finding.Place{Page: n, Object: s.ref.Num}})
	}
	p.Resources, _ = d.Dict(in.resources)
	if p.Resources == nil {
		p.Resources = Dict{}
	}
	var ok bool
	if p.MediaBox, ok = d.box(in.mediaBox); !ok {
		p.MediaBox = [4]float64{0, 0, 612, 792}
		fault("page-size-missing", "The page has no usable size (MediaBox); 612 x 792 pt is taken.")
	}
	p.CropBox = p.MediaBox
	if in.cropBox != nil {
		if b, ok := d.clippedBox(in.cropBox, p.MediaBox); ok {
			p.CropBox = b
		} else {
			fault("page-box-broken", "The page's CropBox is broken or lies outside the page; the whole page is taken.")
		}
	}
	for _, x := range []struct {
		to  **[4]float64
		key Name
	}{{&p.TrimBox, "TrimBox"}, {&p.BleedBox, "BleedBox"}, {&p.ArtBox, "ArtBox"}} {
		o := d.Resolve(dict[x.key])
		if o == nil {
			continue
		}
		if b, ok := d.clippedBox(o, p.MediaBox); ok {
			*x.to = &b
		} else {
			fault("page-box-broken", fmt.Sprintf("The page's %s is broken or lies outside the page; it is left out.", x.key))
		}
	}
	if o := d.Resolve(in.rotate); o != nil {
		r, ok := d.Num(o)
		if !ok || math.Abs(r) > 1e6 {
			r, ok = 0, false
		}
		q := int(math.Round(r / 90))
		if !ok || float64(q*90) != r {
			fault("page-rotation-odd", "The page is turned by an angle that is not a multiple of 90 degrees; the nearest one is taken.")
		}
		p.Rotate = ((q%4 + 4) % 4) * 90
	}
	if o := d.Resolve(dict["UserUnit"]); o != nil {
		if u, ok := d.Num(o); ok && u > 0 && u <= maxUserUnit {
			p.UserUnit = u
		} else {
			fault("page-unit-odd", "The page's unit (UserUnit) is not usable; 1/72 inch is taken.")
		}
	}
	return p
}

// maxUserUnit allows pages of 14,400 units to be 381 km; larger is a mistake.
const maxUserUnit = 75_000

// box reads a rectangle and brings its corners in order (7.9.5). It must have an area.
func (d *Document) box(o Object) (b [4]float64, ok bool) {
	v, ok := d.Nums(o)
	if !ok || len(v) < 4 {
		return b, false
	}
	b = [4]float64{min(v[0], v[2]), min(v[1], v[3]), max(v[0], v[2]), max(v[1], v[3])}
	for _, c := range b {
		if math.Abs(c) > 1e9 {
			return b, false
		}
	}
	return b, b[2] > b[0] && b[3] > b[1]
}

// clippedBox is box cut to the media (14.11.2).
func (d *Document) clippedBox(o Object, media [4]float64) (b [4]float64, ok bool) {
	if b, ok = d.box(o); !ok {
		return b, false
	}
	b = [4]float64{max(b[0], media[0]), max(b[1], media[1]), min(b[2], media[2]), min(b[3], media[3])}
	return b, b[2] > b[0] && b[3] > b[1]
}
