package pdf_test

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/md5"
	"crypto/rc4"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/binary"
	"fmt"
	"math/big"
	"strings"
)

// lock encrypts small test files. It is written from ISO 32000-2, 7.6 a second time and shares no code with
// the reader.
type lock struct {
	name        string
	v, r, bits  int
	cfm         string // of StdCF, from V 4 on
	user, owner string // as bytes of the dictionary's encoding
	p           int32
	openMeta    bool   // EncryptMetadata false
	filters     string // StmF, StrF, EFF; default StdCF for the first two

	key  []byte
	dict string
}

const lockID = "0123456789abcdef"

func pad32(pw string) []byte {
	pad := "\x28\xBF\x4E\x5E\x4E\x75\x8A\x41\x64\x00\x4E\x56\xFF\xFA\x01\x08\x2E\x2E\x00\xB6\xD0\x68\x3E\x80\x2F\x0C\xA9\xFE\x64\x53\x69\x7A"
	return []byte((pw + pad)[:32])
}

func rc4Of(key, data []byte) []byte {
	c, err := rc4.NewCipher(key)
	if err != nil {
		panic(err)
	}
	out := make([]byte, len(data))
	c.XORKeyStream(out, data)
	return out
}

func md5Of(parts ...[]byte) []byte {
	s := md5.Sum(bytes.Join(parts, nil))
	return s[:]
}

func rounds19(key, data []byte) []byte {
	for i := 1; i <= 19; i++ {
		k := make([]byte, len(key))
		for j := range k {
			k[j] = key[j] ^ byte(i)
		}
		data = rc4Of(k, data)
	}
	return data
}

func cbc(key, iv, data []byte) []byte {
	b, err := aes.NewCipher(key)
	if err != nil {
		panic(err)
	}
	out := make([]byte, len(data))
	cipher.NewCBCEncrypter(b, iv).CryptBlocks(out, data)
	return out
}

// make fills in the key and the encryption dictionary.
func (l *lock) make() *lock {
	if l.r >= 5 {
		l.makeModern()
	} else {
		l.makeOld()
	}
	if l.v >= 4 {
		if l.filters == "" {
			l.filters = "/StmF /StdCF /StrF /StdCF"
		}
		l.dict += fmt.Sprintf(" /CF << /StdCF << /CFM /%s /AuthEvent /DocOpen /Length %d >> >> %s", l.cfm, l.bits/8, l.filters)
	}
	if l.openMeta {
		l.dict += " /EncryptMetadata false"
	}
	l.dict = fmt.Sprintf("<< /Filter /Standard /V %d /R %d /Length %d /P %d %s >>", l.v, l.r, l.bits, l.p, l.dict)
	return l
}

func (l *lock) makeOld() {
	n := l.bits / 8
	k := md5Of(pad32(l.owner))
	if l.r >= 3 {
		for range 50 {
			k = md5Of(k)
		}
	}
	o := rc4Of(k[:n], pad32(l.user))
	if l.r >= 3 {
		o = rounds19(k[:n], o)
	}
	parts := [][]byte{pad32(l.user), o, binary.LittleEndian.AppendUint32(nil, uint32(l.p)), []byte(lockID)}
	if l.openMeta {
		parts = append(parts, bytes.Repeat([]byte{255}, 4))
	}
	k = md5Of(parts...)
	if l.r >= 3 {
		for range 50 {
			k = md5Of(k[:n])
		}
	}
	l.key = k[:n]
	u := rc4Of(l.key, pad32(""))
	if l.r >= 3 {
		u = append(rounds19(l.key, rc4Of(l.key, md5Of(pad32(""), []byte(lockID)))), bytes.Repeat([]byte{7}, 16)...)
	}
	l.dict = fmt.Sprintf("/O <%x> /U <%x>", o, u)
}

func (l *lock) makeModern() {
	l.key = []byte("the key of the file has 32 bytes")
	seal := func(pw, salts string, user []byte) (v, hidden []byte) {
		v = append(l.hash(pw, salts[:8], user), salts...)
		return v, cbc(l.hash(pw, salts[8:], user), make([]byte, 16), l.key)
	}
	u, ue := seal(l.user, "saltsaltpeppered", nil)
	o, oe := seal(l.owner, "vinegar.mustard.", u)
	perms := binary.LittleEndian.AppendUint32(nil, uint32(l.p))
	flag := byte('T')
	if l.openMeta {
		flag = 'F'
	}
	perms = append(perms, 255, 255, 255, 255, flag, 'a', 'd', 'b', 1, 2, 3, 4)
	b, err := aes.NewCipher(l.key)
	if err != nil {
		panic(err)
	}
	sealed := make([]byte, 16)
	b.Encrypt(sealed, perms)
	l.dict = fmt.Sprintf("/O <%x> /U <%x> /OE <%x> /UE <%x> /Perms <%x>", o, u, oe, ue, sealed)
}

func (l *lock) hash(pw, salt string, user []byte) []byte {
	first := sha256.Sum256([]byte(pw + salt + string(user)))
	k := first[:]
	if l.r == 5 {
		return k
	}
	for i := 0; ; i++ {
		e := cbc(k[:16], k[16:32], []byte(strings.Repeat(pw+string(k)+string(user), 64)))
		switch new(big.Int).Mod(new(big.Int).SetBytes(e[:16]), big.NewInt(3)).Int64() {
		case 0:
			s := sha256.Sum256(e)
			k = s[:]
		case 1:
			s := sha512.Sum384(e)
			k = s[:]
		case 2:
			s := sha512.Sum512(e)
			k = s[:]
		}
		if i >= 63 && int(e[len(e)-1]) <= (i+1)-32 {
			return k[:32]
		}
	}
}

// seal encrypts data of object num.
func (l *lock) seal(num, gen int, data string) []byte {
	aesUsed := l.cfm == "AESV2" || l.cfm == "AESV3"
	k := l.key
	if l.v < 5 {
		place := []byte{byte(num), byte(num >> 8), byte(num >> 16), byte(gen), byte(gen >> 8)}
		salt := ""
		if aesUsed {
			salt = "sAlT"
		}
		k = md5Of(l.key, place, []byte(salt))[:min(16, len(l.key)+5)]
	}
	if !aesUsed {
		return rc4Of(k, []byte(data))
	}
	iv := []byte("initial vector .")
	pad := 16 - len(data)%16
	return append(iv, cbc(k, iv, append([]byte(data), bytes.Repeat([]byte{byte(pad)}, pad)...))...)
}

// text writes an encrypted string of object num.
func (l *lock) text(num, gen int, s string) string { return fmt.Sprintf("<%x>", l.seal(num, gen, s)) }

// What lies in the file of lock.file, in plain.
const (
	lockedTitle   = "A title (with ) brackets\\"
	lockedInside  = "inside an object stream"
	lockedMeta    = "<metadata/>"
	lockedPlain   = "not encrypted, by its Crypt filter"
	lockedAttach  = "an attachment"
	lockedContent = "0.5 g 0 0 10 10 re f % long enough for more than two blocks of sixteen"
)

// file is a page with strings and streams of every kind:
//
//	1 catalogue, with a signature value   2, 3 page tree, page    4 content, generation 2
//	5 Info, generation 7                  6 object stream with 7  8 metadata    9 encryption
//	10 stream with a Crypt filter         11 attachment           12 empty stream
func (l *lock) file() []byte {
	r := newRaw("%PDF-2.0\n%\xe2\xe3\xcf\xd3\n")
	gens := map[int]int{4: 2, 5: 7}
	obj := func(n int, body string) {
		r.offs[n] = r.Len()
		fmt.Fprintf(r, "%d %d obj\n%s\nendobj\n", n, gens[n], body)
	}
	stream := func(n int, dict, data string, plain bool) {
		b := []byte(data)
		if !plain {
			b = l.seal(n, gens[n], data)
		}
		obj(n, fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(b), b))
	}
	obj(1, "<< /Type /Catalog /Pages 2 0 R /Metadata 8 0 R /Inside 7 0 R /Plain 10 0 R /File 11 0 R /Empty 12 0 R "+
		"/Sig << /Type /Sig /Contents <CAFE> /Reason "+l.text(1, 0, "approved")+" >> >>")
	obj(2, treeBody)
	obj(3, strings.Replace(pageBody, "4 0 R", "4 2 R", 1))
	stream(4, "", lockedContent, false)
	obj(5, "<< /Title "+l.text(5, 7, lockedTitle)+" /Nested [ [ "+l.text(5, 7, "")+" ] << /Deep "+l.text(5, 7, "deep")+" >> ] >>")
	stream(6, "/Type /ObjStm /N 1 /First 4", "7 0 << /Text ("+lockedInside+") >>", false)
	stream(8, "/Type /Metadata /Subtype /XML", lockedMeta, l.openMeta)
	obj(9, l.dict)
	stream(10, "/Filter [ /Crypt ] /DecodeParms [ << /Name /Identity >> ]", lockedPlain, l.v >= 4)
	stream(11, "/Type /EmbeddedFile", lockedAttach, strings.Contains(l.filters, "/EFF /Identity"))
	stream(12, "", "", false)
	rows := [][3]int{{0, 0, 255}}
	for n := 1; n <= 12; n++ {
		if n == 7 {
			rows = append(rows, [3]int{2, 6, 0})
			continue
		}
		rows = append(rows, [3]int{1, r.offs[n], gens[n]})
	}
	rows = append(rows, [3]int{1, r.Len(), 0})
	at := r.xrefStream(13, fmt.Sprintf("/Size 14 /Root 1 0 R /Info 5 7 R /Encrypt 9 0 R /ID [ (%s) (%s) ]", lockID, lockID), "0 14", rows)
	fmt.Fprintf(r, "startxref\n%d\n%%%%EOF\n", at)
	return r.Bytes()
}

// locks are one of each kind.
func locks() []*lock {
	var out []*lock
	for _, l := range []lock{
		{name: "RC4 40, revision 2", v: 1, r: 2, bits: 40},
		{name: "RC4 40, revision 3", v: 2, r: 3, bits: 40},
		{name: "RC4 80", v: 2, r: 3, bits: 80},
		{name: "RC4 128", v: 2, r: 3, bits: 128},
		{name: "RC4 128 as crypt filter", v: 4, r: 4, bits: 128, cfm: "V2"},
		{name: "AES 128", v: 4, r: 4, bits: 128, cfm: "AESV2"},
		{name: "AES 128, metadata plain", v: 4, r: 4, bits: 128, cfm: "AESV2", openMeta: true},
		{name: "AES 128, attachments plain", v: 4, r: 4, bits: 128, cfm: "AESV2", filters: "/StmF /StdCF /StrF /StdCF /EFF /Identity"},
		{name: "AES 256, revision 5", v: 5, r: 5, bits: 256, cfm: "AESV3"},
		{name: "AES 256, revision 6", v: 5, r: 6, bits: 256, cfm: "AESV3"},
		{name: "AES 256, metadata plain", v: 5, r: 6, bits: 256, cfm: "AESV3", openMeta: true},
	} {
		l.user, l.owner, l.p = "user", "owner", -4
		out = append(out, (&l).make())
	}
	return out
}
