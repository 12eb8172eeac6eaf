package displist

import "slices"

// Step is the processing step a layer stands for (ISO 19593-1): names as the file spells them. The zero
// value is no step.
type Step struct {
	Group string // Structural, Positions, White, ...
	Type  string // Cutting, Folding, ...; "" where the group needs none
}

// The groups of ISO 19593-1, and of these the technical ones, which describe the piece and are not for
// toner. White, Varnish and Primer are printed. (The split follows the titles of the groups; the clause could not
// be read. Primer and PlateMaking are in the draft of the second edition only.)
var (
	stepGroups      = []string{"Structural", "Positions", "PlateMaking", "White", "Varnish", "Primer", "Braille", "Legend", "Dimensions"}
	technicalGroups = []string{"Structural", "Positions", "PlateMaking", "Braille", "Legend", "Dimensions"}
	typedGroups     = []string{"Structural", "Positions", "PlateMaking"}
)

// Technical reports whether what lies on the layer describes the piece and is kept off the plates.
func (s Step) Technical() bool { return slices.Contains(technicalGroups, s.Group) }

// Known reports whether the group is one of the standard's.
func (s Step) Known() bool { return slices.Contains(stepGroups, s.Group) }

// NeedsType reports whether the standard asks for a type in the group.
func (s Step) NeedsType() bool { return slices.Contains(typedGroups, s.Group) }

func (s Step) String() string {
	if s.Type == "" {
		return s.Group
	}
	return s.Group + " " + s.Type
}

// StepOf is the processing step an item belongs to: that of its innermost layer that stands for one.
func (it *Item) StepOf() Step {
	for l := it.Layer; l != nil; l = l.Parent {
		if l.Step != (Step{}) {
			return l.Step
		}
	}
	return Step{}
}
