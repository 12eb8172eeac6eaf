package pdf

import (
	"fmt"
	"io"
)

// Builder makes a new PDF file. The same calls make the same bytes. It is not safe for concurrent use.
type Builder struct {
	Version string // of the header; "1.7" from NewBuilder
	Trailer Dict   // Root has to be set; Info may be; Size and ID are made

	objects  []Object // object n at n-1
	set      []bool
	imported importer
}

// NewBuilder starts an empty file.
func NewBuilder() *Builder { return &Builder{Version: "1.7", Trailer: Dict{}} }

// Reserve gives a reference to be Set later.
func (b *Builder) Reserve() Ref {
	b.objects = append(b.objects, nil)
	b.set = append(b.set, false)
	return Ref{Num: len(b.objects)}
}

// Set stores the object of a reserved reference, or replaces one.
func (b *Builder) Set(r Ref, o Object) {
	b.objects[r.Num-1], b.set[r.Num-1] = o, true
}

// Add stores an object.
func (b *Builder) Add(o Object) Ref {
	r := b.Reserve()
	b.Set(r, o)
	return r
}

// AddStream stores a stream; see NewStream.
func (b *Builder) AddStream(dict Dict, data []byte, compress bool) Ref {
	return b.Add(NewStream(dict, data, compress))
}

// Import copies o and all it refers to from document d and returns it with the references of the
// new file. Each object of d is copied once; stream data stays as stored, decrypted, and is read from d
// while writing, so d's file must stay open until then. The /Parent of a page is left out: it would draw in
// all other pages.
func (b *Builder) Import(d *Document, o Object) Object {
	return b.imported.take(d, o, b.Reserve, b.Set)
}

// WriteTo writes the file with one classic cross-reference table.
func (b *Builder) WriteTo(w io.Writer) (int64, error) {
	if _, ok := b.Trailer["Root"].(Ref); !ok {
		return 0, fmt.Errorf("the new file has no catalogue: Trailer[Root] must be a reference")
	}
	for i, ok := range b.set {
		if !ok {
			return 0, fmt.Errorf("object %d of the new file was reserved and never set", i+1)
		}
	}
	o := newOutput(w)
	h := newHash()
	o.hash = h
	o.write([]byte("%PDF-" + b.Version + "\n%\xE2\xE3\xCF\xD3\n"))
	for i, v := range b.objects {
		o.object(i+1, 0, v)
	}
	t := copyDict(b.Trailer)
	t["Size"] = Integer(len(b.objects) + 1)
	if t["ID"] == nil {
		t["ID"] = identifier(nil, h.Sum(nil))
	}
	o.table([]int{0}, t)
	return o.n, o.err
}
