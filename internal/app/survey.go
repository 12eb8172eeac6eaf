package app

import (
	"bytes"
	"context"
	"fmt"
	"image/jpeg"
	"slices"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/instrument"
	"laydown/internal/report"
)

// mostShown pages of a document are shown in full. Of longer ones all pages are checked and shown small, and those in full
// are chosen: what stands for many pages, what has the most findings, and every kind of finding.
const mostShown = 24

// Shown is a page of a long document that is shown in full, and why this one.
type Shown struct {
	Page int    `json:"page"`
	Why  string `json:"why"`
}

// survey takes a small picture of every page of a long document as the pages pass by, some kilobytes each.
type survey struct {
	setup   *Setup
	longest int // of the pictures, pixels
	alike   alikes
	used    map[string]bool
	pages   []surveyed
}

// surveyed is one page, seen from afar.
type surveyed struct {
	page              int
	group             int     // of pages that look alike; -1 = like none
	widthMM, heightMM float64 // of what the picture shows
	trim              finding.BoxMM
	picture           []byte // JPEG; nil = it could not be painted
	pixels            [2]int
	findings          []finding.Finding // set by gather
}

// Longer sides of the small pictures, pixels.
const (
	smallPixels       = 240
	smallPixelsOfMany = 120
	manyPages         = 240
)

func newSurvey(s *Setup, pages int) *survey {
	v := &survey{setup: s, longest: smallPixels, alike: alikes{setup: s}, used: map[string]bool{}}
	if pages > manyPages {
		v.longest = smallPixelsOfMany
	}
	return v
}

// add looks at a page.
func (v *survey) add(sh *Sheet, page *check.Page) error {
	m, _, err := v.setup.model(&laidPage{sh, page}, LookView{})
	if err != nil {
		return err
	}
	st := page.Plates
	img, err := picture(m, st, reduction(st, v.longest), nil)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 85}); err != nil {
		return err
	}
	for _, name := range page.Used() {
		v.used[name] = true
	}
	group, _ := v.alike.of(sh.Number, page)
	v.pages = append(v.pages, surveyed{page: sh.Number, group: group, picture: b.Bytes(), pixels: [2]int{img.Rect.Dx(), img.Rect.Dy()},
		widthMM: float64(st.Width) * 25.4 / st.DPI, heightMM: float64(st.Height) * 25.4 / st.DPI, trim: trimBox(page)})
	return nil
}

// gather adds the pages that could not be painted and gives every page its findings.
func (v *survey) gather(numbers []int, fs []finding.Finding) {
	at := map[int]int{}
	for i := range v.pages {
		at[v.pages[i].page] = i
	}
	for _, n := range numbers {
		if _, ok := at[n]; !ok {
			at[n] = len(v.pages)
			v.pages = append(v.pages, surveyed{page: n, group: -1})
		}
	}
	for _, f := range fs {
		if i, ok := at[f.Place.Page]; ok {
			v.pages[i].findings = append(v.pages[i].findings, f)
		}
	}
	slices.SortFunc(v.pages, func(a, b surveyed) int { return a.page - b.page })
}

// worseThan compares pages by the number of their findings, and those of as many by the severest.
func (p *surveyed) worseThan(q *surveyed) bool {
	if q == nil || len(p.findings) != len(q.findings) {
		return len(p.findings) > 0 && (q == nil || len(p.findings) > len(q.findings))
	}
	return p.severest() > q.severest()
}

func (p *surveyed) severest() finding.Severity {
	worst := finding.Note
	for i := range p.findings {
		worst = max(worst, p.findings[i].Severity)
	}
	return worst
}

// shownForKinds is how many of the pages may be there for a kind of finding alone.
const shownForKinds = 16

// choose says which pages are shown in full.
func (v *survey) choose() []Shown {
	why := map[int][]string{}
	seen := map[int]*surveyed{}
	var painted []finding.Finding
	var worst *surveyed
	for i := range v.pages {
		p := &v.pages[i]
		if p.picture == nil {
			continue
		}
		seen[p.page] = p
		painted = append(painted, p.findings...)
		if p.worseThan(worst) {
			worst = p
		}
	}
	if worst != nil {
		why[worst.page] = append(why[worst.page], fmt.Sprintf("has the most findings, %d", len(worst.findings)))
	}
	for _, k := range finding.Kinds(painted) {
		best := k.Pages[0]
		for _, n := range k.Pages {
			if why[n] != nil {
				best = n
				break
			}
			if len(seen[n].findings) > len(seen[best].findings) {
				best = n
			}
		}
		if why[best] == nil && len(why) < shownForKinds {
			why[best] = append(why[best], fmt.Sprintf("shows the %s “%s”", k.First().Severity, k.First().ID))
		}
	}
	groups := make([]int, len(v.alike.groups))
	for i := range groups {
		groups[i] = i
	}
	slices.SortStableFunc(groups, func(a, b int) int { return v.alike.groups[b].pages - v.alike.groups[a].pages })
	for _, g := range groups {
		group := &v.alike.groups[g]
		stands := group.first
		for _, p := range v.pages {
			if p.group == g && why[p.page] != nil {
				stands = p.page
				break
			}
		}
		if why[stands] == nil && len(why) >= mostShown {
			continue
		}
		words := "is like no other"
		if group.pages > 1 {
			words = fmt.Sprintf("stands for %d pages that look alike", group.pages)
		}
		why[stands] = append([]string{words}, why[stands]...)
	}
	var out []Shown
	for _, p := range v.pages {
		if w := why[p.page]; w != nil {
			out = append(out, Shown{p.page, joined(w)})
		}
	}
	return out
}

func joined(words []string) string {
	s := words[0]
	for _, w := range words[1:] {
		s += " and " + w
	}
	return s
}

// unlike counts the pages that look like none of those shown in full.
func (v *survey) unlike(shown []Shown) (n int) {
	stood := map[int]bool{}
	for _, p := range v.pages {
		if slices.ContainsFunc(shown, func(s Shown) bool { return s.Page == p.page }) {
			stood[p.group] = p.group >= 0
		}
	}
	for _, p := range v.pages {
		if !stood[p.group] && !slices.ContainsFunc(shown, func(s Shown) bool { return s.Page == p.page }) {
			n++
		}
	}
	return n
}

// words tell what of a long document is shown and why.
func (v *survey) words(shown []Shown) (out []string) {
	verb := "are"
	if len(shown) == 1 {
		verb = "is"
	}
	out = append(out, fmt.Sprintf("All %d pages were checked and are shown small; %d %s shown in full. Findings on the others are told by kind.", len(v.pages), len(shown), verb))
	for _, s := range shown {
		out = append(out, fmt.Sprintf("Page %d %s.", s.Page, s.Why))
	}
	if n := v.unlike(shown); n > 0 {
		out = append(out, fmt.Sprintf("%d pages look like none of those shown in full; they are shown small alone.", n))
	}
	return append(out, fmt.Sprintf("To see other pages in full, ask for them by their numbers, at most %d at a time.", mostShown))
}

func pagesShown(shown []Shown) (out []int) {
	for _, s := range shown {
		out = append(out, s.Page)
	}
	return out
}

// eachPage reads and paints pages one after the other without checking them.
func (s *Setup) eachPage(ctx context.Context, file string, pages []int, dpi float64, progress Progress, t *instrument.Timer, do func(*Sheet, *check.Page) error) error {
	art, err := s.Open(file)
	if err != nil {
		return err
	}
	defer art.Close()
	for i, n := range pages {
		progress.tell("page in full", i, len(pages))
		sh, err := art.Read(ctx, s, n, ReadOptions{Timer: t})
		if err != nil {
			return err
		}
		region := BoxWork.Region(&sh.List.Page)
		st, err := sh.stack(ctx, region, dpi, t)
		if err != nil {
			return err
		}
		if err := do(sh, sh.checkPage(s, st, region)); err != nil {
			return err
		}
	}
	progress.tell("page in full", len(pages), len(pages))
	return nil
}

// report is the survey as its section of the report shows it.
func (v *survey) report(shown []Shown) *report.Long {
	out := &report.Long{Words: v.words(shown)}
	for _, p := range v.pages {
		out.Small = append(out.Small, report.Small{Number: p.page, Picture: p.picture, Pixels: p.pixels, WidthMM: p.widthMM, HeightMM: p.heightMM, TrimMM: p.trim,
			Full: slices.ContainsFunc(shown, func(s Shown) bool { return s.Page == p.page }), Findings: p.findings})
	}
	return out
}
