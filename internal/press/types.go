// Package press holds the definitions a person writes: presses with their sets of toners, stocks
// and jobs, read from YAML with units in the values. Reading is strict: an unknown key, a missing
// unit or a name that points nowhere is an error with file, line, column and remedy.
package press

import (
	"laydown/internal/colourant"
)

// Press is a printing press with the toners it can carry.
type Press struct {
	Name       string   `yaml:"name"`            // short name used on the command line
	Title      string   `yaml:"title"`           // name for people
	Notes      string   `yaml:"notes,omitempty"` // remarks for people
	Sheet      Sheet    `yaml:"sheet"`
	Resolution DPI      `yaml:"resolution"`
	Toners     []Toner  `yaml:"toners"`
	Mixes      []Mix    `yaml:"mixes,omitempty"`
	Sets       []Set    `yaml:"sets"`
	Register   Register `yaml:"register"`
	PassOnPass *bool    `yaml:"pass_on_pass,omitempty"` // may toner lie on toner of an earlier pass; left out = true
	Pile       Pile     `yaml:"pile"`
	Price      Price    `yaml:"price,omitempty"`
	Speed      Speed    `yaml:"speed,omitempty"`       // how long work on the press takes
	Waste      Waste    `yaml:"waste,omitempty"`       // sheets that are printed and thrown away
	Profile    string   `yaml:"profile,omitempty"`     // CMYK output profile: a file, relative to the definition, or its name among the system's profiles
	BlackPoint string   `yaml:"black_point,omitempty"` // compensate or keep, where artwork leaves it open; left out: compensate
	Cautions   []string `yaml:"cautions,omitempty"`    // shown whenever the press is used
	Checks     Checks   `yaml:"checks,omitempty"`      // severities and figures of rules

	Characterisation string `yaml:"characterisation,omitempty"` // patches of the process toners measured on the press: a CGATS file, relative to the definition; for the look it goes before the profile

	src *source // positions of the values read, for errors found later
}

// Sheet is the largest sheet and the margins nothing can be printed in.
type Sheet struct {
	Width   Length  `yaml:"width"`  // across the feed direction
	Height  Length  `yaml:"height"` // along the feed direction
	Margins Margins `yaml:"margins"`
}

// Margins of the sheet nothing can be printed in.
type Margins struct {
	Lead  Length `yaml:"lead"`  // edge that enters the press first
	Trail Length `yaml:"trail"` // edge that leaves the press last
	Side  Length `yaml:"side"`  // each of the two other edges
}

// Set is what can be in the press at one time: its stations in laydown order, first laid first.
type Set struct {
	Name     string   `yaml:"name"`
	Stations []string `yaml:"stations"` // toner names, the one laid first on top of the list
}

// Register is how far plates may be off each other.
type Register struct {
	Within  Length `yaml:"within"`  // between plates of one pass
	Between Length `yaml:"between"` // between plates of two passes
}

// Pile limits the sum of tints in one place, averaged over Area.
type Pile struct {
	PerPass Percent `yaml:"per_pass"`
	Sum     Percent `yaml:"sum"`
	Area    Area    `yaml:"area"` // averaging area: a lone pixel is no pile
}

// Price is what a press costs to run, in the currency given.
type Price struct {
	Currency  string   `yaml:"currency"`
	Note      string   `yaml:"note,omitempty"`
	Click     float64  `yaml:"click"`          // one side of one sheet through the press once
	SetChange float64  `yaml:"set_change"`     // exchanging the toners of one set for another
	Hour      *float64 `yaml:"hour,omitempty"` // an hour of the press with who runs it, besides the clicks
}

// Speed is how long work takes. What is left out is not given, which is not the same as 0.
type Speed struct {
	SheetsPerHour    *float64 `yaml:"sheets_per_hour,omitempty"`    // sheets fed, one side printed each time
	SetUpMinutes     *float64 `yaml:"set_up_minutes,omitempty"`     // before each pass of a side: load, set up, look at the first sheets
	SetChangeMinutes *float64 `yaml:"set_change_minutes,omitempty"` // exchanging the toners of one set for another
}

// Waste is what is printed and thrown away. What is left out is not given, which is not the same as 0.
type Waste struct {
	Sheets *int     `yaml:"sheets,omitempty"` // to set up each pass of a side
	Share  *Percent `yaml:"share,omitempty"`  // of the good sheets of each pass, spoilt while running
}

// Toner is one toner and what it holds.
type Toner struct {
	Name          string         `yaml:"name"`              // the colourant name artwork must use, byte for byte
	Aliases       []string       `yaml:"aliases,omitempty"` // other names seen in the wild: suggested, never merged silently
	Kind          colourant.Kind `yaml:"kind"`
	StandIn       [4]Percent     `yaml:"stand_in"` // CMYK stand-in colour for artwork
	Appearance    Appearance     `yaml:"appearance,omitempty"`
	Tint          TintRange      `yaml:"tint,omitempty"`
	Finest        Finest         `yaml:"finest,omitempty"`
	Mass          GSM            `yaml:"mass"` // laid down at 100 %
	PricePerKg    float64        `yaml:"price_per_kg,omitempty"`
	MustOverprint bool           `yaml:"must_overprint,omitempty"` // must never knock out what lies below
	NeverOn       []string       `yaml:"never_on,omitempty"`       // toners it must not lie on or under; process = all process toners
	Cautions      []string       `yaml:"cautions,omitempty"`       // shown whenever the toner is used
}

// TintRange is which tints the toner holds. MayTint false = solids only.
type TintRange struct {
	MayTint *bool   `yaml:"may_tint,omitempty"` // left out = true
	Least   Percent `yaml:"least,omitempty"`
	Most    Percent `yaml:"most,omitempty"`
	Advised Percent `yaml:"advised,omitempty"`
}

// Finest is the smallest detail a toner holds.
type Finest struct {
	Line     Length `yaml:"line,omitempty"`     // positive line
	Reversed Length `yaml:"reversed,omitempty"` // line left free in the toner
	Type     Length `yaml:"type,omitempty"`     // type size
}

// Appearance is the look of a solid; what is left out comes from the kind.
type Appearance struct {
	OnWhite *Lab          `yaml:"on_white,omitempty"` // measured on a white stock of Lab 95 0 -2
	OnBlack *Lab          `yaml:"on_black,omitempty"` // measured on a black stock of Lab 17 0 1
	Opacity Percent       `yaml:"opacity,omitempty"`  // contrast ratio Y on black / Y on white, if on_black is not known
	Gloss   string        `yaml:"gloss,omitempty"`    // matte, satin or gloss
	Spectra *TonerSpectra `yaml:"spectra,omitempty"`  // instead of on_white and on_black
	Metal   *MetalLook    `yaml:"metal,omitempty"`    // how a metallic shines
	Glow    *GlowLook     `yaml:"glow,omitempty"`     // how a fluorescent glows
}

// TonerSpectra are reflectances of the solid, measured at 45/0; 1 is the perfect diffuser.
type TonerSpectra struct {
	From    Wavelength `yaml:"from"`               // wavelength of the first value
	Step    Wavelength `yaml:"step"`               // from one value to the next
	OnWhite []float64  `yaml:"on_white"`           // on a white stock of Lab 95 0 -2
	OnBlack []float64  `yaml:"on_black,omitempty"` // on a black stock of Lab 17 0 1
}

// MetalLook tells how the flakes of a metallic toner shine.
type MetalLook struct {
	Flop      float64 `yaml:"flop,omitempty"`      // flop index of the solid: 0 does not change with the angle, 15 is a very strong metallic
	Roughness float64 `yaml:"roughness,omitempty"` // width of the lobe (GGX alpha): 0.2 is mirror-like, 0.5 dull
}

// GlowLook tells how a fluorescent toner glows.
type GlowLook struct {
	Peak  Wavelength `yaml:"peak,omitempty"`  // where it gives off most light
	Yield Percent    `yaml:"yield,omitempty"` // share of the light quanta it takes up that it gives off again
}

// Words for gloss, of a toner's or a stock's surface.
const (
	GlossMatte = "matte"
	GlossSatin = "satin"
	GlossHigh  = "gloss"
)

// Words for the surface of a stock.
const (
	SurfaceCoated     = "coated"
	SurfaceUncoated   = "uncoated"
	SurfaceFilm       = "film"
	SurfaceMetallised = "metallised"
)

// Mix is a named blend of toners usable as a colourant in artwork.
type Mix struct {
	Name    string     `yaml:"name"`
	Aliases []string   `yaml:"aliases,omitempty"` // other names seen in the wild
	Parts   []MixPart  `yaml:"parts"`
	StandIn [4]Percent `yaml:"stand_in"`
}

// MixPart is one toner of a mix at the mix's full tint.
type MixPart struct {
	Toner string  `yaml:"toner"`
	Tint  Percent `yaml:"tint"`
}

// Stock is what is printed on.
type Stock struct {
	Name      string        `yaml:"name"`
	Title     string        `yaml:"title"`
	Surface   string        `yaml:"surface"`         // coated, uncoated, film or metallised
	Gloss     string        `yaml:"gloss,omitempty"` // matte, satin or gloss; left out: by surface
	Front     Lab           `yaml:"front"`
	Back      *Lab          `yaml:"back,omitempty"` // left out: as the front
	Weight    GSM           `yaml:"weight"`
	Thickness Length        `yaml:"thickness,omitempty"`
	Opacity   Percent       `yaml:"opacity,omitempty"` // Y over black / Y over white (ISO 2471); left out: nothing shows through, but for film
	Spectra   *StockSpectra `yaml:"spectra,omitempty"` // reflectances of the sides, which then go before front and back
	Sheets    []StockSheet  `yaml:"sheets,omitempty"`
	Hits      int           `yaml:"hits,omitempty"` // passes through the fuser a sheet stands, both sides together; 0 = not limited
	Price     *StockPrice   `yaml:"price,omitempty"`
	Cautions  []string      `yaml:"cautions,omitempty"`
	Checks    Checks        `yaml:"checks,omitempty"` // severities and figures of rules; goes before the press's

	src *source // positions of the values read, for errors found later
}

// StockSpectra are reflectances of the bare stock, measured at 45/0; 1 is the perfect diffuser.
type StockSpectra struct {
	From  Wavelength `yaml:"from"`           // wavelength of the first value
	Step  Wavelength `yaml:"step"`           // from one value to the next
	Front []float64  `yaml:"front"`          // as lying on white; film as lying on a dark ground
	Back  []float64  `yaml:"back,omitempty"` // left out: as the front, unless the key back gives its colour
}

// StockPrice is what the stock costs, in the currency given.
type StockPrice struct {
	Currency string  `yaml:"currency"`
	Note     string  `yaml:"note,omitempty"`
	Sheet    float64 `yaml:"sheet"` // one sheet as it goes into the press
}

// StockSheet is a sheet size the stock comes in.
type StockSheet struct {
	Width  Length `yaml:"width"`
	Height Length `yaml:"height"`
	Grain  string `yaml:"grain,omitempty"` // the fibres run along its width or its height; left out: not known
}

// Side of a sheet.
type Side int

// The sides of a sheet. The zero value is the front.
const (
	Front Side = iota
	Back
)

func (s Side) String() string {
	if s == Back {
		return "back"
	}
	return "front"
}

// Colour is the Lab of one side.
func (s *Stock) Colour(side Side) Lab {
	if side == Back && s.Back != nil {
		return *s.Back
	}
	return s.Front
}

// Job is one piece of work. After LoadJob its file names are relative to the current directory or
// absolute, no longer to the job file.
type Job struct {
	Artwork  string            `yaml:"artwork"`            // PDF, relative to the job file
	Press    string            `yaml:"press"`              // a shipped name or a file
	Stock    string            `yaml:"stock"`              // a shipped name or a file
	Finished *Size             `yaml:"finished,omitempty"` // trimmed size
	Bleed    Length            `yaml:"bleed,omitempty"`
	Quantity int               `yaml:"quantity,omitempty"`     // finished pieces
	Breaks   []int             `yaml:"price_breaks,omitempty"` // other quantities to reckon the price of, rising
	Sides    int               `yaml:"sides,omitempty"`        // 1 or 2; left out: as many as the artwork has
	Assign   map[string]string `yaml:"assign,omitempty"`       // colourant name in the artwork -> toner or mix of the press
	Wishes   Wishes            `yaml:"wishes,omitempty"`
	Layers   *LayerWish        `yaml:"layers,omitempty"`
	Zones    []Zone            `yaml:"zones,omitempty"`  // places on the piece that are folded, glued or written on
	Lead     string            `yaml:"lead,omitempty"`   // edge of the page that enters the press first: left, right, top or bottom
	Seen     string            `yaml:"seen,omitempty"`   // how print on film is looked at: face (the printed side) or through (the film, so that white is laid last)
	Use      []string          `yaml:"use,omitempty"`    // what the piece is for, where that calls for care: food, toy, window (of an envelope) or gummed
	Sheets   *SheetWish        `yaml:"sheets,omitempty"` // how pieces are laid on sheets; left out: as many as fit, cut apart
	Checks   Checks            `yaml:"checks,omitempty"` // severities and figures of rules; goes before the press's and the stock's

	src *source // positions of the values read, for errors found later
}

// Zone is a place on the finished piece where toner may be in the way.
type Zone struct {
	Kind   string `yaml:"kind"`             // fold, glue, write-on or perforation
	Page   int    `yaml:"page,omitempty"`   // from 1; left out = every page
	Left   Length `yaml:"left"`             // from the trim's left edge
	Top    Length `yaml:"top"`              // from the trim's top edge
	Width  Length `yaml:"width,omitempty"`  // left out: a line
	Height Length `yaml:"height,omitempty"` // left out: a line
}

// Words for zones.
const (
	ZoneFold        = "fold"
	ZoneGlue        = "glue"
	ZoneWriteOn     = "write-on"
	ZonePerforation = "perforation"
)

// Words for how print on film is looked at.
const (
	SeenFace    = "face"
	SeenThrough = "through"
)

// Words for what a piece is for.
const (
	UseFood   = "food"
	UseToy    = "toy"
	UseWindow = "window"
	UseGummed = "gummed"
)

// Words for edges of a page.
const (
	EdgeLeft   = "left"
	EdgeRight  = "right"
	EdgeTop    = "top"
	EdgeBottom = "bottom"
)

// Size is width x height.
type Size struct {
	Width  Length `yaml:"width"`
	Height Length `yaml:"height"`
}

// Wishes say what the designer wants of underlays and clears.
type Wishes struct {
	Underlay []UnderlayWish `yaml:"underlay,omitempty"`
	Clear    []ClearWish    `yaml:"clear,omitempty"`
}

// UnderlayWish: toner lies under the named toners ("process" = all process toners), choked.
type UnderlayWish struct {
	Toner string   `yaml:"toner"`
	Under []string `yaml:"under"`
	Choke Length   `yaml:"choke,omitempty"`
}

// UnderProcess in UnderlayWish.Under stands for all process toners.
const UnderProcess = "process"

// ClearWish: toner lies over everything on the named layers, or painted in the named colourants.
type ClearWish struct {
	Toner string   `yaml:"toner"`
	Over  []string `yaml:"over"`
}

// LayerWish chooses layers to print by name.
type LayerWish struct {
	Print []string `yaml:"print,omitempty"`
	Skip  []string `yaml:"skip,omitempty"`
}
