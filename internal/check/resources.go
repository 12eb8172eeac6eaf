package check

import (
	"iter"
	"maps"

	"laydown/internal/artwork/pdf"
)

// Bounds on a walk through resources: a form may name itself, and a hostile file has very many.
const (
	maxFormDepth      = 8
	maxFormsOfOnePage = 2000
)

// eachResource calls f with a resource dictionary and those of the forms below it, each form once.
func (in *Input) eachResource(res pdf.Dict, f func(pdf.Dict)) {
	seen := map[pdf.Ref]bool{}
	var walk func(res pdf.Dict, depth int)
	walk = func(res pdf.Dict, depth int) {
		f(res)
		objects, _ := in.Doc.Dict(res["XObject"])
		for _, name := range sortedNames(objects) {
			s, ok := in.Doc.Stream(objects[name])
			if !ok || seen[s.Ref] || depth >= maxFormDepth || len(seen) >= maxFormsOfOnePage {
				continue
			}
			if kind, _ := in.Doc.Name(s.Dict["Subtype"]); kind != "Form" {
				continue
			}
			seen[s.Ref] = true
			if inner, ok := in.Doc.Dict(s.Dict["Resources"]); ok {
				walk(inner, depth+1)
			}
		}
	}
	walk(res, 0)
}

func keys(d pdf.Dict) iter.Seq[pdf.Name] { return maps.Keys(d) }
