package pdf

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/md5"
	"crypto/rc4"
	"crypto/sha256"
	"crypto/sha512"
	"crypto/subtle"
	"encoding/binary"
	"fmt"
)

// passwordPad fills a password up to 32 bytes (Algorithm 2, step a).
var passwordPad = [32]byte{
	0x28, 0xBF, 0x4E, 0x5E, 0x4E, 0x75, 0x8A, 0x41, 0x64, 0x00, 0x4E, 0x56, 0xFF, 0xFA, 0x01, 0x08,
	0x2E, 0x2E, 0x00, 0xB6, 0xD0, 0x68, 0x3E, 0x80, 0x2F, 0x0C, 0xA9, 0xFE, 0x64, 0x53, 0x69, 0x7A,
}

// findKey tries the empty password, then password, as the user's and as the owner's. It sets s.key
// and reports whether one fits; the error is a dictionary that cannot be right.
func (s *security) findKey(password string) (bool, error) {
	o, u, err := s.verifiers()
	if err != nil {
		return false, err
	}
	found := s.tryPassword("", o, u)
	if password != "" && !s.owner {
		for _, pw := range s.spellings(password) {
			// An owner's password may lift what the empty user password left restricted.
			if s.tryPassword(pw, o, u) {
				found = true
				if s.owner {
					break
				}
			}
		}
	}
	return found, nil
}

// verifiers gives the O and U entries, cut to the length they have by the standard.
func (s *security) verifiers() (o, u []byte, err error) {
	os, _ := s.dict["O"].(String)
	us, _ := s.dict["U"].(String)
	no, nu := 32, 32
	if s.r >= 5 {
		no, nu = 48, 48
	}
	if s.r == 3 || s.r == 4 { // only 16 bytes of U mean something
		nu = 16
	}
	if len(os) < no || len(us) < nu {
		return nil, nil, fmt.Errorf("%w: what tells a right password from a wrong one is damaged; export the file again", ErrEncryption)
	}
	return []byte(os[:no]), []byte(us[:nu]), nil
}

// tryPassword sets s.key and s.owner when pw opens the file.
func (s *security) tryPassword(pw string, o, u []byte) bool {
	if s.r >= 5 {
		return s.tryModern([]byte(pw), o, u)
	}
	lengths := []int{s.keyBytes}
	for _, n := range []int{16, 5} { // the length is often written wrong; the verifier tells
		if n != s.keyBytes {
			lengths = append(lengths, n)
		}
	}
	for _, n := range lengths {
		if s.tryOld([]byte(pw), o, u, n, false) {
			return true
		}
		if s.tryOld(s.userPassword([]byte(pw), o, n), o, u, n, true) {
			return true
		}
	}
	return false
}

// tryOld checks a user password against U (Algorithm 6) for a key of n bytes.
func (s *security) tryOld(pw, o, u []byte, n int, owner bool) bool {
	key := s.oldKey(pw, o, n)
	if subtle.ConstantTimeCompare(s.userVerifier(key)[:len(u)], u) != 1 {
		return false
	}
	s.key, s.keyBytes, s.owner = key, n, owner
	return true
}

func padded(pw []byte) []byte {
	return append(bytes.Clone(pw[:min(len(pw), 32)]), passwordPad[:]...)[:32]
}

// oldKey is Algorithm 2: the key from the user password, revisions 2 to 4.
func (s *security) oldKey(pw, o []byte, n int) []byte {
	h := md5.New()
	h.Write(padded(pw))
	h.Write(o)
	var p [4]byte
	binary.LittleEndian.PutUint32(p[:], uint32(s.p))
	h.Write(p[:])
	h.Write([]byte(s.id))
	if s.r >= 4 && !s.metadata {
		h.Write([]byte{0xFF, 0xFF, 0xFF, 0xFF})
	}
	sum := h.Sum(nil)
	if s.r >= 3 {
		for range 50 {
			next := md5.Sum(sum[:n])
			sum = next[:]
		}
	}
	return sum[:n]
}

// userVerifier is U without its arbitrary half (Algorithms 4 and 5).
func (s *security) userVerifier(key []byte) []byte {
	if s.r == 2 {
		return rc4Once(key, passwordPad[:])
	}
	h := md5.New()
	h.Write(passwordPad[:])
	h.Write([]byte(s.id))
	v := h.Sum(nil)
	for i := range 20 {
		v = rc4Once(xored(key, byte(i)), v)
	}
	return v
}

// userPassword gives the padded user password that O holds under an owner password (Algorithm 7).
func (s *security) userPassword(owner, o []byte, n int) []byte {
	sum := md5.Sum(padded(owner))
	if s.r == 2 {
		return rc4Once(sum[:n], o)
	}
	for range 50 {
		sum = md5.Sum(sum[:])
	}
	v := o
	for i := 19; i >= 0; i-- {
		v = rc4Once(xored(sum[:n], byte(i)), v)
	}
	return v
}

func xored(key []byte, x byte) []byte {
	out := make([]byte, len(key))
	for i := range key {
		out[i] = key[i] ^ x
	}
	return out
}

func rc4Once(key, data []byte) []byte {
	out := make([]byte, len(data))
	c, err := rc4.NewCipher(key)
	if err != nil { // a key of 1 to 256 bytes is never refused
		panic(err)
	}
	c.XORKeyStream(out, data)
	return out
}

// tryModern is Algorithm 2.A for revision 6, and its forerunner for revision 5: 32 bytes of hash, 8 of
// salt to check the password, 8 of salt for the key that hides the file's own.
func (s *security) tryModern(pw, o, u []byte) bool {
	pw = pw[:min(len(pw), maxModernPassword)]
	for _, t := range []struct {
		v      []byte
		user   []byte
		hidden Name
		owner  bool
	}{{o, u, "OE", true}, {u, nil, "UE", false}} {
		if subtle.ConstantTimeCompare(s.hash(pw, t.v[32:40], t.user), t.v[:32]) != 1 {
			continue
		}
		hidden, _ := s.dict[t.hidden].(String)
		if len(hidden) < 32 {
			continue
		}
		block, err := aes.NewCipher(s.hash(pw, t.v[40:48], t.user))
		if err != nil { // 32 bytes are never refused
			panic(err)
		}
		s.key, s.owner = make([]byte, 32), t.owner
		cipher.NewCBCDecrypter(block, make([]byte, aes.BlockSize)).CryptBlocks(s.key, []byte(hidden[:32]))
		return true
	}
	return false
}

// maxModernPassword is how many bytes of a password count from revision 5 on (Algorithm 2.A).
const maxModernPassword = 127

// hash is Algorithm 2.B; revision 5 takes its first step alone.
func (s *security) hash(pw, salt, user []byte) []byte {
	first := sha256.Sum256(bytes.Join([][]byte{pw, salt, user}, nil))
	k := first[:]
	if s.r == 5 {
		return k
	}
	for round := 0; ; round++ {
		e := bytes.Repeat(bytes.Join([][]byte{pw, k, user}, nil), 64)
		block, err := aes.NewCipher(k[:16])
		if err != nil { // 16 bytes are never refused
			panic(err)
		}
		cipher.NewCBCEncrypter(block, k[16:32]).CryptBlocks(e, e)
		// The first 16 bytes as one number, modulo 3: 256 is 1 modulo 3, so the sum of the bytes will do.
		sum := 0
		for _, b := range e[:16] {
			sum += int(b)
		}
		switch sum % 3 {
		case 0:
			h := sha256.Sum256(e)
			k = h[:]
		case 1:
			h := sha512.Sum384(e)
			k = h[:]
		default:
			h := sha512.Sum512(e)
			k = h[:]
		}
		if round >= 63 && int(e[len(e)-1]) <= round-31 {
			return k[:32]
		}
	}
}

// permissionsSealed compares P with its encrypted copy (Algorithm 13).
func (s *security) permissionsSealed() bool {
	perms, _ := s.dict["Perms"].(String)
	if len(perms) < 16 {
		return false
	}
	block, err := aes.NewCipher(s.key)
	if err != nil {
		return false
	}
	var b [16]byte
	block.Decrypt(b[:], []byte(perms[:16]))
	return string(b[9:12]) == "adb" && int32(binary.LittleEndian.Uint32(b[:4])) == s.p && (b[8] == 'T') == s.metadata
}
