package app

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/handover"
	"laydown/internal/press"
)

// letter tells the provider what there is to know.
func (h *handing) letter() *handover.Letter {
	s := h.s
	l := &handover.Letter{Job: h.name(), From: h.req.From, Press: s.Press.Title, Stock: s.Stock.Title, Pages: h.total, Quantity: h.quantity(),
		Whole: h.whole.Name, Apart: h.apart, Clean: h.out.Clean, Proof: h.proof, Report: "report.html", StockSays: stockWords(s.Stock)}
	if !h.req.Date.IsZero() {
		l.Date = h.req.Date.Format("2 January 2006")
	}
	if size := h.finished(); size != nil {
		l.Finished = millimetreWords(float64(size.Width)) + " × " + millimetreWords(float64(size.Height)) + " mm"
	}
	if s.Job != nil && s.Job.Bleed > 0 {
		l.Bleed = millimetreWords(float64(s.Job.Bleed)) + " mm"
	}
	if len(h.steps) > 0 && h.steps[0].sheets != nil {
		l.Sheets = h.sheetWords()
	}
	for i, st := range h.steps {
		ls := handover.LetterStep{Set: st.pass.Set.Name, Stations: st.pass.Set.Stations, File: st.content.Name, Sides: st.sides}
		if st.imposed != nil {
			ls.File = st.imposed.Name
		}
		if i > 0 {
			ls.Change, ls.Again = st.pass.Set != h.steps[i-1].pass.Set, true
		}
		l.Steps = append(l.Steps, ls)
	}
	used := h.usedAnywhere()
	if len(h.steps) > 1 {
		l.Register = fmt.Sprintf("Feed the sheets by the same edges each time: what is laid in one pass may be up to %s mm off what is laid in another, and the artwork reckons with no more.", millimetreWords(float64(s.Press.Register.Between)))
	}
	for _, name := range used {
		if t := h.letterToner(name); t != nil {
			l.Toners = append(l.Toners, *t)
		}
	}
	if !h.out.Clean {
		for _, f := range h.out.Findings {
			if f.Severity >= h.req.FailOn || f.Incomplete {
				l.Findings = append(l.Findings, findingWords(&f))
			}
		}
	}
	if s.Job == nil || len(s.Job.Use) == 0 {
		l.Cautions = append(l.Cautions, "What the pieces are for was not said. Should you know that they touch food, are toys or go into a child's hands, or have windows or glue, please ask first: toner and stock then need declarations or trials of their own.")
	}
	l.Cautions = append(l.Cautions, cautions(s, used)...)
	for _, f := range h.files {
		l.Files = append(l.Files, handover.Entry{Name: f.Name, About: f.About})
	}
	for name, about := range letterAbout {
		l.Files = append(l.Files, handover.Entry{Name: name, About: about})
	}
	slices.SortFunc(l.Files, func(a, b handover.Entry) int { return strings.Compare(a.Name, b.Name) })
	return l
}

// millimetreWords writes millimetres as people do.
func millimetreWords(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

// letterToner tells of a special toner; nil for process toners.
func (h *handing) letterToner(name string) *handover.LetterToner {
	t, ok := h.s.Press.Toner(name)
	if !ok || t.Kind == colourant.Process {
		return nil
	}
	out := &handover.LetterToner{Name: name, Kind: t.Kind.String()}
	on := [2]bool{} // front, back
	for n, used := range h.used {
		if slices.Contains(used, name) {
			on[0], on[1] = on[0] || !h.back(n), on[1] || h.back(n)
		}
	}
	switch {
	case on[0] && on[1]:
		out.Where = "on the front and the back"
	case on[0]:
		out.Where = "on the front"
	default:
		out.Where = "on the back"
	}
	laid := map[string][]string{} // passes by side
	for i, st := range h.steps {
		for _, s := range st.sides {
			if slices.Contains(s.Toners, name) {
				laid[s.Side] = append(laid[s.Side], fmt.Sprint(i+1))
			}
		}
	}
	if len(h.steps) > 1 {
		front, back := passesWords(laid[press.Front.String()]), passesWords(laid[press.Back.String()])
		switch {
		case front == "" || back == "" || front == back:
			out.Words = "Laid in " + cmp.Or(front, back) + "."
		default:
			out.Words = "Laid in " + front + " on the front, in " + back + " on the back."
		}
	}
	if h.s.Job != nil {
		for _, u := range h.s.Job.Wishes.Underlay {
			if u.Toner == name {
				out.Words = strings.TrimSpace(out.Words + " It lies under " + underWords(u.Under) + ".")
			}
		}
	}
	return out
}

func passesWords(numbers []string) string {
	switch n := len(numbers); n {
	case 0:
		return ""
	case 1:
		return "pass " + numbers[0]
	default:
		return "passes " + strings.Join(numbers[:n-1], ", ") + " and " + numbers[n-1]
	}
}

func underWords(under []string) string {
	var out []string
	for _, u := range under {
		if u == press.UnderProcess {
			u = "the process toners"
		}
		out = append(out, u)
	}
	return strings.Join(out, " and ")
}

// darkWords is the L* below which a stock is called dark in the letter: common practice, no source.
const darkWords = 50

func stockWords(k *press.Stock) (out []string) {
	first := k.Weight.String() + ", " + k.Surface
	if k.Thickness > 0 {
		first += ", " + k.Thickness.String() + " thick"
	}
	out = append(out, first+".")
	if k.Surface != press.SurfaceFilm && k.Front[0] < darkWords {
		out = append(out, "It is dark: process colours show on it only over white toner, and white needs care to hide it.")
	}
	if k.Hits > 0 {
		out = append(out, fmt.Sprintf("One sheet stands %d trips through the fuser at most.", k.Hits))
	}
	return out
}

// sheetWords tells how pieces lie on sheets.
func (h *handing) sheetWords() string {
	o := h.steps[0].sheets
	y := o.Yield
	words := fmt.Sprintf("Sheets of %s × %s mm, fed with the %s mm edge ahead; %d on a sheet", millimetreWords(y.Sheet.W), millimetreWords(y.Sheet.H), millimetreWords(y.Sheet.W), y.PerSheet)
	if h.quantity() > 0 || o.Records != nil {
		words += fmt.Sprintf(", so %d good sheets", y.Sheets)
		if y.Sheets == 1 {
			words = strings.TrimSuffix(words, "s")
		}
		if o.Needed > y.Sheets {
			words += fmt.Sprintf("; %d go in first, with what all passes spoil", o.Needed)
		}
	}
	switch y.Sheet.Grain {
	case "width":
		words += "; the fibres run across the feed"
	case "height":
		words += "; the fibres run with the feed"
	}
	return words + ". The sheet files are laid out so; you may lay the files of the passes out anew, as long as all passes are laid out alike."
}

func findingWords(f *finding.Finding) string {
	words := f.What
	if f.Place.Page > 0 {
		words = fmt.Sprintf("Page %d: %s", f.Place.Page, words)
	}
	if f.Count > 1 {
		words += fmt.Sprintf(" (%d times)", f.Count)
	}
	return words
}
