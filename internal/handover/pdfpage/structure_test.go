package pdfpage

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// node is a structure element read back.
type node struct {
	kind string
	dict pdf.Dict
	ref  pdf.Ref
	kids []*node
	mark []string // its own marked contents, as page object and number
}

// tree reads the structure of a file (ISO 32000-2, 14.7), and holds parents against kids.
func tree(t *testing.T, doc *pdf.Document) *node {
	t.Helper()
	root, _ := doc.Dict(doc.Catalog()["StructTreeRoot"])
	top, ok := root["K"].(pdf.Ref)
	if !ok {
		t.Fatal("no structure")
	}
	return readElement(t, doc, top, pdf.Object(doc.Catalog()["StructTreeRoot"]))
}

func readElement(t *testing.T, doc *pdf.Document, ref pdf.Ref, parent pdf.Object) *node {
	t.Helper()
	d, ok := doc.Dict(ref)
	if !ok || d["P"] != parent {
		t.Fatalf("element %v is %v, of %v", ref, d, parent)
	}
	n := &node{kind: string(d["S"].(pdf.Name)), dict: d, ref: ref}
	kids, ok := doc.Resolve(d["K"]).(pdf.Array)
	if !ok && d["K"] != nil {
		kids = pdf.Array{d["K"]}
	}
	for _, k := range kids {
		switch k := k.(type) {
		case pdf.Integer:
			n.mark = append(n.mark, fmt.Sprint(d["Pg"], k))
		case pdf.Ref:
			n.kids = append(n.kids, readElement(t, doc, k, ref))
		case pdf.Dict:
			n.mark = append(n.mark, fmt.Sprint(k["Pg"], k["MCID"]))
		}
	}
	return n
}

// all lists an element and what is in it, in reading order.
func (n *node) all() (out []*node) {
	out = append(out, n)
	for _, k := range n.kids {
		out = append(out, k.all()...)
	}
	return out
}

func (n *node) kinds() (out []string) {
	for _, k := range n.kids {
		out = append(out, k.kind)
	}
	return out
}

func TestStructure_has_every_mark_once_and_the_way_back(t *testing.T) {
	doc := opened(t, document(t))
	of := map[string]pdf.Ref{}
	for _, n := range tree(t, doc).all() {
		for _, m := range n.mark {
			if _, twice := of[m]; twice {
				t.Errorf("two elements have %s", m)
			}
			of[m] = n.ref
		}
	}
	root, _ := doc.Dict(doc.Catalog()["StructTreeRoot"])
	numbers, _ := doc.Dict(root["ParentTree"])
	nums := numbers["Nums"].(pdf.Array)
	marks := 0
	for i := range doc.NumPages() {
		p, err := doc.Page(i + 1)
		if err != nil {
			t.Fatal(err)
		}
		parents, _ := doc.Array(nums[2*i+1])
		for n, parent := range parents {
			if want := of[fmt.Sprint(pageRef(t, doc, i), n)]; parent != pdf.Object(want) {
				t.Errorf("page %d, mark %d: belongs to %v, its element is %v", i+1, n, parent, want)
			}
		}
		for _, o := range doc.Resolve(p.Dict["Contents"]).(pdf.Array) {
			s, _ := doc.Stream(o)
			b, err := doc.Data(s)
			if err != nil {
				t.Fatal(err)
			}
			marks += strings.Count(string(b), "/MCID ")
		}
	}
	if marks != len(of) || marks < 60 {
		t.Errorf("%d marked contents, %d in the tree", marks, len(of))
	}
}

func pageRef(t *testing.T, doc *pdf.Document, i int) pdf.Object {
	t.Helper()
	pages, _ := doc.Dict(doc.Catalog()["Pages"])
	kids, _ := doc.Array(pages["Kids"])
	return kids[i]
}

// Tables are told as ISO 32000-2, 14.8.4.8 has them: rows of as many cells, heads with what they head.
func TestStructure_of_a_table_over_pages(t *testing.T) {
	doc := opened(t, document(t))
	var tables []*node
	for _, n := range tree(t, doc).all() {
		if n.kind == "Table" {
			tables = append(tables, n)
		}
	}
	if len(tables) != 1 || len(tables[0].kids) != 11 {
		t.Fatalf("%d tables", len(tables))
	}
	pages := map[string]bool{}
	for i, row := range tables[0].kids {
		want := []string{"TH", "TD"}
		if i == 0 {
			want = []string{"TH", "TH"}
		}
		if row.kind != "TR" || !slices.Equal(row.kinds(), want) {
			t.Errorf("row %d: %s of %v", i, row.kind, row.kinds())
		}
		for _, cell := range row.kids {
			a, _ := doc.Dict(cell.dict["A"])
			scope := map[bool]pdf.Name{true: "Column", false: "Row"}[i == 0]
			if cell.kind == "TH" && (a["Scope"] != scope || a["O"] != pdf.Name("Table")) {
				t.Errorf("row %d: a head of %v", i, a)
			}
			pages[fmt.Sprint(cell.dict["Pg"])] = true
		}
	}
	if len(pages) < 2 {
		t.Error("the table lies on one page: nothing is shown of breaks")
	}
	if last := tables[0].kids[10].kids[1]; len(last.mark) != 0 {
		t.Error("an empty cell has marks")
	}
	// The head stands on each of its pages, and is read once.
	text := output(t, document(t), "mutool", "draw", "-q", "-F", "txt")
	if n := strings.Count(text, "Tint"); n < 2 {
		t.Errorf("the head stands on %d pages", n)
	}
}

func TestStructure_of_lists_and_figures(t *testing.T) {
	for _, n := range tree(t, opened(t, document(t))).all() {
		switch n.kind {
		case "L":
			if !slices.Equal(n.kinds(), []string{"LI", "LI"}) || !slices.Equal(n.kids[0].kinds(), []string{"Lbl", "LBody"}) {
				t.Errorf("a list of %v", n.kinds())
			}
		case "Figure":
			if n.dict["Alt"] == nil || len(n.mark) != 1 || !slices.Equal(n.kinds(), []string{"Caption"}) {
				t.Errorf("figure %v with %v", n.dict, n.kinds())
			}
		case "P":
			if len(n.mark) == 0 {
				t.Error("an empty paragraph")
			}
		}
	}
}
