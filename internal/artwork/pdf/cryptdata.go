package pdf

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/md5"
	"crypto/rc4"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	"slices"
)

var errCutShort = fmt.Errorf("%w: encrypted data is cut short", ErrDamaged)

// objectKey is Algorithm 1: the key of one object. Generation numbers take part in it.
func (s *security) objectKey(m cipherMethod, num, gen int) []byte {
	if m == cipherAES256 {
		return s.key
	}
	h := md5.New()
	h.Write(s.key)
	h.Write([]byte{byte(num), byte(num >> 8), byte(num >> 16), byte(gen), byte(gen >> 8)})
	if m == cipherAES128 {
		h.Write([]byte("sAlT"))
	}
	return h.Sum(nil)[:min(len(s.key)+5, 16)]
}

// decrypt gives the plain bytes of a string or stream of object num. What is damaged is given as far
// as it goes, with an error that wraps ErrDamaged.
func (s *security) decrypt(m cipherMethod, num, gen int, data []byte) ([]byte, error) {
	switch {
	case m == cipherNone:
		return data, nil
	case m == cipherUnknown:
		return nil, fmt.Errorf("%w: an unknown kind of encryption", ErrUnsupportedFilter)
	case s.key == nil:
		return nil, fmt.Errorf("%w: it is encrypted with a password of its own", ErrUnsupportedFilter)
	case m == cipherRC4:
		return rc4Once(s.objectKey(m, num, gen), data), nil
	case len(data) == 0: // against the rule, but nothing is lost
		return nil, nil
	case len(data) < aes.BlockSize:
		return nil, errCutShort
	}
	block, err := aes.NewCipher(s.objectKey(m, num, gen))
	if err != nil { // 16 and 32 bytes are never refused, and shorter keys come with RC4 only
		return nil, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	body := data[aes.BlockSize:]
	whole := len(body) / aes.BlockSize * aes.BlockSize
	out := make([]byte, whole)
	cipher.NewCBCDecrypter(block, data[:aes.BlockSize]).CryptBlocks(out, body[:whole])
	if whole < len(body) {
		return out, errCutShort
	}
	return unpadded(out)
}

// decrypter is decrypt for data that is read bit by bit. What is wrong comes as the error of Read.
func (s *security) decrypter(m cipherMethod, num, gen int, in io.Reader) io.Reader {
	switch {
	case m == cipherRC4 && s.key != nil:
		c, err := rc4.NewCipher(s.objectKey(m, num, gen))
		if err != nil { // a key of 1 to 256 bytes is never refused
			panic(err)
		}
		return cipher.StreamReader{S: c, R: in}
	case (m == cipherAES128 || m == cipherAES256) && s.key != nil:
		if block, err := aes.NewCipher(s.objectKey(m, num, gen)); err == nil {
			return &cbcReader{in: in, block: block}
		}
	}
	_, err := s.decrypt(m, num, gen, nil)
	return failingReader{err}
}

type failingReader struct{ err error }

func (r failingReader) Read([]byte) (int, error) { return 0, r.err }

// cbcReader decrypts CBC data with a first block of its own and padding at its end.
type cbcReader struct {
	in    io.Reader
	block cipher.Block
	mode  cipher.BlockMode
	out   []byte // decrypted, not yet given
	ahead []byte // read, not yet decrypted: the last block is held back for its padding
	err   error
}

func (r *cbcReader) Read(p []byte) (int, error) {
	for len(r.out) == 0 {
		if r.err != nil {
			return 0, r.err
		}
		r.fill()
	}
	n := copy(p, r.out)
	r.out = r.out[n:]
	return n, nil
}

// fill decrypts the next part.
func (r *cbcReader) fill() {
	const part = 32 << 10
	if r.mode == nil {
		iv := make([]byte, aes.BlockSize)
		switch n, err := io.ReadFull(r.in, iv); {
		case n == 0:
			r.err = io.EOF
			return
		case err != nil:
			r.err = errCutShort
			return
		}
		r.mode = cipher.NewCBCDecrypter(r.block, iv)
	}
	buf := make([]byte, len(r.ahead)+part)
	copy(buf, r.ahead)
	n, err := io.ReadFull(r.in, buf[len(r.ahead):])
	buf = buf[:len(r.ahead)+n]
	last := err != nil
	whole := len(buf) / aes.BlockSize * aes.BlockSize
	if !last {
		whole -= aes.BlockSize
	}
	r.out, r.ahead = buf[:whole], buf[whole:]
	r.mode.CryptBlocks(r.out, r.out)
	switch {
	case !last:
	case err != io.EOF && err != io.ErrUnexpectedEOF:
		r.err = err
	case len(r.ahead) > 0:
		r.err = errCutShort
	default:
		if r.out, r.err = unpadded(r.out); r.err == nil {
			r.err = io.EOF
		}
	}
}

// unpadded takes off the padding of the last block: n bytes of value n, 1 to 16 (7.6.3.1).
func unpadded(b []byte) ([]byte, error) {
	if len(b) == 0 {
		return b, nil
	}
	n := int(b[len(b)-1])
	if n < 1 || n > aes.BlockSize {
		return b, fmt.Errorf("%w: encrypted data does not end as it should", ErrDamaged)
	}
	return b[:len(b)-n], nil
}

// encrypt is the inverse of decrypt. The first block is made from the key, the object and the data, so
// that the same file is written with the same bytes, and different data never shares a first block.
func (s *security) encrypt(m cipherMethod, num, gen int, data []byte) ([]byte, error) {
	switch {
	case m == cipherNone:
		return data, nil
	case m == cipherUnknown || s.key == nil:
		return nil, fmt.Errorf("object %d cannot be encrypted as the file asks", num)
	case m == cipherRC4:
		return rc4Once(s.objectKey(m, num, gen), data), nil
	}
	block, err := aes.NewCipher(s.objectKey(m, num, gen))
	if err != nil {
		return nil, err
	}
	h := hmac.New(sha256.New, s.key)
	var place [8]byte
	binary.BigEndian.PutUint32(place[:], uint32(num))
	binary.BigEndian.PutUint32(place[4:], uint32(gen))
	h.Write(place[:])
	h.Write(data)
	pad := aes.BlockSize - len(data)%aes.BlockSize
	out := make([]byte, aes.BlockSize+len(data)+pad)
	copy(out, h.Sum(nil)[:aes.BlockSize])
	body := out[aes.BlockSize:]
	copy(body, data)
	for i := len(data); i < len(body); i++ {
		body[i] = byte(pad)
	}
	cipher.NewCBCEncrypter(block, out[:aes.BlockSize]).CryptBlocks(body, body)
	return out, nil
}

// openStrings decrypts the strings of a freshly parsed object in place and gives the object. It
// reports whether all were sound.
func (s *security) openStrings(o Object, num, gen int) (Object, bool) {
	if s.str == cipherNone || num == s.object {
		return o, true
	}
	switch v := o.(type) {
	case String:
		b, err := s.decrypt(s.str, num, gen, []byte(v))
		return String(b), err == nil
	case Array:
		sound := true
		for i := range v {
			var ok bool
			v[i], ok = s.openStrings(v[i], num, gen)
			sound = sound && ok
		}
		return v, sound
	case Dict:
		sound := true
		for k, e := range v {
			if plainEntry(v, k) {
				continue
			}
			var ok bool
			v[k], ok = s.openStrings(e, num, gen)
			sound = sound && ok
		}
		return v, sound
	}
	return o, true
}

// plainEntry reports the one string that is never encrypted: the value of a signature (7.6.2).
func plainEntry(d Dict, key Name) bool {
	if key != "Contents" {
		return false
	}
	t, _ := d["Type"].(Name)
	return t == "Sig" || t == "DocTimeStamp" || d["ByteRange"] != nil
}

// streamMethod is how the data of a stream with dictionary dict is encrypted (7.6.6).
func (s *security) streamMethod(dict Dict, resolve func(Object) Object) cipherMethod {
	kind, _ := resolve(dict["Type"]).(Name)
	if kind == "XRef" { // needed before there is a key (7.5.8.2)
		return cipherNone
	}
	chain, _ := filterChain(dict, resolve)
	for _, f := range chain {
		if f.Name == "Crypt" {
			n, ok := f.Parms["Name"].(Name)
			if !ok {
				return cipherNone // Identity is the default (Table 14)
			}
			return s.method(n)
		}
	}
	switch {
	case kind == "Metadata" && !s.metadata:
		return cipherNone
	case kind == "EmbeddedFile":
		return s.embedded
	}
	return s.stm
}

// sealer encrypts what a writer puts into a file.
type sealer struct {
	*security
	resolve func(Object) Object
	object  int // number of the encryption dictionary in the new file, 0 when it lies in the trailer
}

// sealed reports whether s lies encrypted in the file that is written to.
func (s *sealer) sealed(st *Stream) bool {
	return s != nil && st.raw != nil && st.raw.doc != nil && st.raw.doc.security == s.security
}

// strings gives a copy of o with its strings encrypted for object num.
func (s *sealer) strings(o Object, num, gen int) (Object, error) {
	if s.str == cipherNone || num == s.object {
		return o, nil
	}
	switch v := o.(type) {
	case String:
		b, err := s.encrypt(s.str, num, gen, []byte(v))
		return String(b), err
	case Array:
		out := make(Array, len(v))
		for i := range v {
			var err error
			if out[i], err = s.strings(v[i], num, gen); err != nil {
				return nil, err
			}
		}
		return out, nil
	case Dict:
		out := make(Dict, len(v))
		for k, e := range v {
			if plainEntry(v, k) {
				out[k] = e
				continue
			}
			var err error
			if out[k], err = s.strings(e, num, gen); err != nil {
				return nil, err
			}
		}
		return out, nil
	}
	return o, nil
}

// withoutCrypt is dict without the filter Crypt, for data that is written decrypted.
func withoutCrypt(dict Dict, resolve func(Object) Object) Dict {
	isCrypt := func(o Object) bool { return resolve(o) == Name("Crypt") }
	filter := resolve(dict["Filter"])
	names, many := filter.(Array)
	if many != slices.ContainsFunc(names, isCrypt) || !many && !isCrypt(filter) {
		return dict
	}
	out := copyDict(dict)
	for _, k := range []Name{"Filter", "DecodeParms", "DP"} {
		delete(out, k)
	}
	parms, _ := resolve(dict["DecodeParms"]).(Array)
	var keep, with Array
	for i, n := range names {
		if isCrypt(n) {
			continue
		}
		keep = append(keep, n)
		if i < len(parms) {
			with = append(with, parms[i])
		}
	}
	if len(keep) > 0 {
		out["Filter"] = keep
	}
	if len(with) > 0 {
		out["DecodeParms"] = with
	}
	return out
}
