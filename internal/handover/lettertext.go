package handover

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

// textWidth of a line of the letter as text, in characters.
const textWidth = 78

// WriteText writes the letter as text.
func (l *Letter) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n", l.title(), strings.Repeat("=", len([]rune(l.title()))))
	if s := l.dated(); s != "" {
		fmt.Fprintf(&b, "%s\n", s)
	}
	for _, k := range l.Blocks() {
		b.WriteByte('\n')
		switch {
		case k.Heading != "":
			fmt.Fprintf(&b, "%s\n%s\n", k.Heading, strings.Repeat("-", len([]rune(k.Heading))))
		case k.Text != "":
			wrap(&b, k.Text, "", "")
		}
		for i, p := range k.Points {
			mark := "- "
			if k.Ordered {
				mark = fmt.Sprintf("%d. ", i+1)
			}
			wrap(&b, p, mark, strings.Repeat(" ", len(mark)))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (l *Letter) title() string { return "Job “" + l.Job + "”" }

func (l *Letter) dated() string {
	var parts []string
	for _, s := range []string{l.From, l.Date} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, ", ")
}

// wrap writes words in lines.
func wrap(b *strings.Builder, text, first, indent string) {
	b.WriteString(first)
	col := len(first)
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case col+1+n > textWidth:
			b.WriteString("\n" + indent)
			col = len(indent)
		default:
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	b.WriteByte('\n')
}

//go:embed letter.tmpl.html
var letterPage string

// WriteHTML writes the letter as a page that prints well and needs nothing else.
func (l *Letter) WriteHTML(w io.Writer) error {
	t, err := template.New("letter").Parse(letterPage)
	if err != nil {
		return err
	}
	return t.Execute(w, struct {
		Title, Dated string
		Blocks       []Block
	}{l.title(), l.dated(), l.Blocks()})
}
