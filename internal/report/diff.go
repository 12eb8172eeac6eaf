package report

import (
	_ "embed"
	"html/template"
	"io"
)

// Diff is the page that shows where the plates of two files differ. Pictures are files beside it.
type Diff struct {
	First, Second string // base names
	Version       string
	Verdict       string
	More, Less    string // CSS colours of the marks: more toner in the second file, more in the first
	Pages         []DiffPage
}

// DiffPage is a page that differs.
type DiffPage struct {
	Number  int
	Remarks []string // sentences: sizes, trims, a page that one file lacks
	Picture string   // file name; "" = none
	Sheets  string   // both printed sheets; "" = none
	Plates  []DiffPlate
}

// DiffPlate is a colourant that differs.
type DiffPlate struct {
	Name    string
	Text    string // by how much and where
	Picture string
}

//go:embed diff.tmpl.html
var diffTemplate string

// WriteDiff writes the page.
func WriteDiff(w io.Writer, d *Diff) error {
	return template.Must(template.New("diff").Funcs(template.FuncMap{
		"css": func(s string) template.CSS { return template.CSS(s) },
	}).Parse(diffTemplate)).Execute(w, d)
}
