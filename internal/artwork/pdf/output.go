package pdf

import (
	"bytes"
	"compress/zlib"
	"crypto/md5"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
)

// NewStream makes a stream of data for writing. With compress the data is deflated when that makes it
// smaller and dict is given the filter; without it the data is stored as it is and dict must tell
// of any filter already applied. dict is copied; /Length is set when the stream is written.
func NewStream(dict Dict, data []byte, compress bool) *Stream {
	d := copyDict(dict)
	delete(d, "Length")
	if compress && d["Filter"] == nil {
		var z bytes.Buffer
		w, _ := zlib.NewWriterLevel(&z, zlib.BestCompression)
		w.Write(data) // into memory: cannot fail
		w.Close()
		if z.Len() < len(data) {
			data = z.Bytes()
			d["Filter"] = Name("FlateDecode")
			delete(d, "DecodeParms")
		}
	}
	return &Stream{Dict: d, raw: &rawData{mem: data}}
}

// WithDict is the stream with the same data, as stored, and another dictionary.
func (s *Stream) WithDict(dict Dict) *Stream { return &Stream{Dict: dict, Ref: s.Ref, raw: s.raw} }

func copyDict(d Dict) Dict {
	out := make(Dict, len(d)+1)
	for k, v := range d {
		out[k] = v
	}
	return out
}

// output writes objects and remembers where they lie.
type output struct {
	w      io.Writer
	n      int64 // bytes written, not counting base
	base   int64 // what offsets leave out: bytes before %PDF
	buf    []byte
	hash   io.Writer // takes part in the file identifier
	offs   map[int]int64
	gens   map[int]int
	mapRef func(Ref) Ref
	seal   *sealer // nil = nothing is encrypted
	err    error
}

func newOutput(w io.Writer) *output {
	return &output{w: w, offs: map[int]int64{}, gens: map[int]int{}}
}

func (o *output) write(b []byte) {
	if o.err != nil {
		return
	}
	if o.hash != nil {
		o.hash.Write(b) // a hash cannot fail
	}
	n, err := o.w.Write(b)
	o.n += int64(n)
	o.err = err
}

// object writes "N G obj ... endobj".
func (o *output) object(num, gen int, v Object) {
	o.offs[num], o.gens[num] = o.n-o.base, gen
	b := o.buf[:0]
	b = strconv.AppendInt(b, int64(num), 10)
	b = append(b, ' ')
	b = strconv.AppendInt(b, int64(gen), 10)
	b = append(b, " obj\n"...)
	s, isStream := v.(*Stream)
	if !isStream {
		if v, o.err = o.sealed(v, num, gen); o.err != nil {
			return
		}
		b = appendObject(b, v, o.mapRef)
		o.buf = append(b, "\nendobj\n"...)
		o.write(o.buf)
		return
	}
	if o.seal == nil && s.large() {
		o.large(b, s)
		return
	}
	data, err := s.stored()
	kept := errors.Is(err, ErrUnsupportedFilter) && o.seal.sealed(s)
	if kept { // nobody knows how to decrypt it: it stays as it is
		data, err = s.raw.doc.fileBytes(s.raw, s.raw.doc.Resolve)
	}
	if err != nil {
		o.err = fmt.Errorf("copying the data of object %d: %w", num, err)
		return
	}
	d := Object(s.Dict)
	if o.seal != nil && s.Dict["Type"] != Name("XRef") {
		if !kept {
			data, err = o.seal.encrypt(o.seal.streamMethod(s.Dict, o.seal.resolve), num, gen, data)
		}
		if err == nil {
			d, err = o.sealed(d, num, gen)
		}
		if err != nil {
			o.err = err
			return
		}
	}
	dict := copyDict(d.(Dict))
	dict["Length"] = Integer(len(data))
	b = appendObject(b, dict, o.mapRef)
	o.buf = append(b, "\nstream\n"...)
	o.write(o.buf)
	o.write(data)
	o.write([]byte("\nendstream\nendobj\n"))
}

// partBytes is what is copied at a time of a stream that is no shorter.
const partBytes = 1 << 20

// large reports a stream that lies as it is in a large file.
func (s *Stream) large() bool {
	if s.raw == nil || s.raw.doc == nil || s.raw.doc.src.small {
		return false
	}
	d := s.raw.doc
	d.locate(s.raw, d.Resolve)
	return s.raw.cipher == cipherNone && s.raw.size >= partBytes
}

// large writes such a stream part by part behind the header b.
func (o *output) large(b []byte, s *Stream) {
	in, size := s.raw.doc.RawReader(s)
	dict := copyDict(s.Dict)
	dict["Length"] = Integer(size)
	b = appendObject(b, dict, o.mapRef)
	o.buf = append(b, "\nstream\n"...)
	o.write(o.buf)
	part := make([]byte, partBytes)
	for size > 0 && o.err == nil {
		n, err := io.ReadFull(in, part[:min(size, partBytes)])
		o.write(part[:n])
		size -= int64(n)
		if err != nil && o.err == nil {
			o.err = fmt.Errorf("copying the data of object %d: %w", s.raw.ref.Num, err)
		}
	}
	o.write([]byte("\nendstream\nendobj\n"))
}

// sealed is v with its strings encrypted, where the file asks for it. An error met before stays.
func (o *output) sealed(v Object, num, gen int) (Object, error) {
	if o.seal == nil || o.err != nil {
		return v, o.err
	}
	return o.seal.strings(v, num, gen)
}

// stored gives the stream's bytes as they lie in the file it came from or were given, decrypted.
// Encrypted data that is damaged is given as far as it goes.
func (s *Stream) stored() ([]byte, error) {
	if s.raw == nil {
		return nil, nil
	}
	d := s.raw.doc
	if d == nil {
		return s.raw.mem, nil
	}
	if b, err := d.fileBytes(s.raw, d.Resolve); err != nil || s.raw.cipher == cipherNone {
		return b, err
	}
	b, err := d.RawData(s)
	if errors.Is(err, ErrDamaged) {
		err = nil
	}
	return b, err
}

// run is a row of consecutive object numbers.
type run struct{ first, count int }

func runs(nums []int) (out []run) {
	sort.Ints(nums)
	for _, n := range nums {
		if k := len(out) - 1; k >= 0 && out[k].first+out[k].count == n {
			out[k].count++
			continue
		}
		out = append(out, run{n, 1})
	}
	return out
}

// table writes a classic cross-reference section (7.5.4) and its trailer. Numbers in free are marked
// as not in use.
func (o *output) table(free []int, trailer Dict) {
	nums := append([]int(nil), free...)
	for n := range o.offs {
		nums = append(nums, n)
	}
	start := o.n - o.base
	var b []byte
	b = append(b, "xref\n"...)
	for _, r := range runs(nums) {
		b = fmt.Appendf(b, "%d %d\n", r.first, r.count)
		for n := r.first; n < r.first+r.count; n++ {
			if off, ok := o.offs[n]; ok {
				b = fmt.Appendf(b, "%010d %05d n \n", off, o.gens[n])
			} else {
				// Free entries beside the linked list name object 0 and generation 65535 (7.5.4).
				b = append(b, "0000000000 65535 f \n"...)
			}
		}
	}
	b = append(b, "trailer\n"...)
	b = appendObject(b, trailer, o.mapRef)
	b = fmt.Appendf(b, "\nstartxref\n%d\n%%%%EOF\n", start)
	o.write(b)
}

// stream writes a cross-reference stream (7.5.8) as object num; trailer gives its further entries.
func (o *output) stream(num int, free []int, trailer Dict) {
	start := o.n - o.base
	o.offs[num], o.gens[num] = start, 0
	nums := append([]int(nil), free...)
	for n := range o.offs {
		nums = append(nums, n)
	}
	width := 4
	if start > math.MaxUint32 {
		width = 5
	}
	var rows []byte
	var index Array
	for _, r := range runs(nums) {
		index = append(index, Integer(r.first), Integer(r.count))
		for n := r.first; n < r.first+r.count; n++ {
			kind, off, gen := byte(0), int64(0), 65535
			if at, ok := o.offs[n]; ok {
				kind, off, gen = 1, at, o.gens[n]
			}
			rows = append(rows, kind)
			for i := width - 1; i >= 0; i-- {
				rows = append(rows, byte(off>>(8*i)))
			}
			rows = append(rows, byte(gen>>8), byte(gen))
		}
	}
	d := copyDict(trailer)
	d["Type"] = Name("XRef")
	d["W"] = Array{Integer(1), Integer(width), Integer(2)}
	d["Index"] = index
	o.object(num, 0, NewStream(d, rows, true))
	o.write(fmt.Appendf(nil, "startxref\n%d\n%%%%EOF\n", start))
}

// identifier makes a file identifier (14.4) from what was written, and keeps the first half of old.
func identifier(old Object, sum []byte) Array {
	if a, ok := old.(Array); ok && len(a) == 2 {
		if first, ok := a[0].(String); ok && len(first) > 0 {
			return Array{first, String(sum)}
		}
	}
	return Array{String(sum), String(sum)}
}

func newHash() interface {
	io.Writer
	Sum([]byte) []byte
} {
	return md5.New()
}
