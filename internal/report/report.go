// Package report writes what a person reads after the main job: one self-contained HTML page with the
// look of each sheet side, the findings numbered on it, every plate, coverage and the lay of the passes.
package report

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/plan"
)

// Data is everything the page shows. Nothing in it depends on the time of day: the same job gives
// the same bytes.
type Data struct {
	File        string // base name of the artwork
	Press       string // title, "" when none was given
	Stock       string
	StockSwatch string // CSS colour of the bare stock
	Version     string
	General     []finding.Finding // findings about the whole file
	Pages       []Page            // those shown in full
	Long        *Long             // of a long document; nil = all pages are shown in full
	Cautions    []string
	Plan        *Plan // nil without a press
	// Clean is the verdict: nothing at or above the level that fails the job.
	Clean  bool
	FailOn finding.Severity
}

// Page is one sheet side.
type Page struct {
	Number   int
	WidthMM  float64 // of the region shown
	HeightMM float64
	TrimMM   finding.BoxMM // trim inside the region, from its top left
	DPI      float64
	Look     image.Image
	Strip    image.Image // a part held at several angles; nil where nothing shines
	Sure     []Sure      // how well the toners of the picture are known
	Findings []finding.Finding
	Plates   []Plate
	Passes   []Pass
	PassNote string // why there are none
}

// Sure tells how well the look of one toner is known.
type Sure struct {
	Toner    string
	Words    string
	Expected float64 // mean error of its colour on this stock, CIEDE2000; 0 = nobody knows
	Worst    float64 // seldom more than this
	Figures  []string
}

// Plate is one toner's plate.
type Plate struct {
	Name     string
	Kind     string
	Coverage float64     // mean tint over the trim, percent
	Area     float64     // share of the trim with any toner, percent
	Max      float64     // largest tint, percent
	Picture  image.Image // black = full toner; nil = no toner
	Swatch   string      // CSS colour of the solid on the stock
}

// Pass is one trip through the press.
type Pass struct {
	Set    string
	Toners []Layer // first laid first
}

// Layer is a toner in a pass.
type Layer struct {
	Name   string
	Swatch string
	Used   bool
}

//go:embed page.tmpl.html
var pageTemplate string

// page is made by the command that writes one: no other should wait for it.
func page() *template.Template {
	return template.Must(template.New("report").Funcs(template.FuncMap{
		"png":      dataURL,
		"jpeg":     jpegURL,
		"pages":    finding.PageList,
		"alike":    alike,
		"numbered": number,
		"css":      func(s string) template.CSS { return template.CSS(s) },
		"percent":  func(v float64) string { return trimZero(fmt.Sprintf("%.1f", v)) + " %" },
		"mm":       mm,
		"where":    where,
		"reverse":  reverse,
		"count":    count,
		"tags":     tags,
		"add":      func(a, b float64) float64 { return a + b },
		"inc":      func(i int) int { return i + 1 },
		"dict":     func(page int, f Numbered) pageFinding { return pageFinding{page, f} },
		"stock":    func(d *Data) string { return d.StockSwatch },
		"figure":   func(f plan.Figure) string { return f.Text(f.Digits()) },
		"toner":    func(f plan.Figure) bool { return strings.HasPrefix(f.What, "toner ") },
	}).Parse(pageTemplate))
}

// Write writes the page.
func Write(w io.Writer, d *Data) error {
	var buf bytes.Buffer
	if err := page().Execute(&buf, d); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	_, err := buf.WriteTo(w)
	return err
}

// dataURL packs a picture into the page.
func dataURL(img image.Image) (template.URL, error) {
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.DefaultCompression}
	if err := enc.Encode(&b, img); err != nil {
		return "", err
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}

// Numbered is a finding with the number it has on its page.
type Numbered struct {
	N int
	finding.Finding
}

type pageFinding struct {
	Page    int
	Finding Numbered
}

func number(fs []finding.Finding) []Numbered {
	out := make([]Numbered, len(fs))
	for i, f := range fs {
		out[i] = Numbered{i + 1, f}
	}
	return out
}

// Tag is a finding's number on the picture: its centre in percent of the picture's sides.
type Tag struct {
	N         int
	Left, Top float64
}

// tags places the numbers at the top left corners of the boxes; a number that would cover an earlier
// one moves along the top edge until it stands free.
func tags(p Page) []Tag {
	const wide, high = 3.2, 1.1 // mm on a sheet 100 mm wide, near enough to the size of a number
	var out []Tag
	for i, f := range p.Findings {
		b := f.Place.Box
		if b == nil || p.WidthMM <= 0 || p.HeightMM <= 0 {
			continue
		}
		t := Tag{N: i + 1, Left: (b.X + p.TrimMM.X) / p.WidthMM * 100, Top: (b.Y + p.TrimMM.Y) / p.HeightMM * 100}
		free := func() bool {
			for _, o := range out {
				if math.Abs(o.Left-t.Left) < wide && math.Abs(o.Top-t.Top) < high*p.WidthMM/p.HeightMM*2 {
					return false
				}
			}
			return true
		}
		for n := 0; n < 20 && !free(); n++ {
			t.Left += wide
		}
		t.Left, t.Top = min(max(t.Left, 1), 99), min(max(t.Top, 1), 99)
		out = append(out, t)
	}
	return out
}

// where tells a place in words.
func where(p finding.Place) string {
	var parts []string
	if p.Box != nil {
		parts = append(parts, fmt.Sprintf("%s mm from the left, %s mm from the top of the trim; %s × %s mm",
			mm(p.Box.X), mm(p.Box.Y), mm(p.Box.W), mm(p.Box.H)))
	}
	if p.Layer != "" {
		parts = append(parts, "layer “"+p.Layer+"”")
	}
	if n := len(p.Items); n > 0 {
		word := "items"
		if n == 1 {
			word = "item"
		}
		show := p.Items[:min(n, 8)]
		list := strings.Trim(strings.ReplaceAll(fmt.Sprint(show), " ", ", "), "[]")
		if n > len(show) {
			list += fmt.Sprintf(" and %d more", n-len(show))
		}
		parts = append(parts, word+" "+list)
	}
	if p.Object > 0 {
		s := fmt.Sprintf("PDF object %d", p.Object)
		if p.Offset > 0 {
			s += fmt.Sprintf(", byte %d", p.Offset)
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, " · ")
}

func mm(v float64) string {
	return trimZero(fmt.Sprintf("%.1f", math.Round(v*10)/10+0))
}

func trimZero(s string) string { return strings.TrimSuffix(s, ".0") }

func reverse(in []Layer) []Layer {
	out := make([]Layer, len(in))
	for i, v := range in {
		out[len(in)-1-i] = v
	}
	return out
}

// count says how many findings of each severity there are.
func count(d *Data) string {
	all := slices.Clone(d.General)
	for _, p := range d.Pages {
		all = append(all, p.Findings...)
	}
	if d.Long != nil {
		for _, k := range d.Long.Rest {
			all = append(all, k.All...)
		}
	}
	if words := finding.Counts(all); words != "" {
		return words
	}
	return "no findings"
}
