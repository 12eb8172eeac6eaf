package handover

import (
	"fmt"
	"slices"
	"strings"
)

// Letter is what the provider has to know, in plain words.
type Letter struct {
	Job       string
	From      string // who prepared it; "" = not said
	Date      string // "" = not said
	Press     string
	Stock     string
	StockSays []string // weight, surface, colour, sheets
	Finished  string   // "210 × 99 mm"; "" = not given
	Bleed     string
	Pages     int
	Quantity  int
	Sheets    string // how pieces lie on sheets, and how many sheets that takes; "" = not worked out
	Toners    []LetterToner
	Steps     []LetterStep
	Register  string // how far passes may be off each other; "" = one pass
	Whole     string // name of the file with the whole artwork
	Apart     string // why there is no artwork of single passes; "" = there is
	Clean     bool
	Findings  []string // what the checks still say, when it is not clean
	Cautions  []string
	Proof     string // name of the proof; "" = none
	Report    string
	Files     []Entry
}

// LetterToner is a special toner of the job.
type LetterToner struct {
	Name, Kind string
	Where      string // "on the front and the back"
	Words      string // what else is to be known; "" = nothing
}

// LetterStep is one time of the stack through the press.
type LetterStep struct {
	Set      string
	Stations []string // the one laid first first
	File     string
	Sides    []PassSide
	Change   bool // the set before was another
	Again    bool // the stack goes through once more
}

// Block is a piece of a text: a heading, a paragraph, or points of a list.
type Block struct {
	Heading string
	Text    string
	Points  []string
	Ordered bool
}

// Blocks writes the letter; text, page and PDF show the same.
func (l *Letter) Blocks() []Block {
	out := []Block{{Text: "To whoever prints this,"}, {Text: l.opening()}}
	out = append(out, l.special()...)
	out = append(out, l.press()...)
	out = append(out, l.paper()...)
	out = append(out, Block{Heading: "Please send a printed proof"}, Block{Text: l.proof()})
	if len(l.Findings) > 0 {
		out = append(out, Block{Heading: "What the checks still say"},
			Block{Text: "The designer sends this job although the checks of the artwork found the following. Please ask before you print, should one of them look wrong to you."}, Block{Points: l.Findings})
	}
	if len(l.Cautions) > 0 {
		out = append(out, Block{Heading: "Please take care"}, Block{Points: l.Cautions})
	}
	return append(out, l.archive()...)
}

func (l *Letter) opening() string {
	amount := "Some pieces (how many was not given)"
	if l.Quantity > 0 {
		amount = counted(l.Quantity, "finished piece", "finished pieces")
	}
	size := ""
	if l.Finished != "" {
		size = ", " + l.Finished + " trimmed"
		if l.Bleed != "" {
			size += " with " + l.Bleed + " of bleed"
		}
	}
	times := "once"
	switch n := len(l.Steps); {
	case n == 0:
		times = "in passes that are still to be found"
	case n == 2:
		times = "twice"
	case n > 2:
		times = fmt.Sprintf("%d times", n)
	}
	return fmt.Sprintf("this is the job “%s”: %s%s, from artwork of %s, on %s. It was made for the press “%s”; the stack goes through it %s.",
		l.Job, amount, size, counted(l.Pages, "page", "pages"), l.Stock, l.Press, times)
}

func (l *Letter) special() []Block {
	out := []Block{{Heading: "What is special"}}
	if len(l.Toners) == 0 {
		return append(out, Block{Text: "No special toners: the job uses process toners alone."})
	}
	var points []string
	for _, t := range l.Toners {
		points = append(points, strings.TrimSpace(fmt.Sprintf("%s (%s) %s. %s", t.Name, t.Kind, t.Where, kindWords(t.Kind)+t.Words)))
	}
	return append(out, Block{Text: "The job needs toners besides the process ones. In the PDF each is a spot colour of exactly the name below. What a screen shows in their place is a stand-in: please do not convert them, merge them or print the stand-in."},
		Block{Points: points})
}

// kindWords says what a kind of toner is for.
func kindWords(kind string) string {
	switch kind {
	case "opaque white":
		return "It is toner, not bare paper; without it whatever lies on it sinks into the stock. "
	case "metallic":
		return "It shines only as toner of its own; made of process colours it would be a flat grey or brown. "
	case "clear":
		return "It lies over what is printed below and must not cut holes into it. "
	case "fluorescent":
		return "It glows; process colours cannot take its place. "
	}
	return ""
}

func (l *Letter) press() []Block {
	out := []Block{{Heading: "What must be in the press, and in what order"}}
	if len(l.Steps) == 0 {
		return append(out, Block{Text: l.Apart})
	}
	var points []string
	for i, s := range l.Steps {
		var b strings.Builder
		switch {
		case s.Change:
			fmt.Fprintf(&b, "Exchange the toners for the set “%s”", s.Set)
		case i == 0:
			fmt.Fprintf(&b, "Put the set “%s” in the press", s.Set)
		default:
			fmt.Fprintf(&b, "Leave the set “%s” in the press", s.Set)
		}
		fmt.Fprintf(&b, " (from the stock upwards: %s).", strings.Join(s.Stations, ", "))
		if s.File != "" {
			fmt.Fprintf(&b, " Print %s:", s.File)
		} else {
			b.WriteString(" Print:")
		}
		var sides []string
		for _, side := range s.Sides {
			sides = append(sides, fmt.Sprintf(" on the %s (%s) %s", side.Side, pagesWords(side.Pages), inOrder(side.Toners)))
		}
		b.WriteString(strings.Join(sides, ";") + ".")
		points = append(points, b.String())
	}
	out = append(out, Block{Points: points, Ordered: true})
	if l.Register != "" {
		out = append(out, Block{Text: l.Register})
	}
	if l.Apart != "" {
		out = append(out, Block{Text: l.Apart})
	}
	return out
}

// inOrder says which toner is laid first.
func inOrder(toners []string) string {
	if len(toners) == 1 {
		return toners[0] + " alone"
	}
	return "first " + strings.Join(toners, ", then ")
}

func pagesWords(pages []int) string {
	switch n := len(pages); {
	case n == 0:
		return "no page"
	case n == 1:
		return fmt.Sprintf("page %d", pages[0])
	case n > 2 && pages[n-1]-pages[0] == 2*(n-1):
		return fmt.Sprintf("every other page from %d to %d", pages[0], pages[n-1])
	}
	var words []string
	for _, p := range pages {
		words = append(words, fmt.Sprint(p))
	}
	return "pages " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func (l *Letter) paper() []Block {
	out := []Block{{Heading: "Stock, sheets and quantity"}}
	points := slices.Clone(l.StockSays)
	if l.Sheets != "" {
		points = append(points, l.Sheets)
	}
	if l.Quantity > 0 {
		points = append(points, fmt.Sprintf("Wanted: %s, besides what is spoilt.", counted(l.Quantity, "finished piece", "finished pieces")))
	} else {
		points = append(points, "How many finished pieces are wanted was not given: please ask.")
	}
	return append(out, Block{Text: l.Stock + ". If it is not at hand, please ask before you take another: white, metals and clear look different on every stock."}, Block{Points: points})
}

func (l *Letter) proof() string {
	pictures := l.Report
	if l.Proof != "" {
		pictures = l.Proof + " and " + l.Report
	}
	return "Before the whole run, please send one printed sheet: this artwork, these toners, this stock, this press. The pictures in " + pictures +
		" are calculated to show what is meant; they are no contract proof, and neither metal nor clear can be judged on a screen."
}

func (l *Letter) archive() []Block {
	var points []string
	for _, e := range l.Files {
		if e.About != "" {
			points = append(points, e.Name+": "+e.About)
		}
	}
	out := []Block{{Heading: "What lies in this archive"}, {Points: points}}
	if l.Whole != "" {
		text := l.Whole + " holds all toners at once."
		if l.Apart == "" {
			text += " It is there to look at and to check; please print the files of the passes."
		}
		out = append(out, Block{Text: text})
	}
	text := "manifest.json and checksums.txt hold the SHA-256 of each file. “laydown handover --check” on the archive, or “sha256sum -c checksums.txt” in its folder, tells whether a file was changed on the way."
	if len(l.Steps) > 0 {
		text += " Tickets are XJDF 2.2, one for each time through the press."
	}
	return append(out, Block{Text: text})
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
