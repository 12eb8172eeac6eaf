// Package separate decides what each item of a display list does to each colourant of a press:
// paint a tint, clear it, or leave it, and why. It is the only place that knows both source colours
// and plates, and holds the overprint truth table (ISO 32000-2, 8.6.7 and Table 146).
package separate

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
)

// Effect is what an item does to one colourant.
type Effect uint8

// The three effects.
const (
	Leave Effect = iota // the colourant stays as it is
	Clear               // set to no toner
	Paint               // set to a tint
)

var effectNames = [...]string{"leave", "clear", "paint"}

func (e Effect) String() string { return effectNames[e] }

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

var reasonTexts = [...]string{
	ReasonNamed:     "named by the colour",
	ReasonKnockout:  "knocked out: not named and overprint is off",
	ReasonOverprint: "kept: not named and overprint is on",
	ReasonMode:      "kept: overprint mode 1 and this component is 0 %",
	ReasonAll:       "named by All",
	ReasonNone:      "kept: the colour None marks nothing",
	ReasonAlternate: "painted by the stand-in colour of a name that is not mounted",
	ReasonMix:       "part of the mix the colour names",
	ReasonUnmounted: "named, but no set of the press carries this process toner",
}

// String tells the reason in plain words.
func (r Reason) String() string { return reasonTexts[r] }

// BlendSpace is the blending space of the process components a painter works in.
type BlendSpace uint8

// Blend spaces: the device's own, and those a group can ask for.
const (
	BlendCMYK BlendSpace = iota
	BlendRGB
	BlendGray
)

var blendSpaceNames = [...]string{"CMYK", "RGB", "gray"}

func (b BlendSpace) String() string { return blendSpaceNames[b] }

// ProcessComponents is the number of process components of the blend space.
func (b BlendSpace) ProcessComponents() int { return [...]int{4, 3, 1}[b] }

// Context is what surrounds an item.
type Context struct {
	Space BlendSpace // of the group the item is painted in; OPM 1 acts in BlendCMYK only (11.7.4.3)
}

// Within returns the context of the members of group g standing in c: the group's blending space
// is honoured when it is isolated (or the page group, which always is), else inherited (11.6.6).
func (c Context) Within(g *displist.Group) Context {
	if g == nil || g.Space == nil || !g.Isolated {
		return c
	}
	return Context{Space: blendSpaceFrom(g.Space)}
}

// PageContext is the context of the items of a list outside any group (11.4.7).
func PageContext(list *displist.List) Context {
	if list.Group == nil || list.Group.Space == nil {
		return Context{}
	}
	return Context{Space: blendSpaceFrom(list.Group.Space)}
}

// blendSpaceFrom sorts a group colour space by its number of components (Table 145).
func blendSpaceFrom(s colour.Space) BlendSpace {
	switch s.Components() {
	case 1:
		return BlendGray
	case 3:
		return BlendRGB
	}
	return BlendCMYK
}

// Ink is one colour, separated: component by component, the blend space's process components first
// (in tint sense: 1 minus additive), then the specials of the target in plate order.
type Ink struct {
	Effects []Effect
	Values  []uint16 // 0..65535 = tint; 0 where Effect is not Paint
	Reasons []Reason
	Nothing bool // marks and clears nothing at all (None)
}
