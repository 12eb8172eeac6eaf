package check

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/geom"
)

var fontWhole = Rule{
	ID:         "font-embedded-whole",
	Group:      Document,
	Measures:   "fonts among the page's resources that are embedded with all their characters: no mark of a subset before the name; each told once a file",
	Source:     "ISO 32000-2, 9.9.2 (names of subsets)",
	Severities: []finding.Severity{finding.Note},
	Page: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		pg, err := c.Doc.Page(c.List.Page.Number)
		if err != nil {
			return nil // the reader has told
		}
		var names []string
		c.eachResource(pg.Resources, func(res pdf.Dict) {
			fonts, _ := c.Doc.Dict(res["Font"])
			for _, key := range sortedNames(fonts) {
				if name := c.wholeFont(fonts[key]); name != "" && !c.fontsTold[name] {
					if c.fontsTold == nil {
						c.fontsTold = map[string]bool{}
					}
					c.fontsTold[name] = true
					names = append(names, name)
				}
			}
		})
		if len(names) == 0 {
			return nil
		}
		slices.Sort(names)
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("Embedded with all their characters: %s.", strings.Join(names, ", ")),
			Why:      "The file is larger than it needs to be, and some licences of fonts allow only the characters used to be passed on.",
			Remedy:   "Export with subsets of fonts.",
			Place:    c.place(geom.Rect{}, nil),
		})
		return nil
	},
}

var subsetName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[A-Z]{6}\+`) })

// wholeFont is the name of a font with an embedded program that is no subset; "" for others.
func (in *Input) wholeFont(o pdf.Object) string {
	font, ok := in.Doc.Dict(o)
	if !ok {
		return ""
	}
	if list, ok := in.Doc.Array(font["DescendantFonts"]); ok && len(list) > 0 {
		if font, ok = in.Doc.Dict(list[0]); !ok {
			return ""
		}
	}
	name, _ := in.Doc.Name(font["BaseFont"])
	desc, ok := in.Doc.Dict(font["FontDescriptor"])
	if !ok || name == "" || subsetName().MatchString(string(name)) {
		return ""
	}
	for _, key := range []pdf.Name{"FontFile", "FontFile2", "FontFile3"} {
		if in.Doc.Resolve(desc[key]) != nil {
			return printableName(string(name))
		}
	}
	return ""
}

// printableName shows a name from a file without control bytes and of bounded length.
func printableName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if len(s) > 80 {
		s = strings.ToValidUTF8(s[:80], "") + "…"
	}
	return s
}

func sortedNames(d pdf.Dict) []pdf.Name { return slices.Sorted(keys(d)) }
