package cli

import (
	"fmt"
	"strings"

	"laydown/internal/app"
)

// rules lists the checks.
func (c *checkCmd) rules(e *env) error {
	rows := app.Rules()
	if e.json {
		return e.writeJSON(rows)
	}
	line := func(key, text string) {
		fmt.Fprintf(e.out, "    %-10s%s\n", key+":", wrap(text, 14))
	}
	for i, r := range rows {
		if i == 0 || rows[i-1].Group != r.Group {
			fmt.Fprintf(e.out, "%s\n\n", strings.ToUpper(string(r.Group)))
		}
		fmt.Fprintln(e.out, r.ID)
		line("measures", r.Measures)
		for _, f := range r.Figures {
			line("figure", fmt.Sprintf("%s: %s (%s; %s)", f.Key, f.Text, f.What, f.Source))
		}
		line("source", r.Source)
		var words []string
		for _, s := range r.Severities {
			words = append(words, s.String())
		}
		if r.Fixed {
			words = append(words, "fixed")
		}
		line("severity", strings.Join(words, ", "))
		if len(r.Remedies) > 0 {
			line("mends", strings.Join(r.Remedies, ", "))
		}
		fmt.Fprintln(e.out)
	}
	_, err := fmt.Fprintf(e.out, "%s\n", wrap("Severity and figures can be changed in a press, stock or job file: checks: {bleed-missing: {severity: note, bleed: 2mm}}", 0))
	return err
}
