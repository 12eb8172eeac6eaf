package check

import "laydown/internal/finding"

// Rules of the group Reading name what the readers and painters tell, so that definitions can change its
// severity and remedies are known. They look at nothing themselves.

var fontNotEmbedded = Rule{
	ID:         "font-not-embedded",
	Group:      Reading,
	Measures:   "fonts that type is set in and that have no font program in the file",
	Source:     "ISO 15930-7 (PDF/X-4) asks for every font that marks to be embedded (from memory)",
	Severities: []finding.Severity{finding.Error, finding.Warning},
	Remedies:   []string{"embed-needed"},
}
