package handover

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

func letter() *Letter {
	return &Letter{Job: "An evening <at> the planetarium", Press: "Two-set press", Stock: "Midnight-blue board", StockSays: []string{"300 gsm, 0.40 mm thick"},
		Finished: "210 × 99 mm", Bleed: "3 mm", Pages: 2, Quantity: 250, Sheets: "4 on a sheet: 63 sheets",
		Toners: []LetterToner{{"White", "opaque white", "on the front and the back", "It is laid first."}, {Name: "Clear", Kind: "clear", Where: "on the front"}},
		Steps: []LetterStep{
			{Set: "special", Stations: []string{"White", "Silver"}, File: "artwork/pass-1-white.pdf", Sides: []PassSide{{"front", []int{1}, []string{"White", "Silver"}}, {"back", []int{2}, []string{"White"}}}},
			{Set: "process", Stations: []string{"Yellow", "Black"}, Change: true, Again: true, File: "artwork/pass-2-process.pdf", Sides: []PassSide{{"front", []int{1}, []string{"Yellow", "Black"}}}}},
		Register: "Feed the sheets by the same edges each time.", Whole: "artwork/whole.pdf", Clean: true, Proof: "proof.pdf", Report: "report.html",
		Cautions: []string{"Film must stand the heat."}, Files: []Entry{{Name: "letter.txt", About: "this letter"}}}
}

func TestLetter_says_what_matters(t *testing.T) {
	l := letter()
	l.Findings = []string{"Page 1: the white peeks out."}
	var b bytes.Buffer
	if err := l.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	said := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{
		"250 finished pieces, 210 × 99 mm trimmed with 3 mm of bleed", "the stack goes through it twice",
		"White (opaque white) on the front and the back.", "please do not convert them",
		"1. Put the set “special” in the press (from the stock upwards: White, Silver). Print artwork/pass-1-white.pdf: on the front (page 1) first White, then Silver; on the back (page 2) White alone.",
		"2. Exchange the toners for the set “process” (from the stock upwards: Yellow, Black).", "Feed the sheets by the same edges each time.",
		"300 gsm", "4 on a sheet", "Please send a printed proof", "please send one printed sheet", "the white peeks out", "Film must stand the heat.", "letter.txt: this letter",
		"sha256sum -c checksums.txt",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	for _, line := range strings.Split(b.String(), "\n") {
		if len([]rune(line)) > textWidth {
			t.Errorf("a line of %d characters: %s", len([]rune(line)), line)
		}
	}
}

func TestLetter_page_and_text_say_the_same(t *testing.T) {
	l := letter()
	var text, page bytes.Buffer
	if err := l.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if err := l.WriteHTML(&page); err != nil {
		t.Fatal(err)
	}
	// The words of the page's body, tags left out.
	_, body, _ := strings.Cut(page.String(), "<main>")
	body, _, _ = strings.Cut(body, "</main>")
	d := xml.NewDecoder(strings.NewReader("<main>" + body + "</main>"))
	d.Strict, d.Entity = false, xml.HTMLEntity
	var words strings.Builder
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := tok.(xml.CharData); ok {
			words.Write(c)
			words.WriteByte(' ')
		}
	}
	letters := func(s string) string {
		return strings.Map(func(r rune) rune {
			if r == '-' || r == '=' || r <= ' ' || r >= '0' && r <= '9' || r == '.' {
				return -1
			}
			return r
		}, s)
	}
	if a, b := letters(text.String()), letters(words.String()); a != b {
		t.Errorf("text:\n%s\npage:\n%s", a, b)
	}
}

func TestLetter_says_when_things_are_not_known(t *testing.T) {
	l := &Letter{Job: "j", Press: "p", Stock: "s", Pages: 1, Apart: "The job cannot be laid out.", Report: "report.html"}
	var b bytes.Buffer
	if err := l.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	said := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{"how many was not given", "The job cannot be laid out.", "No special toners", "please ask"} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

func TestPagesWords(t *testing.T) {
	for want, pages := range map[string][]int{"page 3": {3}, "pages 1 and 3": {1, 3}, "every other page from 1 to 9": {1, 3, 5, 7, 9}, "pages 1, 2 and 7": {1, 2, 7}} {
		if got := pagesWords(pages); got != want {
			t.Errorf("%v: %s, want %s", pages, got, want)
		}
	}
}
