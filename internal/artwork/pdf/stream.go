package pdf

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Errors of Data and ImageData.
var (
	ErrDamaged           = errors.New("the stream data is damaged")
	ErrUnsupportedFilter = errors.New("the stream uses a filter that is not supported")
	ErrBudget            = errors.New("the file expands beyond what one document may")
)

// rawData says where a stream's bytes are: in mem, or in the file from off on.
type rawData struct {
	doc     *Document // whose file it is; nil for mem
	mem     []byte
	off     int64
	ref     Ref  // the object whose stream it is, and
	dict    Dict // its dictionary: a Stream made from it may have another
	once    sync.Once
	size    int64 // size and cipher are found when first asked for
	cipher  cipherMethod
	charged atomic.Int64 // of data in mem; see Document.charged
}

// Filter is one entry of a stream's filter chain with its resolved parameters.
type Filter struct {
	Name  Name // long name, e.g. DCTDecode
	Parms Dict
}

// NewInlineStream makes a stream out of an inline image: dict with abbreviations expanded
// (Table 91), raw data as in the content stream.
func (d *Document) NewInlineStream(dict Dict, raw []byte) *Stream {
	return &Stream{Dict: expandInline(dict), raw: &rawData{mem: raw}}
}

// RawData returns the stream's bytes as stored (decrypted, filters not applied). They must not be changed.
func (d *Document) RawData(s *Stream) ([]byte, error) {
	return s.owner(d).rawBytes(s, s.owner(d).Resolve)
}

func (d *Document) rawBytes(s *Stream, resolve func(Object) Object) ([]byte, error) {
	r := s.raw
	b, err := d.fileBytes(r, resolve)
	if err != nil || r == nil || r.cipher == cipherNone {
		return b, err
	}
	b, err = d.security.decrypt(r.cipher, r.ref.Num, r.ref.Gen, b)
	if err != nil {
		err = fmt.Errorf("object %d: %w", r.ref.Num, err)
	}
	return b, err
}

// fileBytes gives the bytes of a stream as they lie in the file.
func (d *Document) fileBytes(r *rawData, resolve func(Object) Object) ([]byte, error) {
	if r == nil {
		return nil, nil
	}
	if r.doc == nil {
		return r.mem, nil
	}
	d.locate(r, resolve)
	if r.size > limits.MaxStreamBytes {
		return nil, fmt.Errorf("%w: object %d holds %d bytes", ErrBudget, r.ref.Num, r.size)
	}
	b := d.src.bytes(r.off, r.size)
	if int64(len(b)) < r.size {
		return b, fmt.Errorf("%w: object %d: the file could not be read", ErrDamaged, r.ref.Num)
	}
	return b, nil
}

// locate finds how long a stream of the file is and how it is encrypted.
func (d *Document) locate(r *rawData, resolve func(Object) Object) {
	r.once.Do(func() {
		r.size = d.extent(r, resolve)
		if d.security != nil {
			r.cipher = d.security.streamMethod(r.dict, resolve)
		}
	})
}

// input is what a filter reads: data, or a reader of about size bytes where all of it should not lie in memory.
type input struct {
	data   []byte
	reader *bufio.Reader // of streamReaders
	again  func() io.Reader
	size   int64
}

var streamReaders = sync.Pool{New: func() any { return bufio.NewReaderSize(nil, sourceBlock) }}

// firstInput gives the bytes of s as stored for the first filter of chain.
func (d *Document) firstInput(s *Stream, chain []Filter, resolve func(Object) Object) (input, error) {
	if r := s.raw; r != nil && r.doc != nil && len(chain) > 0 && chain[0].Name == "FlateDecode" {
		d.locate(r, resolve)
		if r.size > sourceBlock { // inflated while it is read
			b := streamReaders.Get().(*bufio.Reader)
			b.Reset(d.rawReader(r))
			if head, _ := b.Peek(2); zlibHeader(head) {
				return input{reader: b, again: func() io.Reader { return d.rawReader(r) }, size: r.size}, nil
			}
			streamReaders.Put(b)
		}
	}
	data, err := d.rawBytes(s, resolve)
	return input{data: data, size: int64(len(data))}, err
}

// RawReader reads the stream's bytes as stored (decrypted, filters not applied) without holding them all in
// memory, and tells how many there are; -1 when decrypting has to show it.
func (d *Document) RawReader(s *Stream) (io.Reader, int64) {
	r, o := s.raw, s.owner(d)
	switch {
	case r == nil:
		return bytes.NewReader(nil), 0
	case r.doc == nil:
		return bytes.NewReader(r.mem), int64(len(r.mem))
	}
	o.locate(r, o.Resolve)
	if r.cipher == cipherAES128 || r.cipher == cipherAES256 {
		return o.rawReader(r), -1
	}
	return o.rawReader(r), r.size
}

// rawReader reads a stream of the file, decrypted.
func (d *Document) rawReader(r *rawData) io.Reader {
	in := d.src.reader(r.off, r.size)
	if r.cipher == cipherNone {
		return in
	}
	return d.security.decrypter(r.cipher, r.ref.Num, r.ref.Gen, in)
}

// extent finds how long a stream is: by /Length when endstream follows there, else by searching.
func (d *Document) extent(r *rawData, resolve func(Object) Object) int64 {
	off := r.off
	if n, ok := intFrom(resolve(r.dict["Length"])); ok && n >= 0 && int64(n) <= d.src.size-off {
		b := d.src.bytes(off+int64(n), 32)
		i := 0
		for i < len(b) && IsSpace(b[i]) {
			i++
		}
		if bytes.HasPrefix(b[i:], []byte("endstream")) || bytes.HasPrefix(b[i:], []byte("endobj")) {
			return int64(n)
		}
	}
	d.malformed("stream-length-wrong", finding.Note, r.ref.Num, "The length of a stream is not what the file says; its end was searched for.", remedySaveAgain)
	end := d.search(off, []byte("endstream"), d.src.size)
	limit := end
	if end < 0 {
		end, limit = d.src.size, d.src.size
	}
	// Where endstream is missing the object ends at endobj with the next object, or the list of objects, behind it.
	for at := off; ; {
		at = d.search(at, []byte("endobj"), limit)
		if at < 0 {
			break
		}
		if d.startsStructure(at + int64(len("endobj"))) {
			end = at
			break
		}
		at += int64(len("endobj"))
	}
	if end == d.src.size {
		return end - off
	}
	// The end of line before endstream is not part of the data (7.3.8.1).
	n := end - off
	tail := d.src.bytes(max(off, end-2), end-max(off, end-2))
	switch {
	case bytes.HasSuffix(tail, []byte("\r\n")):
		n -= 2
	case bytes.HasSuffix(tail, []byte("\n")), bytes.HasSuffix(tail, []byte("\r")):
		n--
	}
	return n
}

// startsStructure reports whether an object header or the list of objects stands at off.
func (d *Document) startsStructure(off int64) bool {
	if d.looksLikeObject(off) {
		return true
	}
	l := NewLexer(d.src.bytes(off, 64))
	t := l.Next()
	if t.Kind != TokenKeyword {
		return t.Kind == TokenEOF
	}
	return string(t.Bytes) == "xref" || string(t.Bytes) == "trailer" || string(t.Bytes) == "startxref"
}

// search gives the offset of the first word between off and end, -1 when there is none.
func (d *Document) search(off int64, word []byte, end int64) int64 {
	const chunk = 1 << 20
	for off < end {
		b := d.src.bytes(off, min(chunk, end-off))
		if !d.spend(int64(len(b) / 16)) { // searching is that much faster than parsing
			return -1
		}
		if i := bytes.Index(b, word); i >= 0 {
			return off + int64(i)
		}
		if len(b) < chunk {
			return -1
		}
		off += int64(len(b) - len(word) + 1)
	}
	return -1
}
