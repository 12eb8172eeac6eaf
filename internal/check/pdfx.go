package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var pdfxBroken = Rule{
	ID:    "pdfx-claim-broken",
	Group: Document,
	Measures: "files that call themselves PDF/X against those of its rules that decide how they print: no encryption, an output intent of PDF/X, TrimBox or ArtBox on every " +
		"page looked at and not both, no PostScript or reference XObjects, OPI, LZW filters or alternates for printing, no actions at opening and no scripts. Fonts, transfer " +
		"functions, annotations, the output intent's profile, layers, trapping and device colours have rules of their own",
	Source:     "ISO 15930-7 (PDF/X-4) and 15930-9 (PDF/X-6); rows from memory",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		if claim == "" {
			return nil
		}
		c.falseClaim(fmt.Sprintf("The file calls itself %s but breaks its rules", claim), c.pdfxPoints(),
			"Who relies on the name does not look again, and these points decide how the file prints.", "Export the file again as PDF/X.")
		return nil
	},
}

// falseClaim tells in which points a file is not what it calls itself.
func (c *Case) falseClaim(what string, points []string, why, remedy string) {
	if len(points) > 0 {
		c.Add(finding.Finding{Severity: finding.Warning, What: what + ": " + strings.Join(points, "; ") + ".", Why: why, Remedy: remedy})
	}
}

// pdfxClaim is the version of PDF/X a file claims, "" for none: in XMP since PDF/X-4, in Info before.
func (in *Input) pdfxClaim() string {
	if v := in.pdfxInInfo(); v != "" {
		return v
	}
	return in.pdfxInXMP()
}

func (in *Input) pdfxInInfo() string { return in.infoText("GTS_PDFXVersion") }

func (in *Input) pdfxInXMP() string {
	if v := xmpValue(in.xmp(), "GTS_PDFXVersion"); strings.HasPrefix(v, "PDF/X") {
		return v
	}
	return ""
}

func (c *Case) pdfxPoints() (points []string) {
	say := func(wrong bool, what string) {
		if wrong && !slices.Contains(points, what) {
			points = append(points, what)
		}
	}
	doc := c.Doc
	say(doc.Resolve(doc.Trailer()["Encrypt"]) != nil, "it is encrypted")
	say(!c.hasIntent(), "it has no output intent of PDF/X")
	_, action := doc.Dict(doc.Catalog()["OpenAction"])
	names, _ := doc.Dict(doc.Catalog()["Names"])
	say(action || doc.Resolve(doc.Catalog()["AA"]) != nil, "it has actions")
	say(doc.Resolve(names["JavaScript"]) != nil, "it has scripts")
	for _, p := range c.pages {
		pg, err := doc.Page(p.number)
		if err != nil {
			continue
		}
		say(pg.TrimBox == nil && pg.ArtBox == nil, fmt.Sprintf("page %d has neither TrimBox nor ArtBox", p.number))
		say(pg.TrimBox != nil && pg.ArtBox != nil, fmt.Sprintf("page %d has both TrimBox and ArtBox", p.number))
		c.eachResource(pg.Resources, func(res pdf.Dict) {
			objects, _ := doc.Dict(res["XObject"])
			for _, name := range sortedNames(objects) {
				if s, ok := doc.Stream(objects[name]); ok {
					c.pdfxObject(s, say)
				}
			}
		})
	}
	return points
}

func (c *Case) pdfxObject(s *pdf.Stream, say func(bool, string)) {
	doc := c.Doc
	kind, _ := doc.Name(s.Dict["Subtype"])
	say(kind == "PS", "it holds PostScript XObjects")
	say(kind == "Form" && doc.Resolve(s.Dict["Ref"]) != nil, "it holds reference XObjects")
	say(doc.Resolve(s.Dict["OPI"]) != nil, "it holds OPI comments")
	filters, _ := doc.Filters(s)
	say(slices.ContainsFunc(filters, func(f pdf.Filter) bool { return f.Name == "LZWDecode" }), "it uses LZW compression")
	alternates, _ := doc.Array(s.Dict["Alternates"])
	for _, o := range alternates {
		if a, ok := doc.Dict(o); ok {
			on, _ := doc.Bool(a["DefaultForPrinting"])
			say(on, "it holds images with an alternate for printing")
		}
	}
}
