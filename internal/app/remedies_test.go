package app

import (
	"slices"
	"testing"

	"laydown/internal/check"
	"laydown/internal/finding"
	"laydown/internal/mend"
)

// Findings name mends, mends name findings: both must know each other.
func TestRulesAndMendsKnowEachOther(t *testing.T) {
	rules := map[finding.ID][]string{}
	mends := map[string]bool{}
	for _, r := range mend.All {
		mends[r.ID] = true
	}
	for _, r := range check.Rules {
		rules[r.ID] = r.Remedies
		for _, m := range r.Remedies {
			if !mends[m] {
				t.Errorf("the rule %s names the mend %s, which there is not", r.ID, m)
			}
		}
	}
	for _, r := range mend.All {
		for _, id := range r.Answers {
			if named, there := rules[id]; !there {
				t.Errorf("the mend %s answers the rule %s, which there is not", r.ID, id)
			} else if !slices.Contains(named, r.ID) {
				t.Errorf("the mend %s answers the rule %s, which does not name it", r.ID, id)
			}
		}
	}
}
