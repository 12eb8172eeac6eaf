package pdf

import (
	"fmt"
	"io"
)

// Writer makes a new PDF file and writes every object as soon as it is set, so that a file of any length takes no more
// memory than a few bytes an object. The same calls make the same bytes. It is not safe for concurrent use.
type Writer struct {
	Trailer Dict // Root has to be set before Close; Info may be; Size and ID are made

	out      *output
	top      int // the highest number given
	imported importer
	err      error
}

// NewWriter starts a file of a version such as "1.7". Errors of w are told by Close.
func NewWriter(w io.Writer, version string) *Writer {
	o := newOutput(w)
	o.hash = newHash()
	o.write([]byte("%PDF-" + version + "\n%\xE2\xE3\xCF\xD3\n"))
	return &Writer{Trailer: Dict{}, out: o}
}

// Reserve gives a reference to be Set later.
func (w *Writer) Reserve() Ref {
	w.top++
	return Ref{Num: w.top}
}

// Set writes the object of a reserved reference. It can be done once.
func (w *Writer) Set(r Ref, o Object) {
	if _, done := w.out.offs[r.Num]; (done || r.Num < 1 || r.Num > w.top) && w.err == nil {
		w.err = fmt.Errorf("object %d of the new file was written already or never reserved", r.Num)
	}
	if w.err == nil {
		w.out.object(r.Num, 0, o)
	}
}

// Add writes an object.
func (w *Writer) Add(o Object) Ref {
	r := w.Reserve()
	w.Set(r, o)
	return r
}

// AddStream writes a stream; see NewStream.
func (w *Writer) AddStream(dict Dict, data []byte, compress bool) Ref {
	return w.Add(NewStream(dict, data, compress))
}

// Import copies o and all it refers to from document d, as Builder.Import does; what it refers to is written at once.
func (w *Writer) Import(d *Document, o Object) Object {
	return w.imported.take(d, o, w.Reserve, w.Set)
}

// Err is the first error met, of writing or of use.
func (w *Writer) Err() error {
	if w.err != nil {
		return w.err
	}
	return w.out.err
}

// Close writes the cross-reference table and the trailer. It closes no file.
func (w *Writer) Close() error {
	if err := w.Err(); err != nil {
		return err
	}
	if _, ok := w.Trailer["Root"].(Ref); !ok {
		return fmt.Errorf("the new file has no catalogue: Trailer[Root] must be a reference")
	}
	for n := 1; n <= w.top; n++ {
		if _, ok := w.out.offs[n]; !ok {
			return fmt.Errorf("object %d of the new file was reserved and never set", n)
		}
	}
	h := w.out.hash.(interface{ Sum([]byte) []byte })
	t := copyDict(w.Trailer)
	t["Size"] = Integer(w.top + 1)
	if t["ID"] == nil {
		t["ID"] = identifier(nil, h.Sum(nil))
	}
	w.out.table([]int{0}, t)
	return w.out.err
}
