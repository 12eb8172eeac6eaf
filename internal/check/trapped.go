package check

import (
	"bytes"
	"context"
	"fmt"

	"laydown/internal/finding"
)

var trappedUnclear = Rule{
	ID:         "trapped-unclear",
	Group:      Document,
	Measures:   "what files that call themselves PDF/X say of trapping, in Info and XMP: True or False, and the same in both",
	Source:     "ISO 32000-2, 14.11.6; ISO 15930-7 (PDF/X-4), from memory",
	Severities: []finding.Severity{finding.Note, finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		if claim == "" {
			return nil
		}
		info, xmp := c.infoText("Trapped"), xmpValue(c.xmp(), "pdf:Trapped")
		sure := func(v string) bool { return v == "True" || v == "False" }
		f := finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf("The file calls itself %s but does not say whether it has been trapped.", claim),
			Why:      "Traps are laid twice, or not at all, where a receiver guesses.",
			Remedy:   "Export the file again as PDF/X, with trapping set to what was done.",
		}
		switch {
		case sure(info) && sure(xmp) && info != xmp:
			f.Severity = finding.Warning
			f.What = "The file says in one place that it has been trapped, and in another that it has not."
		case sure(info) || sure(xmp):
			return nil
		}
		c.Add(f)
		return nil
	},
}

// xmpValue is the text of a simple property of XMP metadata, written as an element or an attribute; "" for none.
func xmpValue(data []byte, property string) string {
	for rest := data; ; {
		i := bytes.Index(rest, []byte(property))
		if i < 0 {
			return ""
		}
		rest = rest[i+len(property):]
		v := bytes.TrimLeft(rest[:min(len(rest), 200)], " \t\r\n=")
		if len(v) == 0 || v[0] != '>' && v[0] != '"' && v[0] != '\'' {
			continue
		}
		if end := bytes.IndexAny(v[1:], "<\"'"); end >= 0 {
			return printableName(string(bytes.TrimSpace(v[1 : 1+end])))
		}
	}
}
