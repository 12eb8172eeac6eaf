package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var layersByEvent = Rule{
	ID:         "pdfx-layers-by-event",
	Group:      Document,
	Measures:   "the layer configurations of files that call themselves PDF/X: none that switches layers by events (AS), and a default one that starts from all layers on",
	Source:     "ISO 15930-7 (PDF/X-4), from memory; ISO 32000-2, Table 99 (BaseState of the default configuration) and 8.11.4.5",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		layers, ok := c.Doc.Dict(c.Doc.Catalog()["OCProperties"])
		if claim == "" || !ok {
			return nil
		}
		usual, _ := c.Doc.Dict(layers["D"])
		others, _ := c.Doc.Array(layers["Configs"])
		events := c.switches(usual)
		for _, o := range others[:min(len(others), 64)] {
			d, _ := c.Doc.Dict(o)
			events = events || c.switches(d)
		}
		var points []string
		if events {
			points = append(points, "they are switched by viewing, printing or exporting")
		}
		if base, _ := c.Doc.Name(usual["BaseState"]); base != "" && base != "ON" {
			points = append(points, fmt.Sprintf("their default state starts from %s instead of ON", printableName(string(base))))
		}
		if len(points) == 0 {
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     fmt.Sprintf("The file calls itself %s, but which of its layers print is not fixed: %s.", claim, strings.Join(points, "; ")),
			Why:      "Some programs follow such rules when they print and others do not, so that layers come or go.",
			Remedy:   "Delete layers that are not meant to print, leave all others visible, and export again.",
		})
		return nil
	},
}

// switches reports whether a layer configuration has usage application dictionaries that name an event and layers.
func (in *Input) switches(config pdf.Dict) bool {
	list, _ := in.Doc.Array(config["AS"])
	for _, o := range list[:min(len(list), 64)] {
		d, _ := in.Doc.Dict(o)
		if layers, _ := in.Doc.Array(d["OCGs"]); len(layers) > 0 {
			return true
		}
	}
	return false
}
