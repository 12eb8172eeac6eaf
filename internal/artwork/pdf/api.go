// Package pdf reads PDF files (ISO 32000-2 clause 7) object by object and writes them back
// unchanged but for what a mend changes. It knows files, not pages' meaning.
//
// A Document is safe for many goroutines. Reading never fails half way: damage becomes findings of
// class Malformed in the document's sink, and the best reading goes on.
package pdf

import (
	"errors"
	"io"

	"laydown/internal/finding"
)

// Errors a caller can tell apart. They are wrapped with place and remedy.
var (
	ErrNotPDF   = errors.New("not a PDF file")
	ErrPassword = errors.New("the file asks for a password")
	ErrNoPages  = errors.New("the file has no pages")
)

type rawData struct{}

// Document is an open PDF file.
type Document struct{}

// Options configure Open. The zero value is usable.
type Options struct {
	Sink finding.Sink // nil = finding.Discard
}

// Open reads the structure of a PDF: cross-reference tables and streams, hybrid files, /Prev
// chains; when that fails it scans the file for objects. It returns ErrNotPDF, ErrPassword, or an
// I/O error; anything else wrong is a finding.
func Open(r io.ReaderAt, size int64, opt Options) (*Document, error) { panic("unwritten") }

// Trailer is the newest trailer dictionary.
func (d *Document) Trailer() Dict { panic("unwritten") }

// Catalog is the document catalogue (never nil).
func (d *Document) Catalog() Dict { panic("unwritten") }

// Resolve follows references until a direct object, with a guard against cycles and depth;
// a missing or unreadable object is nil. Every reference of the program is followed here.
func (d *Document) Resolve(o Object) Object { panic("unwritten") }

// The typed look-ups resolve o and report whether it had the type. Num accepts Integer and Real.
// Dict also accepts a stream and gives its dictionary.

// Dict resolves to a dictionary.
func (d *Document) Dict(o Object) (Dict, bool) { panic("unwritten") }

// Array resolves to an array.
func (d *Document) Array(o Object) (Array, bool) { panic("unwritten") }

// Stream resolves to a stream.
func (d *Document) Stream(o Object) (*Stream, bool) { panic("unwritten") }

// Name resolves to a name.
func (d *Document) Name(o Object) (Name, bool) { panic("unwritten") }

// Int resolves to a whole number (a Real with no fraction is accepted).
func (d *Document) Int(o Object) (int, bool) { panic("unwritten") }

// Num resolves to a finite number.
func (d *Document) Num(o Object) (float64, bool) { panic("unwritten") }

// Bool resolves to a boolean.
func (d *Document) Bool(o Object) (bool, bool) { panic("unwritten") }

// Nums resolves to an array of finite numbers; ok is false if any entry is not one.
func (d *Document) Nums(o Object) (v []float64, ok bool) { panic("unwritten") }

// Data returns the stream's bytes after all its filters. Filters of images (DCT, JPX, JBIG2, CCITT)
// are an error here: use ImageData. On damage it returns what could be decoded with a non-nil error
// that wraps ErrDamaged, ErrUnsupportedFilter or ErrBudget.
func (d *Document) Data(s *Stream) ([]byte, error) { panic("unwritten") }

// Errors of Data and ImageData.
var (
	ErrDamaged           = errors.New("the stream data is damaged")
	ErrUnsupportedFilter = errors.New("the stream uses a filter that is not supported")
	ErrBudget            = errors.New("the file expands beyond what one document may")
)

// Filter is one entry of a stream's filter chain with its resolved parameters.
type Filter struct {
	Name  Name // long name, e.g. DCTDecode
	Parms Dict
}

// ImageData decodes up to the first image filter (DCTDecode, JPXDecode, JBIG2Decode, CCITTFaxDecode)
// and returns the bytes from there with the filters left to do (nil when none).
func (d *Document) ImageData(s *Stream) (data []byte, rest []Filter, err error) { panic("unwritten") }

// RawData returns the stream's bytes as stored (decrypted, filters not applied).
func (d *Document) RawData(s *Stream) ([]byte, error) { panic("unwritten") }

// NewInlineStream makes a stream out of an inline image: dict with abbreviations expanded
// (Table 91), raw data as in the content stream.
func (d *Document) NewInlineStream(dict Dict, raw []byte) *Stream { panic("unwritten") }

// Page is one page with inherited attributes resolved.
type Page struct {
	Number                    int // from 1
	Ref                       Ref
	Dict                      Dict        // the page's own dictionary
	Resources                 Dict        // inherited; never nil
	MediaBox                  [4]float64  // user space, normalised; a missing or broken one is 612 x 792 with a finding
	CropBox                   [4]float64  // clipped to MediaBox
	TrimBox, BleedBox, ArtBox *[4]float64 // nil when the page itself has none (not inheritable, Table 31)
	Rotate                    int         // 0, 90, 180, 270
	UserUnit                  float64     // > 0
}

// NumPages is the number of page leaves found by walking the tree (guarded against cycles).
func (d *Document) NumPages() int { panic("unwritten") }

// Page returns page n, from 1.
func (d *Document) Page(n int) (*Page, error) { panic("unwritten") }

// Sink is where the document reports.
func (d *Document) Sink() finding.Sink { panic("unwritten") }
