package report

import (
	"encoding/base64"
	"fmt"
	"html/template"

	"laydown/internal/finding"
)

// Long is what is told of a document of more pages than are shown in full.
type Long struct {
	Words []string // what is shown, and why
	Small []Small  // every page, in order
	Rest  []finding.Kind
}

// Small is a page seen from afar.
type Small struct {
	Number            int
	Picture           []byte // JPEG; nil = it could not be painted
	Pixels            [2]int
	WidthMM, HeightMM float64       // of what the picture shows
	TrimMM            finding.BoxMM // in it
	Full              bool          // shown in full as well
	Findings          []finding.Finding
}

// Counts tells how many findings the page has; "" = none.
func (s *Small) Counts() string { return finding.Counts(s.Findings) }

// Worst is the severest of its findings, "" where there are none.
func (s *Small) Worst() string {
	worst := -1
	for i := range s.Findings {
		worst = max(worst, int(s.Findings[i].Severity))
	}
	if worst < 0 {
		return ""
	}
	return finding.Severity(worst).String()
}

func jpegURL(b []byte) template.URL {
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b))
}

// line is findings that say the same of the same place on several pages.
type line struct{ Pages, What, Where string }

// alike gathers findings that differ by nothing but their page and the objects that make them.
func alike(fs []finding.Finding) []line {
	type key struct{ what, where string }
	at := map[key]int{}
	var out []line
	var pages [][]int
	for _, f := range fs {
		k := key{f.What, where(finding.Place{Box: f.Place.Box, Layer: f.Place.Layer})}
		if f.Count > 1 {
			k.what += fmt.Sprintf(" (%d times)", f.Count)
		}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out, pages = append(out, line{What: k.what, Where: k.where}), append(pages, nil)
		}
		if n := len(pages[i]); n == 0 || pages[i][n-1] != f.Place.Page {
			pages[i] = append(pages[i], f.Place.Page)
		}
	}
	for i := range out {
		out[i].Pages = finding.PageList(pages[i])
	}
	return out
}
