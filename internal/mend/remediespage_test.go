package mend

import (
	"fmt"
	"strings"
	"testing"

	"laydown/internal/golden"
)

// TestRemediesPage keeps docs/remedies.md current; -update writes it.
func TestRemediesPage(t *testing.T) {
	var b strings.Builder
	b.WriteString(`# The remedies of the mend

Generated from the remedies in internal/mend (` + "`go test ./internal/mend -run RemediesPage -update`" + `); ` + "`laydown mend --remedies`" + ` shows the same.

` + "`laydown check`" + ` names under each finding what answers it, with its options, as ` + "`--do`" + ` takes them. ` + "`--all-safe`" + ` applies the safe ones: those that
cannot change the intended look. Others are choices and are asked for by name. Several are applied in the order of this page, each as a
revision of its own at the end of the file, with the pages painted before and after it: where a plate differs that the remedy does not name, or
where nothing was asked for, no file is written. ` + "`--undo`" + ` cuts the last revision off again.

`)
	for _, r := range All {
		safe := ""
		if r.Safe {
			safe = " (safe)"
		}
		fmt.Fprintf(&b, "## `%s`%s\n\n%s\n", r.ID, safe, r.Title)
		if len(r.Answers) > 0 {
			var ids []string
			for _, a := range r.Answers {
				ids = append(ids, "`"+string(a)+"`")
			}
			fmt.Fprintf(&b, "\nAnswers %s.\n", strings.Join(ids, ", "))
		}
		if len(r.Options) > 0 {
			b.WriteString("\n| option | |\n|---|---|\n")
			for _, o := range r.Options {
				must := ""
				if o.Required {
					must = " (must be given)"
				}
				fmt.Fprintf(&b, "| `%s` | %s%s |\n", o.Name, strings.ReplaceAll(o.Help, "|", "\\|"), must)
			}
		}
		b.WriteString("\n")
	}
	golden.Text(t, "../../../docs/remedies.md", strings.TrimRight(b.String(), "\n")+"\n")
}

func TestRemediesAreDistinctAndNamed(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range All {
		if seen[r.ID] || r.ID == "" || !strings.HasSuffix(r.Title, ".") || r.Apply == nil {
			t.Errorf("%q is listed twice or not described", r.ID)
		}
		seen[r.ID] = true
		names := map[string]bool{}
		for _, o := range r.Options {
			if names[o.Name] || o.Name == "" || o.Help == "" {
				t.Errorf("%s: option %q is there twice or not described", r.ID, o.Name)
			}
			names[o.Name] = true
		}
	}
}
