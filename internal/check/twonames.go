package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/finding"
)

var oneLookTwoNames = Rule{
	ID:    "one-look-two-names",
	Group: Names,
	Measures: "colourant names with the very same stand-in colour at 100 and 50 %, over all pages looked at; a note where the press has a toner of each " +
		"name, or where there is no press",
	Source:     CommonPractice,
	Severities: []finding.Severity{finding.Note, finding.Warning},
	Remedies:   []string{"merge-colourants"},
	File: func(_ context.Context, c *Case) error {
		byLook := map[string][]string{}
		for _, name := range sortedKeys(c.looks) {
			text := c.looks[name][0].text
			byLook[text] = append(byLook[text], name)
		}
		for _, text := range sortedKeys(byLook) {
			names := c.without(byLook[text])
			if len(names) < 2 {
				continue
			}
			f := finding.Finding{
				Severity: finding.Note,
				What:     fmt.Sprintf("The colourants %s look the same on screen: %s.", quotedList(names), text),
				Why:      "Nobody can tell them apart in the artwork, so objects may have the wrong one of them; each name gets a plate, and is a toner, of its own.",
				Remedy:   "Merge them under one name if one toner is meant; else give each a stand-in colour of its own.",
				Place:    finding.Place{Page: c.looks[names[0]][0].page, Colourants: names},
			}
			for _, n := range names {
				if c.Press != nil && !c.carries(n) {
					f.Severity = finding.Warning
				}
			}
			c.Add(f)
		}
		return nil
	},
}

// without leaves out names that miss another of them by a slip: nearlyRightName speaks of these.
func (in *Input) without(names []string) (out []string) {
	for _, n := range names {
		if in.Press != nil && !in.carries(n) {
			if want, near := in.wanted(n); near && slices.Contains(names, want) {
				continue
			}
		}
		out = append(out, n)
	}
	return out
}

// carries reports whether the press has a toner or a mix of the name, or the job assigns it one.
func (in *Input) carries(name string) bool {
	if in.Job != nil && in.Job.Assign[name] != "" {
		return true
	}
	_, toner := in.Press.Toner(name)
	_, mix := in.Press.Mix(name)
	return toner || mix
}

func quotedList(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = fmt.Sprintf("%q", n)
	}
	if len(q) < 2 {
		return strings.Join(q, "")
	}
	return strings.Join(q[:len(q)-1], ", ") + " and " + q[len(q)-1]
}
