package pdf

import (
	"bytes"
	stdflate "compress/flate"
	"errors"
	"fmt"
	"io"
	"sync"

	"github.com/hhrutter/lzw"
	"github.com/klauspost/compress/flate"
)

// filterNames expands the abbreviations of Table 92; some writers use them outside inline images.
var filterNames = map[Name]Name{
	"AHx": "ASCIIHexDecode", "A85": "ASCII85Decode", "LZW": "LZWDecode", "Fl": "FlateDecode",
	"RL": "RunLengthDecode", "CCF": "CCITTFaxDecode", "DCT": "DCTDecode",
}

// imageFilters are left to the reader of images.
var imageFilters = map[Name]bool{"DCTDecode": true, "JPXDecode": true, "JBIG2Decode": true, "CCITTFaxDecode": true}

// inlineKeys expands the dictionary keys of inline images (Table 91).
var inlineKeys = map[Name]Name{
	"BPC": "BitsPerComponent", "CS": "ColorSpace", "D": "Decode", "DP": "DecodeParms", "F": "Filter",
	"H": "Height", "IM": "ImageMask", "I": "Interpolate", "L": "Length", "W": "Width",
}

// inlineSpaces expands the colour space names of inline images (Table 92).
var inlineSpaces = map[Name]Name{"G": "DeviceGray", "RGB": "DeviceRGB", "CMYK": "DeviceCMYK", "I": "Indexed"}

func expandInline(dict Dict) Dict {
	out := make(Dict, len(dict))
	for k, v := range dict {
		if long, ok := inlineKeys[k]; ok {
			if _, both := dict[long]; both {
				continue
			}
			k = long
		}
		switch k {
		case "ColorSpace":
			v = expandSpace(v)
		case "Filter":
			v = expandFilter(v)
		}
		out[k] = v
	}
	return out
}

func expandFilter(o Object) Object {
	switch v := o.(type) {
	case Name:
		if long, ok := filterNames[v]; ok {
			return long
		}
	case Array:
		out := make(Array, len(v))
		for i := range v {
			if _, nested := v[i].(Array); !nested {
				out[i] = expandFilter(v[i])
			}
		}
		return out
	}
	return o
}

func expandSpace(o Object) Object {
	switch v := o.(type) {
	case Name:
		if long, ok := inlineSpaces[v]; ok {
			return long
		}
	case Array: // [/I /RGB 255 <...>]
		out := append(Array(nil), v...)
		for i := 0; i < len(out) && i < 2; i++ {
			if n, ok := out[i].(Name); ok {
				if long, ok := inlineSpaces[n]; ok {
					out[i] = long
				}
			}
		}
		return out
	}
	return o
}

// applyFilter decodes up to limit bytes. guess is how many are likely, 0 when not known.
func applyFilter(f Filter, in input, guess, limit int64) ([]byte, error) {
	data := in.data
	if guess == 0 {
		guess = in.size * 4
	}
	switch f.Name {
	case "FlateDecode":
		var out []byte
		var err error
		if in.reader != nil {
			io.CopyN(io.Discard, in.reader, 2) // the header was looked at
			out, err = inflateRaw(in.reader, guess, limit)
			if errors.Is(err, ErrDamaged) { // as inflateAll
				in.reader.Reset(in.again())
				io.CopyN(io.Discard, in.reader, 2)
				out, err = readAll(stdflate.NewReader(in.reader), guess, limit)
			}
		} else {
			out, err = inflate(data, guess, limit)
		}
		return unpredict(f.Parms, out, err)
	case "LZWDecode":
		early := true
		if n, ok := intFrom(f.Parms["EarlyChange"]); ok {
			early = n != 0
		}
		r := lzw.NewReader(bytes.NewReader(data), early)
		out, err := readAll(r, guess, limit)
		r.Close()
		return unpredict(f.Parms, out, err)
	case "ASCIIHexDecode":
		return hexDecode(data, limit)
	case "ASCII85Decode":
		return ascii85Decode(data, limit)
	case "RunLengthDecode":
		return runLengthDecode(data, limit)
	case "Crypt":
		if n, ok := f.Parms["Name"].(Name); !ok || n == "Identity" {
			return data, nil
		}
	}
	return nil, ErrUnsupportedFilter
}

// readAll reads r up to limit bytes; a reader's error is damage, and what came before it is kept. Room is made
// for what was guessed step by step: a guess may be a lie.
func readAll(r io.Reader, guess, limit int64) ([]byte, error) {
	const first, steps = 64 << 10, 8
	out := make([]byte, 0, max(min(guess, limit, first), 512))
	for {
		if int64(len(out)) >= limit {
			// Exactly at the limit is still fine if nothing more comes.
			var one [1]byte
			if n, _ := io.ReadFull(r, one[:]); n == 0 {
				return out, nil
			}
			return out, ErrBudget
		}
		if len(out) == cap(out) {
			room := 2 * int64(cap(out))
			if guess > int64(cap(out)) {
				room = min(guess, steps*int64(cap(out)))
			}
			grown := make([]byte, len(out), min(room, limit))
			copy(grown, out)
			out = grown
		}
		n, err := r.Read(out[len(out):min(int64(cap(out)), limit)])
		out = out[:len(out)+n]
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, fmt.Errorf("%w after %d bytes", ErrDamaged, len(out))
		}
	}
}

var inflaters = sync.Pool{New: func() any { return flate.NewReader(bytes.NewReader(nil)) }}

// inflate decodes zlib data (RFC 1950) without asking for a sound header or checksum: several
// writers leave either out or wrong, and the data is whole nevertheless.
func inflate(data []byte, guess, limit int64) ([]byte, error) {
	body := data
	// White space before the header comes from a stream keyword followed by a wrong end of line.
	for len(body) > 2 && (body[0] == '\r' || body[0] == '\n') && !zlibHeader(body) {
		body = body[1:]
	}
	if !zlibHeader(body) {
		out, err := inflateAll(data, guess, limit) // deflate without a wrapper
		if err == nil && len(out) > 0 || len(data) < 2 {
			return out, err
		}
		skipped, serr := inflateAll(data[2:], guess, limit)
		if len(skipped) > len(out) {
			return skipped, serr
		}
		return out, err
	}
	return inflateAll(body[2:], guess, limit)
}

func zlibHeader(b []byte) bool {
	return len(b) >= 2 && b[0]&0x0f == 8 && b[0]>>4 <= 7 && (int(b[0])<<8|int(b[1]))%31 == 0 && b[1]&0x20 == 0
}

// inflateAll decodes deflate data with the faster of two inflaters. It gives up some bytes before damage where the
// standard library's reads on, so that damaged data is decoded by the latter.
func inflateAll(data []byte, guess, limit int64) ([]byte, error) {
	out, err := inflateRaw(bytes.NewReader(data), guess, limit)
	if errors.Is(err, ErrDamaged) {
		return readAll(stdflate.NewReader(bytes.NewReader(data)), guess, limit)
	}
	return out, err
}

// inflateRaw decodes deflate data (RFC 1951); in must read bytes too.
func inflateRaw(in io.Reader, guess, limit int64) ([]byte, error) {
	r := inflaters.Get().(io.Reader)
	defer inflaters.Put(r)
	r.(flate.Resetter).Reset(in, nil)
	return readAll(r, guess, limit)
}

func hexDecode(data []byte, limit int64) ([]byte, error) {
	out := make([]byte, 0, min(int64(len(data)/2+1), limit))
	var v byte
	half, odd := false, false
	for _, c := range data {
		if c == '>' {
			break
		}
		h := unhex[c]
		if h > 15 {
			odd = odd || !IsSpace(c)
			continue
		}
		if half {
			if int64(len(out)) >= limit {
				return out, ErrBudget
			}
			out = append(out, v<<4|h)
		}
		v, half = h, !half
	}
	if half {
		out = append(out, v<<4)
	}
	if odd {
		return out, ErrDamaged
	}
	return out, nil
}

func ascii85Decode(data []byte, limit int64) ([]byte, error) {
	out := make([]byte, 0, min(int64(len(data))*4/5+4, limit))
	if i := bytes.Index(data[:min(len(data), 16)], []byte("<~")); i >= 0 { // a prefix of other uses of this code
		data = data[i+2:]
	}
	var v uint64
	n, odd := 0, false
	for _, c := range data {
		switch {
		case c == '~':
			data = nil
		case c == 'z' && n == 0:
			if int64(len(out))+4 > limit {
				return out, ErrBudget
			}
			out = append(out, 0, 0, 0, 0)
			continue
		case c >= '!' && c <= 'u':
			v = v*85 + uint64(c-'!')
			n++
			if n == 5 {
				if int64(len(out))+4 > limit {
					return out, ErrBudget
				}
				odd = odd || v > 1<<32-1
				out = append(out, byte(v>>24), byte(v>>16), byte(v>>8), byte(v))
				v, n = 0, 0
			}
			continue
		default:
			odd = odd || !IsSpace(c)
			continue
		}
		break
	}
	if n > 1 {
		for i := n; i < 5; i++ {
			v = v*85 + 84
		}
		for i := range n - 1 {
			out = append(out, byte(v>>(24-8*i)))
		}
	}
	if odd || n == 1 {
		return out, ErrDamaged
	}
	return out, nil
}

func runLengthDecode(data []byte, limit int64) ([]byte, error) {
	var out []byte
	for len(data) > 0 {
		n := int(data[0])
		data = data[1:]
		switch {
		case n == 128:
			return out, nil
		case n < 128:
			k := min(n+1, len(data))
			out = append(out, data[:k]...)
			data = data[k:]
			if k < n+1 {
				return out, ErrDamaged
			}
		default:
			if len(data) == 0 {
				return out, ErrDamaged
			}
			for range 257 - n {
				out = append(out, data[0])
			}
			data = data[1:]
		}
		if int64(len(out)) > limit {
			return out[:limit], ErrBudget
		}
	}
	return out, nil // a missing end mark is common and harmless
}
