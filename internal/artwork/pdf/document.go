// Package pdf reads PDF files (ISO 32000-2 clause 7) object by object and writes them back
// unchanged but for what a mend changes. It knows files, not pages' meaning.
//
// A Document is safe for many goroutines. Reading never fails half way: damage becomes findings of
// class Malformed in the document's sink, and the best reading goes on.
//
// How a file is read: the chain of cross-reference sections is followed from the end (xref.go) into
// a map from object number to place; objects are parsed when first asked for and kept (load.go). When
// the chain, the catalogue or the page tree cannot be read the whole file is scanned for objects
// (repair.go) and the map is made from what was found; when single objects are not where the map says,
// the same scan helps out for these. Stream data is found and decoded when asked for (stream.go).
//
// Encrypted files (crypt.go) are decrypted as they are read: callers see plain strings and data only. An
// Update writes what it adds encrypted like the rest, with the same passwords, be it appended or
// written as a whole, so that a mend never takes off a protection its owner chose. A Builder makes a new
// file of its own, and what it imports from an encrypted one is written plain.
package pdf

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Errors a caller can tell apart. They are wrapped with place and remedy.
var (
	ErrNotPDF   = errors.New("not a PDF file")
	ErrPassword = errors.New("the file asks for a password")
	// ErrEncryption: the file is encrypted in a way no password helps against.
	ErrEncryption = errors.New("the file is encrypted in a way that cannot be read")
	ErrNoPages    = errors.New("the file has no pages")
)

// Document is an open PDF file.
type Document struct {
	src  *source
	sink finding.Sink
	base int64 // offset of %PDF when offsets count from there

	// Set by Open and not changed afterwards.
	entries   map[int]entry
	trailer   Dict
	catalog   Dict
	version   string
	sections  []section // newest first, empty when repaired
	repaired  bool
	treeLost  bool // pages were collected without a page tree
	chainCut  bool // part of the /Prev chain could not be read: objects missing here may be in the file
	topNumber int  // largest object number seen
	pages     []*pageSlot

	objects    cache        // of Object by number
	objStms    cache        // of *objStm by number
	charged    sync.Map     // int64 -> *atomic.Int64: bytes taken from the budgets for the stream at that place of the file
	budget     atomic.Int64 // bytes that may still be decoded, and
	dataBudget atomic.Int64 // those of them for what is no image
	effort     atomic.Int64 // bytes of the file that may still be parsed

	security *security // how the file is encrypted, nil when it is not

	plainOnce, scanOnce sync.Once
	plain, scanned      *scan
}

// Options configure Open. The zero value is usable.
type Options struct {
	Sink finding.Sink // nil = finding.Discard
	// Password opens an encrypted file, the user's or the owner's; the empty one is always tried first.
	Password string

	windowed bool // tests read small files as large ones
}

// Open reads the structure of a PDF: cross-reference tables and streams, hybrid files, /Prev
// chains; when that fails it scans the file for objects. It returns ErrNotPDF, ErrPassword,
// ErrEncryption, ErrNoPages, or an I/O error; anything else wrong is a finding.
func Open(r io.ReaderAt, size int64, opt Options) (*Document, error) {
	if size > limits.MaxFileBytes {
		return nil, fmt.Errorf("the file is larger than %d GB; split it into parts", limits.MaxFileBytes>>30)
	}
	small := int64(limits.MaxSmallFile)
	if opt.windowed {
		small = -1
	}
	src, err := newSource(r, size, small)
	if err != nil {
		return nil, fmt.Errorf("reading the file: %w", err)
	}
	d := &Document{src: src, sink: opt.Sink, entries: map[int]entry{}}
	if d.sink == nil {
		d.sink = finding.Discard
	}
	d.budget.Store(decodeBudget(src.size, limits.DecodeCeiling))
	d.dataBudget.Store(decodeBudget(src.size, limits.DataCeiling))
	d.objects.init(limits.ObjectCacheBytes)
	d.objStms.init(limits.ObjectStreamCacheBytes)
	d.effort.Store(limits.ParseFloor + limits.ParseFactor*src.size)
	header := d.readHeader()
	if err := d.readChain(); err == nil {
		if err := d.unlock(d.trailer, opt.Password); err != nil {
			return nil, err
		}
		if d.findCatalog() && d.walkPages() {
			d.reportSecurity()
			return d, nil
		}
	}
	if err := d.repair(header, opt.Password); err != nil {
		return nil, err
	}
	d.reportSecurity()
	return d, nil
}

// decodeBudget is how many bytes a file of this size may expand to in all; small files to no more than ceiling.
func decodeBudget(size, ceiling int64) int64 {
	b := min(limits.DecodeFloor+limits.DecodeFactor*size, ceiling)
	return max(b, limits.DecodeLargeFactor*size)
}

// readHeader finds %PDF-n.n in the first kilobyte and notes what offsets count from.
func (d *Document) readHeader() bool {
	b := d.src.bytes(0, 1024+16)
	i := bytes.Index(b, []byte("%PDF-"))
	if i < 0 {
		return false
	}
	d.base = int64(i)
	v := b[i+5:]
	for len(v) > 0 && len(d.version) < 8 && (v[0] == '.' || v[0]-'0' <= 9) {
		d.version += string(v[0])
		v = v[1:]
	}
	return true
}

// findCatalog resolves the trailer's /Root.
func (d *Document) findCatalog() bool {
	c, ok := d.Dict(d.trailer["Root"])
	if !ok {
		return false
	}
	d.catalog = c
	return true
}

// Trailer is the newest trailer dictionary.
func (d *Document) Trailer() Dict { return d.trailer }

// Catalog is the document catalogue (never nil).
func (d *Document) Catalog() Dict { return d.catalog }

// Sink is where the document reports.
func (d *Document) Sink() finding.Sink { return d.sink }

// Size is the length of the file in bytes.
func (d *Document) Size() int64 { return d.src.size }

// Repaired reports whether the file's own structure could not be used and its objects were found by
// scanning. Such a file is written anew as a whole by a mend, not updated.
func (d *Document) Repaired() bool { return d.repaired || d.chainCut }

// Sections are the places of the cross-reference sections, newest first; none in a file that had to be repaired.
func (d *Document) Sections() []int64 {
	var out []int64
	for _, s := range d.sections {
		out = append(out, s.off+d.base)
	}
	return out
}

// Version is the PDF version: the later of the header's and the catalogue's, "" when neither is there.
func (d *Document) Version() string {
	v := d.version
	if n, ok := d.Name(d.catalog["Version"]); ok && versionLess(v, string(n)) {
		v = string(n)
	}
	return v
}

func versionLess(a, b string) bool {
	return len(b) == 3 && b[1] == '.' && b[0]-'0' <= 9 && b[2]-'0' <= 9 && a < b
}

func (d *Document) malformed(id finding.ID, sev finding.Severity, object int, what, remedy string) {
	d.sink.Add(finding.Finding{ID: id, Severity: sev, Class: finding.Malformed, What: what,
		Why:    "Other programs may read the file differently, and what prints may differ from what you see.",
		Remedy: remedy, Place: finding.Place{Object: object}})
}

const remedySaveAgain = "Export the PDF again from the design program."
