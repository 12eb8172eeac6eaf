package pdf

import (
	"bytes"
	"errors"
	"fmt"
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
	charged atomic.Int64 // decoded bytes already taken from the document's budget
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
	r.once.Do(func() {
		r.size = d.extent(r, resolve)
		if d.security != nil {
			r.cipher = d.security.streamMethod(r.dict, resolve)
		}
	})
	if r.size > limits.MaxStreamBytes {
		return nil, fmt.Errorf("%w: object %d holds %d bytes", ErrBudget, r.ref.Num, r.size)
	}
	b := d.src.bytes(r.off, r.size)
	if int64(len(b)) < r.size {
		return b, fmt.Errorf("%w: object %d: the file could not be read", ErrDamaged, r.ref.Num)
	}
	return b, nil
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

// Data returns the stream's bytes after all its filters. Filters of images (DCT, JPX, JBIG2, CCITT)
// are an error here: use ImageData. On damage it returns what could be decoded with a non-nil error
// that wraps ErrDamaged, ErrUnsupportedFilter or ErrBudget. The bytes must not be changed.
func (d *Document) Data(s *Stream) ([]byte, error) {
	return s.owner(d).decodeAll(s, s.owner(d).Resolve)
}

// owner is the document a stream was read from, d for one that was made.
func (s *Stream) owner(d *Document) *Document {
	if s.raw != nil && s.raw.doc != nil {
		return s.raw.doc
	}
	return d
}

func (d *Document) decodeAll(s *Stream, resolve func(Object) Object) ([]byte, error) {
	data, rest, err := d.decode(s, resolve)
	if len(rest) > 0 {
		return nil, errors.Join(err, fmt.Errorf("%w: %s holds an image", ErrUnsupportedFilter, rest[0].Name))
	}
	return data, err
}

// ImageData decodes up to the first image filter (DCTDecode, JPXDecode, JBIG2Decode, CCITTFaxDecode)
// and returns the bytes from there with the filters left to do (nil when none). The bytes must not be changed.
func (d *Document) ImageData(s *Stream) (data []byte, rest []Filter, err error) {
	return s.owner(d).decode(s, s.owner(d).Resolve)
}

// Filters is the stream's filter chain with long names and resolved parameters.
func (d *Document) Filters(s *Stream) ([]Filter, error) {
	return filterChain(s.Dict, s.owner(d).Resolve)
}

func filterChain(dict Dict, resolve func(Object) Object) ([]Filter, error) {
	var names Array
	switch v := resolve(dict["Filter"]).(type) {
	case Name:
		names = Array{v}
	case Array:
		names = v
	}
	if len(names) > limits.MaxFilters {
		return nil, fmt.Errorf("%w: %d filters on one stream", ErrUnsupportedFilter, len(names))
	}
	o := resolve(dict["DecodeParms"])
	if o == nil {
		o = resolve(dict["DP"]) // an abbreviation some writers use outside inline images
	}
	var parms Array
	switch v := o.(type) {
	case Dict:
		parms = Array{v}
	case Array:
		parms = v
	}
	chain := make([]Filter, 0, len(names))
	for i, o := range names {
		n, ok := resolve(o).(Name)
		if !ok {
			return chain, fmt.Errorf("%w: a filter without a name", ErrDamaged)
		}
		if long, ok := filterNames[n]; ok {
			n = long
		}
		f := Filter{Name: n}
		if i < len(parms) {
			if p, ok := resolve(parms[i]).(Dict); ok {
				f.Parms = Dict{}
				for k, v := range p {
					f.Parms[k] = resolve(v)
				}
			}
		}
		chain = append(chain, f)
	}
	return chain, nil
}

// decode applies filters until an image filter or the end of the chain.
func (d *Document) decode(s *Stream, resolve func(Object) Object) (data []byte, rest []Filter, err error) {
	data, err = d.rawBytes(s, resolve)
	if err != nil && len(data) == 0 {
		return nil, nil, err
	}
	if s.raw != nil && s.raw.doc != nil && s.Dict["F"] != nil {
		return nil, nil, fmt.Errorf("%w: the data of object %d is in another file", ErrUnsupportedFilter, s.Ref.Num)
	}
	chain, cerr := filterChain(s.Dict, resolve)
	if cerr != nil {
		return nil, nil, cerr
	}
	var total int64
	for i, f := range chain {
		if imageFilters[f.Name] {
			return data, chain[i:], err
		}
		if f.Name == "Crypt" && s.raw != nil && s.raw.doc != nil && d.security != nil {
			continue // done while reading, whichever it was
		}
		already := int64(0)
		if s.raw != nil {
			already = s.raw.charged.Load()
		}
		limit := min(int64(limits.MaxStreamBytes), d.budget.Load()+max(already-total, 0))
		out, ferr := applyFilter(f, data, limit)
		if s.raw != nil {
			total += int64(len(out))
			d.charge(s.raw, total)
		}
		data = out
		if ferr != nil {
			err = errors.Join(err, fmt.Errorf("object %d, %s: %w", s.Ref.Num, f.Name, ferr))
			if len(out) == 0 {
				return nil, nil, err
			}
		}
	}
	return data, nil, err
}

// charge takes what a stream expands to from the document's budget, once for each stream however
// often it is decoded.
func (d *Document) charge(r *rawData, n int64) {
	for {
		c := r.charged.Load()
		if n <= c {
			return
		}
		if r.charged.CompareAndSwap(c, n) {
			d.budget.Add(c - n)
			return
		}
	}
}
