// Package separate decides what each item of a display list does to each colourant of a press:
// paint a tint, clear it, or leave it, and why. It is the only place that knows both source colours
// and plates, and holds the overprint truth table (ISO 32000-2, 8.6.7 and Table 146; STANDARDS 1.3 to 1.5).
package separate

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
)

// Effect is what an item does to one colourant.
type Effect uint8

// The three effects.
const (
	Leave Effect = iota // the colourant stays as it is
	Clear               // set to no toner
	Paint               // set to a tint
)

// Reason says why, for explanations.
type Reason uint8

// Reasons of effects.
const (
	ReasonNamed     Reason = iota // the colour names this colourant (or is a process colour with this component)
	ReasonKnockout                // not named, overprint off: cleared
	ReasonOverprint               // not named, overprint on: left
	ReasonMode                    // overprint mode 1 and component exactly 0: left
	ReasonAll                     // Separation All
	ReasonNone                    // Separation None: nothing is marked
	ReasonAlternate               // the name is not mounted: painted through the alternate
	ReasonMix                     // the name is a mix of toners
	ReasonUnmounted               // plate of a process colourant the press does not have
)

// Blend space of the process components a painter works in.
type BlendSpace uint8

// Blend spaces: the device's own, and those a group can ask for.
const (
	BlendCMYK BlendSpace = iota
	BlendRGB
	BlendGray
)

// ProcessComponents is the number of process components of the blend space.
func (b BlendSpace) ProcessComponents() int { return [...]int{4, 3, 1}[b] }

// Ink is one colour, separated: component by component, the blend space's process components first
// (in tint sense: 1 minus additive), then the specials of the target in plate order.
type Ink struct {
	Effects []Effect
	Values  []uint16 // 0..65535 = tint; 0 where Effect is not Paint
	Reasons []Reason
	Nothing bool // marks and clears nothing at all (None)
}

// Target is what is separated for: the plates and how names reach them. Immutable; safe for
// concurrent use.
type Target struct {
	Set       *colourant.Set
	Names     map[string]int // artwork name to plate index, aliases included
	Mixes     map[string][]MixPart
	Converter *colour.Converter
}

// MixPart is one toner of a mix at the mix's full tint.
type MixPart struct {
	Plate int
	Tint  float64 // 0..1
}

// Context is what surrounds an item.
type Context struct {
	Space BlendSpace // of the group the item is painted in
	// SpaceIsCMYK is Space == BlendCMYK; OPM 1 acts only then (11.7.4.3, STANDARDS 1.5.2).
}

// Colour separates one source colour. image is true for samples of images (OPM 1 does not act, 1.4.4).
func (t *Target) Colour(p displist.Paint, overprint bool, mode int, image bool, intent colour.Intent, ctx Context) Ink {
	panic("unwritten")
}
