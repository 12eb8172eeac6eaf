package handover

import (
	"fmt"
	"io"
	"time"

	"laydown/internal/handover/pdfpage"
)

// WritePDF writes the letter to be printed: A4, embedded fonts, tagged. The zero date says nothing of when it was made.
func (l *Letter) WritePDF(w io.Writer, made time.Time) error {
	doc, err := pdfpage.New(w, pdfpage.Info{Title: l.title(), Made: made})
	if err != nil {
		return err
	}
	small := pdfpage.Style{Size: 7, Colour: "0.35 g"}
	doc.Foot(func(p *pdfpage.Page, n, of int) {
		words := fmt.Sprintf("%d of %d", n, of)
		p.Text(20, p.H-9, small, doc.Shorten(small, l.title(), p.W-70))
		p.Text(p.W-20-doc.Width(small, words), p.H-9, small, words)
	})
	f := doc.NewFlow(0)
	f.Margin = 20
	body := pdfpage.Style{Size: 10}
	f.Heading(1, l.title(), 20)
	if s := l.dated(); s != "" {
		f.Text(pdfpage.Style{Size: 9, Colour: "0.35 g"}, s)
	}
	for _, b := range l.Blocks() {
		switch {
		case b.Heading != "":
			f.Heading(2, b.Heading, 14)
		case b.Text != "":
			f.Text(body, b.Text)
			f.Space(1.5)
		}
		if len(b.Points) > 0 {
			f.List(body, b.Ordered, b.Points)
		}
	}
	f.Break()
	return doc.Close()
}
