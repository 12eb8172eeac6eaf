package separate

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// Target is what is separated for: the plates and how names reach them. Immutable; safe for
// concurrent use.
type Target struct {
	Set       *colourant.Set
	Mounted   []bool         // per plate; false for process toners no set of the press carries
	Names     map[string]int // artwork name to plate index, assigned names included
	Mixes     map[string][]MixPart
	Converter *colour.Converter
}

// MixPart is one toner of a mix at the mix's full tint.
type MixPart struct {
	Plate int
	Tint  float64 // 0..1
}

// NewTarget returns the target of a press: Cyan, Magenta, Yellow, Black, then the special toners of
// its sets in laydown order. assign maps artwork names to names of toners or mixes of the press; a name that is only an alias of a toner
// is not mounted. conv must not be nil.
func NewTarget(p *press.Press, assign map[string]string, conv *colour.Converter) (*Target, error) {
	panic("unwritten")
}

// NewTargetFromLists returns the target that has a plate for every name of the lists: artwork looked at without a
// press. Names beyond limits.MaxColourants are reported and go through their alternates.
func NewTargetFromLists(conv *colour.Converter, sink finding.Sink, lists ...*displist.List) *Target {
	panic("unwritten")
}

// Components is the number of components an Ink has in a context: process components of the blend
// space and all specials.
func (t *Target) Components(ctx Context) int {
	return ctx.Space.ProcessComponents() + t.Set.Len() - len(colourant.ProcessNames)
}
