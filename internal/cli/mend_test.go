package cli

import (
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/finding"
)

// What comes from a file must not steer the terminal, wherever it is printed.
func TestMendsPrintNoControlCharacters(t *testing.T) {
	const evil = "a\x1b[2Jb"
	o := &app.MendOutcome{File: "in.pdf", Before: &app.Outcome{}, After: &app.Outcome{Findings: []finding.Finding{{What: evil, Mends: []string{"x:y=" + evil}}}},
		Steps: []app.MendStep{{Use: evil, Title: "T.", Notes: []string{evil}, Left: []string{evil}, Failed: evil},
			{Use: "u", Title: "T.", Refused: []app.Breach{{Page: 1, What: evil}}},
			{Use: "u", Title: "T.", Changed: true, Plates: []app.MendPlates{{Page: 1, Plates: []app.DiffPlate{{Colourant: evil}}}}}}}
	var b strings.Builder
	printMend(&b, o, "")
	if strings.Contains(b.String(), "\x1b") {
		t.Errorf("%q", b.String())
	}
	b.Reset()
	printOnly(&b, "first", []finding.Finding{{What: evil}})
	if strings.Contains(b.String(), "\x1b") {
		t.Errorf("%q", b.String())
	}
}

func TestMendsOfTheWholeFileNameNoPage(t *testing.T) {
	o := &app.MendOutcome{File: "in.pdf", Before: &app.Outcome{}, After: &app.Outcome{Findings: []finding.Finding{{What: "The file has a fault."}}},
		Steps: []app.MendStep{{Use: "u", Title: "T.", Refused: []app.Breach{{What: "the number of pages would change"}}}}}
	var b strings.Builder
	printMend(&b, o, "")
	if strings.Contains(b.String(), "page 0") {
		t.Error(b.String())
	}
}
