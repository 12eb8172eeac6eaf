package check

import (
	"slices"
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/press"
)

// onFilm is a page on clear film, on a press that lays white first (six-station) or last (five-station).
func onFilm(name, seen, content string) artwork {
	a := artwork{press: name, stock: "clear-film", pages: []string{content}}
	if seen != "" {
		a.job = &press.Job{Seen: seen}
	}
	return a
}

const (
	whiteFirst = "six-station"
	whiteLast  = "five-station"
)

func TestColourOnBareFilm(t *testing.T) {
	const id = "colour-on-bare-film"
	colour := fill("1 .5 0 0 k", 5, 5, 20, 20)
	backed := fill(white, 5, 5, 20, 20) + fill(over+"1 .5 0 0 k", 5, 5, 20, 20)
	board := onFilm(whiteFirst, "", colour)
	board.stock = "black-board"
	f := holds(t, id, finding.Warning, onFilm(whiteFirst, "", colour), quiet{
		"white under, face":    onFilm(whiteFirst, press.SeenFace, backed),
		"white over, through":  onFilm(whiteLast, press.SeenThrough, backed),
		"white under, unsaid":  onFilm(whiteFirst, "", backed),
		"white over, unsaid":   onFilm(whiteLast, "", backed),
		"black alone":          onFilm(whiteFirst, "", fill("0 0 0 1 k", 5, 5, 20, 20)),
		"0.95 mm2":             {dpi: 508, press: whiteFirst, stock: "clear-film", pages: []string{fill("1 0 0 0 k", 5, 5, .95, 1)}},
		"no film":              board, // process-on-dark-stock tells that
		"half a white and one": onFilm(whiteFirst, "", fill("/White cs .51 scn", 5, 5, 20, 20)+fill(over+"1 .5 0 0 k", 5, 5, 20, 20)),
	})
	wantArea(t, f, 400)
	if f := one(t, onFilm(whiteLast, press.SeenFace, backed), id); len(f.Remedies) > 0 {
		t.Errorf("an underlay is laid last here: %v", f.Remedies)
	}
	if !slices.Equal(f.Remedies, []string{"make-underlay"}) {
		t.Errorf("%v", f.Remedies)
	}
	if f := one(t, onFilm(whiteFirst, press.SeenThrough, backed), id); !strings.Contains(f.Remedy, "last") || len(f.Remedies) > 0 {
		t.Errorf("%s %v", f.Remedy, f.Remedies)
	}
	wantQuiet(t, onFilm(whiteFirst, "", colour), "process-on-dark-stock")
	one(t, board, "process-on-dark-stock")
}

func TestWhiteHidesPrintOnFilm(t *testing.T) {
	const id = "white-hides-print-on-film"
	backed := fill(white, 5, 5, 20, 20) + fill(over+"1 .5 0 0 k", 5, 5, 10, 20)
	beside := fill(white, 5, 5, 10, 20) + fill("1 .5 0 0 k", 20, 5, 10, 20)
	board := onFilm(whiteLast, press.SeenFace, backed)
	board.stock = "black-board"
	f := holds(t, id, finding.Error, onFilm(whiteFirst, press.SeenThrough, backed), quiet{
		"laid first, face":   onFilm(whiteFirst, press.SeenFace, backed),
		"laid last, through": onFilm(whiteLast, press.SeenThrough, backed),
		"laid first, unsaid": onFilm(whiteFirst, "", backed),
		"beside each other":  onFilm(whiteFirst, press.SeenThrough, beside),
		"a thin white":       onFilm(whiteFirst, press.SeenThrough, fill("/White cs .49 scn", 5, 5, 20, 20)+fill(over+"1 .5 0 0 k", 5, 5, 10, 20)),
		"no film":            board,
	})
	wantArea(t, f, 200)
	wantItems(t, f, 0, 1)
	holds(t, id, finding.Error, onFilm(whiteLast, press.SeenFace, backed), nil)
	if f := holds(t, id, finding.Note, onFilm(whiteLast, "", backed), nil); !strings.Contains(f.What, "through the film only") {
		t.Error(f.What)
	}
}
