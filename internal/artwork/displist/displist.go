// Package displist is the hand-over between reading and separating: one page as a list of items in
// paint order with their source colours untouched and no press in it. A List is immutable after
// interp made it; many goroutines may replay it, whole or cropped.
//
// What is guaranteed: all coordinates are in list space (package geom), those of a tiling's cell in its
// pattern space, and finite; every colour has Space.Components() finite components inside their ranges;
// clips, groups, soft masks and patterns are resolved; inherited state is written out on each item;
// items that cannot mark are left out; hidden ones are kept with Hidden set. Validate checks it.
package displist

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image"
	"laydown/internal/artwork/pdf"
	"laydown/internal/geom"
)

// List is one page.
type List struct {
	Page  Page
	Items []Item
	// Group is the page group's attributes (11.4.7); nil when the page has none.
	Group *Group
	// Names are the colourants of every Separation and DeviceN space reachable from the page's
	// resources, used or not, in first-met order, without All, None and the process names.
	Names []NamedColourant
	// Blending is true when some item, mask or group inside needs more than opaque Normal painting.
	Blending bool
	// Incomplete is true when something of the page could not be put on the list; findings say what.
	Incomplete bool
	// ViewerDiffers is true when a viewer that prints would show other layers than the plain default
	// configuration (8.11.4.5).
	ViewerDiffers bool
}

// Page is the geometry of the page in list space.
type Page struct {
	Number                             int
	Object                             int         // object number of the page
	ToList                             geom.Matrix // PDF default user space to list space
	Media, Crop, Bleed, Trim, Art      geom.Rect   // defaults filled in
	HasTrim, HasBleed, HasArt, HasCrop bool
	UserUnit                           float64
	Rotate                             int
	Contents                           []ContentPart // the streams that make the page's content, in order
}

// ContentPart says where one stream begins in the page's joined content, to which Origin.Offset of
// page content counts.
type ContentPart struct {
	Object int   // object number of the stream; 0 = direct
	Start  int64 // offset of its first byte
}

// NamedColourant is a colourant name with the definitions it came with.
type NamedColourant struct {
	Name       string
	Spaces     []colour.Space // distinct Separation/DeviceN spaces naming it
	Object     int            // object number of the first definition, 0 = direct
	HiddenOnly bool           // met only in items that do not print
}

// Kind is what an item is.
type Kind uint8

// Kinds of item.
const (
	Fill       Kind = iota // Shape filled with Paint
	Stroke                 // Shape stroked with Paint
	Image                  // a sampled image, or a stencil painted with Paint
	Shade                  // a shading over the clip (sh); Shading is set
	BeginGroup             // a transparency group: its members are the next items up to Group.End
)

// Item is one painting step. Small fields stand together: a page may have a million items.
type Item struct {
	Kind         Kind
	Blend        Blend
	AlphaIsShape bool // AIS
	Overprint    bool // OP for strokes, op for the rest
	Transfer     bool // a TR/TR2 or halftone transfer function was in force (a finding says so)
	Hidden       bool // does not print: painters skip it (and, for a group, its members carry Hidden too)
	Intent       colour.Intent

	OverprintMode int       // OPM, 0 or 1
	Alpha         float64   // CA or ca, 0..1
	SoftMask      *SoftMask // nil = none

	Bounds  geom.Rect // list space; holds every mark of the item; may be loose
	Clip    *Clip     // nil = the page
	Shape   Shape     // Fill, Stroke
	Pen     *Pen      // Stroke
	Paint   Paint     // Fill, Stroke, stencil Image
	Image   *Picture  // Image
	Shading *Shading  // Shade
	Group   *Group    // BeginGroup

	Text   *Text // set on items that come from text-showing operators
	Layer  *Layer
	Origin Origin
}

// Shape is a path or a run of glyphs, in list space.
type Shape struct {
	Path   *geom.Path // nil when Glyphs are used
	Rule   geom.FillRule
	Glyphs []Glyph // each filled non-zero; the union is painted once
}

// Glyph is an outline and where it stands.
type Glyph struct {
	Outline *geom.Path  // shared; nil = no marks
	M       geom.Matrix // outline to list space
}

// Pen is a stroke's style and the matrix from the style's user space to list space. Only its linear
// part shapes the pen; it may be singular.
type Pen struct {
	Style geom.StrokeStyle
	M     geom.Matrix
}

// Paint is a source colour, or a pattern: at most one of Tiling and Shading is set. An uncoloured
// tiling has its colour in Space and Comps too; a coloured one and a shading have no Space.
type Paint struct {
	Space   colour.Space
	Comps   []float64
	Tiling  *Tiling
	Shading *Shading
}

// Picture is an image and where it stands: M maps the unit square (y up: row 0 at y = 1) to list space.
type Picture struct {
	*image.Image
	M geom.Matrix
}

// Group are a transparency group's attributes (11.6.6). Its Alpha, Blend and SoftMask stand on its item.
type Group struct {
	End      int // index after the last member
	Isolated bool
	Knockout bool
	Space    colour.Space // blending space for the process components; nil = inherited
	// Overprint marks the implicit groups of 11.7.4.3 and 11.7.4.4, whose members keep CompatibleOverprint.
	Implicit bool
	Name     string // XObject name or "", for dumps
}

// SoftMask is a mask from a group (11.6.5.2), resolved to list space. Members use indices of its own Items.
type SoftMask struct {
	Luminosity         bool // else Alpha
	Items              []Item
	Bounds             geom.Rect    // of the group's BBox in list space
	BBox               *Clip        // the exact BBox clip
	Space              colour.Space // the group's colour space; nil for Alpha without one
	Isolated, Knockout bool
	Backdrop           []float64       // BC in Space; nil = black of Space
	Transfer           colour.Function // nil = Identity
	Ref                pdf.Ref
}

// Clip is a chain of clipping shapes: a point is inside when it is inside every link.
type Clip struct {
	Parent *Clip
	Shape  Shape
	Bounds geom.Rect // of the whole chain, list space
}

// Text tells about the text an item shows.
type Text struct {
	Font     string
	Size     float64 // effective size in points, from text matrix and CTM
	Mode     int     // text rendering mode
	Embedded bool
	String   string // the code bytes, for dumps
	Object   int    // number of a text object (BT..ET), from 1
}

// Layer is an optional content group or membership.
type Layer struct {
	Name    string
	Object  int
	Visible bool // by the default configuration for printing
	Viewer  bool // as a viewer printing it would show it
	Prints  bool // as it was asked to be read, Parent aside
	Step    Step // the processing step it stands for; a technical one does not print
	Parent  *Layer
	Entry   pdf.Object // group or membership as the content names it: a reference, or a dictionary written in place
}

// Origin is where an item comes from.
type Origin struct {
	Page       int
	Object     int       // number of the content stream's (or form's) object; 0 = direct
	Offset     int64     // byte offset of the operator keyword in the decoded stream (page contents joined)
	Forms      *FormPath // forms entered on the way, innermost first; nil on the page itself
	Annotation int       // object number of the annotation whose appearance it is; 0 = page content
}

// FormPath is a chain of form XObjects.
type FormPath struct {
	Name   string
	Object int
	Offset int64 // of the Do that draws it, in the stream it is drawn from; 0 for the cell of a pattern
	Parent *FormPath
}

// Blend is a blend mode (11.3.5).
type Blend uint8

// The blend modes of Tables 134 and 135.
const (
	Normal Blend = iota
	Multiply
	Screen
	Overlay
	Darken
	Lighten
	ColorDodge
	ColorBurn
	HardLight
	SoftLight
	Difference
	Exclusion
	Hue
	Saturation
	Color
	Luminosity
)

var blendNames = [...]string{"Normal", "Multiply", "Screen", "Overlay", "Darken", "Lighten", "ColorDodge", "ColorBurn",
	"HardLight", "SoftLight", "Difference", "Exclusion", "Hue", "Saturation", "Color", "Luminosity"}

func (b Blend) String() string { return blendNames[b] }

// BlendFromName finds a mode by its PDF name; "Compatible" is Normal.
func BlendFromName(n string) (Blend, bool) {
	if n == "Compatible" {
		return Normal, true
	}
	for i, s := range blendNames {
		if s == n {
			return Blend(i), true
		}
	}
	return Normal, false
}

// Separable reports whether B works component by component.
func (b Blend) Separable() bool { return b < Hue }

// WhitePreserving reports whether B(1,1) = 1; only such separable modes act on spot colourants (11.7.4.2).
func (b Blend) WhitePreserving() bool { return b < Difference }
