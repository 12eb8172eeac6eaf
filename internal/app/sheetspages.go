package app

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"slices"
	"strings"

	"laydown/internal/check"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/plan/sheet"
	"laydown/internal/plates/paint"
	"laydown/internal/plates/plate"
)

// Records tells variable data: which plates are the same on every record and which vary.
type Records struct {
	Count  int           `json:"count"`
	Each   int           `json:"pages_each"`
	Plates []RecordPlate `json:"plates"`
}

// RecordPlate is one plate of one side over all records.
type RecordPlate struct {
	Side      string `json:"side"` // front or back
	Colourant string `json:"colourant"`
	Kind      string `json:"kind"`
	Static    bool   `json:"static"`
	Differing int    `json:"differing"`         // records whose plate is not that of the first
	Empty     int    `json:"empty"`             // records without toner on it
	Example   int    `json:"example,omitempty"` // the first record that differs, from 1
}

// recordDPI is what plates are held against each other in at least: coverage is exact, so that what is smaller than a pixel changes its
// tint, down to a spot of 0.015 mm.
const recordDPI = 100

// pagesSeen is what one look at the pages that are placed found.
type pagesSeen struct {
	blends map[int]bool
	first  map[string]int // page that first had a finding
	passes []StackPass    // as asked for, or as the best plan has them
	none   error          // why there are none
}

// firstWith is the first page that has a finding: records have the same faults two thousand times.
func (s *pagesSeen) firstWith(f finding.Finding) int {
	key := string(f.ID) + "|" + f.What
	if s.first[key] == 0 {
		s.first[key] = f.Place.Page
	}
	return s.first[key]
}

// readersEach is after how many pages what they share is read anew: records may bring images of their own.
const readersEach = 100

// look reads every page that is placed once: what blends and, of records, which plates vary. Where passes were not given, the
// pages are planned. Only one page lies in memory.
func (m *imposer) look(ctx context.Context, p *sheet.Plan) (*pagesSeen, error) {
	defer m.req.Timer.Start("look at pages")()
	seen := &pagesSeen{blends: map[int]bool{}, first: map[string]int{}, passes: m.req.Passes}
	pages := m.placed(p)
	var rec *recordsSeen
	if j := &p.Job; j.Records > 0 {
		rec = &recordsSeen{each: j.Each}
		m.out.Records = &Records{Count: j.Records, Each: j.Each}
	}
	note := func(sh *Sheet, h *plateHashes) {
		seen.blends[sh.Number] = sh.List.Blending
		m.tellFree(sh, h)
		if rec != nil {
			rec.add(sh.Number, sh.Target.Set, h)
		}
		for _, f := range sh.Findings.Sorted() {
			if f.Incomplete || f.Class == finding.OverLimit {
				f.Place.Page = seen.firstWith(f)
				m.sink.Add(f) // which counts repeats
			}
		}
	}
	var err error
	if seen.passes == nil {
		seen.passes, err = m.art.planned(ctx, m.s, func(sh *Sheet, page *check.Page) error {
			if _, placed := slices.BinarySearch(pages, sh.Number); !placed {
				return nil
			}
			x0, y0, x1, y1 := page.PixelRect(sh.List.Page.Bleed)
			st := page.Plates.Crop(x0, y0, x1, y1)
			h := &plateHashes{free: m.freeOn(sh, st.DPI)}
			if err := st.Replay(h, 128); err != nil {
				return err
			}
			note(sh, h)
			return nil
		}, m.req.Progress, m.req.Timer)
		if _, is := impossible(err); is {
			seen.none, err = err, nil
		}
	} else {
		err = m.glance(ctx, pages, note)
	}
	if err != nil {
		return nil, err
	}
	if rec != nil {
		m.tellRecords(rec)
	}
	return seen, nil
}

// glance paints pages coarsely.
func (m *imposer) glance(ctx context.Context, pages []int, note func(*Sheet, *plateHashes)) error {
	for i, n := range pages {
		m.req.Progress.tell("page", i, len(pages))
		if i%readersEach == readersEach-1 {
			m.art.renewReader()
		}
		sh, err := m.art.Read(ctx, m.s, n, ReadOptions{})
		if err != nil {
			return err
		}
		region := sh.List.Page.Bleed
		if err := checkSize(region, recordDPI); err != nil {
			return err
		}
		h := &plateHashes{free: m.freeOn(sh, recordDPI)}
		if err := paint.Render(ctx, sh.paintJob(region, recordDPI, m.req.Timer), h); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return cannot(err, "set the page boxes", "page %d cannot be looked at: %v", n, err)
		}
		note(sh, h)
	}
	m.req.Progress.tell("page", len(pages), len(pages))
	return nil
}

// renewReader forgets what pages share: fonts, images, colour spaces.
func (a *Artwork) renewReader() { a.reader = newReader(a) }

// placed lists the pages that are placed, ascending, each once.
func (m *imposer) placed(p *sheet.Plan) []int {
	var out []int
	if j := &p.Job; j.Records > 0 {
		for n := 1; n <= j.Records*j.Each; n++ {
			out = append(out, n)
		}
		return out
	}
	for _, piece := range p.Job.Pieces {
		for _, part := range append(slices.Clone(piece.Front), piece.Back...) {
			out = append(out, part.Page)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// plateHashes is a Sink that keeps a hash of each plate and whether it has toner.
type plateHashes struct {
	free  [][4]int // pixels that should have none: x0, y0, x1, y1
	hash  []hash.Hash
	toner []bool
	onto  []bool // has toner where there should be none
	width int
}

// Begin implements plate.Sink.
func (h *plateHashes) Begin(hd plate.Header) error {
	h.width = hd.Width
	n := hd.Set.Len()
	h.hash, h.toner, h.onto = make([]hash.Hash, n), make([]bool, n), make([]bool, n)
	for i := range h.hash {
		h.hash[i] = sha256.New()
	}
	return nil
}

// Band implements plate.Sink. Rows without toner count for nothing, however they are handed over.
func (h *plateHashes) Band(b *plate.Band) error {
	for i, plane := range b.Planes {
		if plane == nil {
			continue
		}
		for y := range b.Rows {
			row := plane[y*h.width : (y+1)*h.width]
			if !hasToner(row) {
				continue
			}
			h.toner[i] = true
			var at [8]byte
			binary.LittleEndian.PutUint64(at[:], uint64(b.Y0+y))
			h.hash[i].Write(at[:])
			h.hash[i].Write(row)
			for _, f := range h.free {
				if line := b.Y0 + y; line >= f[1] && line < f[3] && f[0] < f[2] && hasToner(row[f[0]:f[2]]) {
					h.onto[i] = true
				}
			}
		}
	}
	return nil
}

// End implements plate.Sink.
func (h *plateHashes) End() error { return nil }

// freeOn are the toner-free zones of the outside of an envelope, in pixels of its page.
func (m *imposer) freeOn(sh *Sheet, dpi float64) (out [][4]int) {
	if len(m.out.Free) == 0 || sh.Number != m.job.Pieces[0].Front[0].Page {
		return nil
	}
	pg := &sh.List.Page
	w, _ := paint.Size(pg.Bleed, dpi)
	px := func(mm, from, origin float64) int {
		return int((float64(mm*geom.PointsPerMM) + from - origin) * dpi / 72)
	}
	for _, f := range m.out.Free {
		x0, x1 := px(f.X, pg.Trim.X0, pg.Bleed.X0), px(f.X+f.W, pg.Trim.X0, pg.Bleed.X0)
		out = append(out, [4]int{min(max(x0+1, 0), w), px(f.Y, pg.Trim.Y0, pg.Bleed.Y0) + 1, min(max(x1, 0), w), px(f.Y+f.H, pg.Trim.Y0, pg.Bleed.Y0)})
	}
	return out
}

func (m *imposer) tellFree(sh *Sheet, h *plateHashes) {
	var names []string
	for k, c := range sh.Target.Set.All() {
		if h.onto[k] {
			names = append(names, c.Name)
		}
	}
	if len(names) > 0 {
		m.sink.Add(finding.Finding{ID: "toner-on-seam", Severity: finding.Error, What: "There is toner on the seams of the envelope: " + strings.Join(names, ", ") + ".",
			Why: "Glue does not hold on toner.", Remedy: "Keep the seams free.", Place: finding.Place{Page: sh.Number, Colourants: names}})
	}
}

// recordsSeen compares the plates of records with those of the first.
type recordsSeen struct {
	each  int
	first []map[string][sha256.Size]byte // by side
	stats []map[string]*RecordPlate
	order []*RecordPlate
	count []int // records seen, by side
}

func (r *recordsSeen) add(page int, set *colourant.Set, h *plateHashes) {
	side, record := (page-1)%r.each, (page-1)/r.each+1
	for len(r.first) <= side {
		r.first = append(r.first, map[string][sha256.Size]byte{})
		r.stats = append(r.stats, map[string]*RecordPlate{})
		r.count = append(r.count, 0)
	}
	r.count[side]++
	for k, c := range set.All() {
		var sum [sha256.Size]byte
		h.hash[k].Sum(sum[:0])
		p := r.stats[side][c.Name]
		if p == nil {
			// A colourant no record before had: they were without toner on it.
			p = &RecordPlate{Side: []string{"front", "back"}[side], Colourant: c.Name, Kind: c.Kind.String(), Empty: r.count[side] - 1}
			r.stats[side][c.Name] = p
			r.order = append(r.order, p)
			r.first[side][c.Name] = sum
			if r.count[side] > 1 {
				r.first[side][c.Name] = sha256.Sum256(nil)
			}
		}
		if !h.toner[k] {
			p.Empty++
		}
		if sum != r.first[side][c.Name] {
			p.Differing++
			if p.Example == 0 {
				p.Example = record
			}
		}
	}
}

// tellRecords sums up and tells what a press that cannot change special plates from record to record has to know.
func (m *imposer) tellRecords(r *recordsSeen) {
	var vary, still, some []string
	for _, p := range r.order {
		side := 0
		if p.Side == "back" {
			side = 1
		}
		if p.Empty == r.count[side] {
			continue
		}
		p.Static = p.Differing == 0
		m.out.Records.Plates = append(m.out.Records.Plates, *p)
		name := p.Colourant + " (" + p.Side + ")"
		if p.Empty > 0 {
			some = append(some, name)
		}
		if p.Kind == colourant.Process.String() {
			continue
		}
		if p.Static {
			still = append(still, name)
		} else {
			vary = append(vary, name)
		}
	}
	if len(still) > 0 {
		m.sink.Add(finding.Finding{ID: "special-plates-static", Severity: finding.Note,
			What: fmt.Sprintf("The same on all %d records: %s.", m.out.Records.Count, strings.Join(still, ", ")),
			Why:  "These plates need to be made only once, whatever varies in the others."})
	}
	if len(vary) > 0 {
		m.sink.Add(finding.Finding{ID: "special-plates-vary", Severity: finding.Warning,
			What:   "Not the same on every record: " + strings.Join(vary, ", ") + ".",
			Why:    "Presses that take special plates once for the whole run print the first record's on all.",
			Remedy: "Ask the print provider, or keep what varies in the process toners.", Place: finding.Place{Colourants: vary}})
	}
	if len(some) > 0 {
		m.sink.Add(finding.Finding{ID: "plates-of-some-records", Severity: finding.Note,
			What:   "Only some records have toner on " + strings.Join(some, ", ") + ".",
			Why:    "The set of plates should be the same for every record.",
			Remedy: "Look at the records that lack it."})
	}
}
