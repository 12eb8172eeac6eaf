package check

import (
	"context"
	"fmt"

	"laydown/internal/finding"
)

var hiddenLayers = Rule{
	ID:         "hidden-layers",
	Group:      Document,
	Measures:   "layers with something on them that do not print; technical processing steps do not count",
	Source:     "ISO 32000-2, 8.11; Ghent Workgroup sheet-fed list, row 28 (from memory)",
	Severities: []finding.Severity{finding.Note},
	Remedies:   []string{"drop-hidden-layers"},
	Page: func(_ context.Context, c *Case) error {
		layers := map[string][]int{}
		for i := range c.List.Items {
			it := &c.List.Items[i]
			if it.Hidden && it.Layer != nil && !it.StepOf().Technical() {
				layers[it.Layer.Name] = append(layers[it.Layer.Name], i)
			}
		}
		if len(layers) == 0 {
			return nil
		}
		names := sortedKeys(layers)
		var items []int
		for _, n := range names {
			items = append(items, layers[n]...)
		}
		place := c.place(c.boundsOf(items), items)
		say := "The layer %s is hidden and not printed."
		if len(names) > 1 {
			say = "The layers %s are hidden and not printed."
			place.Layer = "" // it is not of one alone
		}
		c.Add(finding.Finding{
			Severity: finding.Note,
			What:     fmt.Sprintf(say, quotedList(names)),
			Why:      "Whoever opens the file may switch them on, and programs further on may print them.",
			Remedy:   "Delete hidden layers from the file that goes to print, or show them if they are meant.",
			Place:    place,
		})
		return nil
	},
}
