package pdf

import "io"

// OpenWindowed opens a small file as large ones are: read in windows, not held whole.
func OpenWindowed(r io.ReaderAt, size int64, opt Options) (*Document, error) {
	opt.windowed = true
	return Open(r, size, opt)
}

// Numbers lists the objects of the document.
func (d *Document) Numbers() []int { return d.numbers() }

// ParseOne reads one object from b.
func ParseOne(b []byte) (Object, bool) {
	p := &parser{lex: *NewLexer(b)}
	o, ok := p.parseObject(0)
	return o, ok && !p.damaged && !p.over
}

// Forget empties what the document keeps.
func (d *Document) Forget() {
	d.objects.clear()
	d.objStms.clear()
}
