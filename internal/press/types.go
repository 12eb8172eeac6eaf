// Package press holds the definitions a person writes: presses with their sets of toners, stocks
// and jobs, read from YAML with units in the values.
package press

import (
	"laydown/internal/colourant"
)

// Length is in millimetres; written "0.25pt", "3mm", "1in" or "2cm".
type Length float64

// GSM is a mass per area in g/m2, written "300gsm".
type GSM float64

// Percent is 0..100 and beyond for piles, written "70%".
type Percent float64

// DPI is a resolution, written "600dpi".
type DPI float64

// Lab is CIE L*a*b*, D50, 2 degrees.
type Lab [3]float64

// Press is a printing press with the toners it can carry.
type Press struct {
	Name       string   `yaml:"name"`
	Title      string   `yaml:"title"`
	Notes      string   `yaml:"notes,omitempty"`
	Sheet      Sheet    `yaml:"sheet"`
	Resolution DPI      `yaml:"resolution"`
	Toners     []Toner  `yaml:"toners"`
	Mixes      []Mix    `yaml:"mixes,omitempty"`
	Sets       []Set    `yaml:"sets"`
	Register   Register `yaml:"register"`
	Pile       Pile     `yaml:"pile"`
	Price      Price    `yaml:"price,omitempty"`
	Profile    string   `yaml:"profile,omitempty"` // CMYK output profile file, relative to the definition
	Cautions   []string `yaml:"cautions,omitempty"`
}

// Sheet is the largest sheet and the margins nothing can be printed in.
type Sheet struct {
	Width   Length  `yaml:"width"`
	Height  Length  `yaml:"height"`
	Margins Margins `yaml:"margins"`
}

// Margins of the sheet.
type Margins struct {
	Lead  Length `yaml:"lead"`
	Trail Length `yaml:"trail"`
	Side  Length `yaml:"side"`
}

// Set is what can be in the press at one time: its stations in laydown order, first laid first.
type Set struct {
	Name     string   `yaml:"name"`
	Stations []string `yaml:"stations"` // toner names
}

// Register is how far plates may be off each other.
type Register struct {
	Within  Length `yaml:"within"`  // one pass
	Between Length `yaml:"between"` // two passes
}

// Pile limits the sum of tints in one place, averaged over Area (mm2).
type Pile struct {
	PerPass Percent `yaml:"per_pass"`
	Sum     Percent `yaml:"sum"`
	Area    float64 `yaml:"area_mm2"`
}

// Price is what a press costs to run, in the currency given.
type Price struct {
	Currency  string  `yaml:"currency"`
	Click     float64 `yaml:"click"`
	SetChange float64 `yaml:"set_change"`
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
	Mass          GSM            `yaml:"mass"`
	PricePerKg    float64        `yaml:"price_per_kg,omitempty"`
	MustOverprint bool           `yaml:"must_overprint,omitempty"`
	Cautions      []string       `yaml:"cautions,omitempty"`
}

// TintRange is which tints the toner holds. MayTint false = solids only.
type TintRange struct {
	MayTint *bool   `yaml:"may_tint,omitempty"` // nil = true
	Least   Percent `yaml:"least,omitempty"`
	Most    Percent `yaml:"most,omitempty"`
	Advised Percent `yaml:"advised,omitempty"`
}

// Finest is the smallest detail a toner holds.
type Finest struct {
	Line     Length `yaml:"line,omitempty"`
	Reversed Length `yaml:"reversed,omitempty"`
	Type     Length `yaml:"type,omitempty"` // type size
}

// Appearance is the look of a solid; what is left out comes from the kind (APPEARANCE section 7).
type Appearance struct {
	OnWhite *Lab    `yaml:"on_white,omitempty"`
	OnBlack *Lab    `yaml:"on_black,omitempty"`
	Opacity Percent `yaml:"opacity,omitempty"` // contrast ratio
	Gloss   string  `yaml:"gloss,omitempty"`   // matte, satin, gloss
}

// Mix is a named blend of toners usable as a colourant in artwork.
type Mix struct {
	Name    string     `yaml:"name"`
	Parts   []MixPart  `yaml:"parts"`
	StandIn [4]Percent `yaml:"stand_in"`
}

// MixPart is one toner of a mix at its full tint.
type MixPart struct {
	Toner string  `yaml:"toner"`
	Tint  Percent `yaml:"tint"`
}

// Stock is what is printed on.
type Stock struct {
	Name      string       `yaml:"name"`
	Title     string       `yaml:"title"`
	Surface   string       `yaml:"surface"` // coated, uncoated, film, metallised
	Front     Lab          `yaml:"front"`
	Back      *Lab         `yaml:"back,omitempty"`
	Weight    GSM          `yaml:"weight"`
	Thickness Length       `yaml:"thickness,omitempty"`
	Opacity   Percent      `yaml:"opacity,omitempty"`
	Sheets    []StockSheet `yaml:"sheets,omitempty"`
	Hits      int          `yaml:"hits,omitempty"` // allowed passes; 0 = not limited
	Cautions  []string     `yaml:"cautions,omitempty"`
}

// StockSheet is a sheet size the stock comes in.
type StockSheet struct {
	Width  Length `yaml:"width"`
	Height Length `yaml:"height"`
}

// Job is one piece of work.
type Job struct {
	Artwork  string     `yaml:"artwork"` // PDF, relative to the job file
	Press    string     `yaml:"press"`   // a shipped name or a file
	Stock    string     `yaml:"stock"`
	Finished *Size      `yaml:"finished,omitempty"` // trimmed size
	Bleed    Length     `yaml:"bleed,omitempty"`
	Quantity int        `yaml:"quantity,omitempty"`
	Sides    int        `yaml:"sides,omitempty"` // 1 or 2
	Wishes   Wishes     `yaml:"wishes,omitempty"`
	Layers   *LayerWish `yaml:"layers,omitempty"`
}

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
