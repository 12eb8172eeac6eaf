// Package ticket writes job tickets: XJDF 2.2 (CIP4), one for each time the stack goes through the press, and the measured
// colour of toners as CxF3 (ISO 17972-1). It takes plain values and knows neither PDF nor press.
//
// What the schema of XJDF does not catch (a set named otherwise than what it holds, references that lead nowhere, colourants
// nobody defines) Check catches.
package ticket

import "time"

// Ticket is one time of the stack through the press.
type Ticket struct {
	Job     string // what the job is called, any text
	Pass    int    // from 1
	Passes  int
	Set     string    // what must be in the press
	Time    time.Time // stands in the ticket as its birth
	Version string    // of the program
	Product Product
	Stock   Stock
	Sheet   [2]float64 // width across the feed and height along it, mm; 0 = not known
	Grain   string     // of the sheet: "width", "height" or "" = not known
	Colours []Colour   // all of the job
	Aliases []Alias
	Sides   []Side // those printed this time, the front first
	Content File   // the PDF to print
	Pages   [2]int // of the content that are printed, from 1, last included
	Imposed bool   // the content is sheets, not pages
	Surface []Surface
	Good    int // sheets wanted; 0 = not known
	Waste   int // sheets thrown away on the way
	Looks   []File
	Remarks []string // for people
}

// Product is the finished piece.
type Product struct {
	Type     string     // one word; "" = not said
	Amount   int        // 0 = not given
	Finished [2]float64 // mm; 0 = not known
	Bleed    float64    // mm
	Pages    int
	Front    []string // colourants on the front of the finished piece, by their names in the artwork
	Back     []string
	Foot     bool // turned over by the top edge
}

// Stock is what is printed on.
type Stock struct {
	Title     string
	Name      string
	Surface   string // coated, uncoated, film or metallised
	Gloss     string // matte, satin, gloss or ""
	Weight    float64
	Thickness float64    // mm; 0 = not known
	Opacity   float64    // percent; 0 = not known, taken as opaque
	Front     [3]float64 // CIELAB, D50, 2 degrees
	Back      [3]float64
}

// Words of a colour's kind.
const (
	KindProcess     = "process"
	KindWhite       = "opaque white"
	KindMetallic    = "metallic"
	KindClear       = "clear"
	KindFluorescent = "fluorescent"
	KindSpot        = "spot"
)

// Colour is one colourant.
type Colour struct {
	Name  string // as in the artwork, byte for byte
	Kind  string
	Lab   *[3]float64 // of the solid on the stock; nil = not known
	CMYK  *[4]float64 // stand-in, percent
	Under bool        // laid as an underlay
	CxF   *File       // its measured colour
}

// Alias is another name a colourant has in some artwork.
type Alias struct{ Name, Colour string }

// Side is one side of the sheet this time.
type Side struct {
	Back  bool
	Order []string // colourants, the one laid first first
}

// File is one that lies beside the ticket.
type File struct {
	URL    string // relative to the ticket
	Type   string // MIME
	Size   int64
	MD5    []byte
	SHA256 []byte
	Name   string // for people; "" = none
}

// Surface is how pages lie on one side of one sheet. Lengths are points, the origin at the lower left corner of the side.
type Surface struct {
	Sheet  int // from 1
	Back   bool
	Style  string     // WorkStyle of XJDF
	Size   [2]float64 // of the sheet
	Run    int        // sheets printed of it; 0 = not known
	Placed []Placed
}

// Placed is a page on a surface.
type Placed struct {
	Page    int // of the artwork, from 1
	CTM     [6]float64
	TrimCTM [6]float64
	Trim    [2]float64
	Clip    [4]float64
}
