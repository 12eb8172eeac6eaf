package font

import (
	"compress/flate"
	_ "embed"
	"errors"
	"io"
	"strings"
	"sync"
)

//go:generate go run cmapgen.go /usr/share/poppler/cMap

// The predefined CMaps (9.7.5.2, Table 116), their relatives that producers name as well, and what the
// character collections say of the characters behind CIDs, packed by cmapgen.go:
//
//	number of CMaps
//	for each: name, ordering of its CIDs, name of the CMap it uses, vertical (one byte), size unpacked, size packed
//	for each, deflated: number of code spaces
//	                    for each: bytes (one byte), lowest, highest (four bytes, big-endian)
//	                    codes and notdef ranges, each for codes of one to four bytes:
//	                        number of ranges; gaps before them; lengths less one; steps between values
//
// Numbers are varints, steps are signed, strings are preceded by their length. Nothing is read before
// a font asks for a CMap by name; then its own part is unpacked and kept.
//
//go:embed cmapdata/predefined.bin
var predefinedData string

// predefinedCMap is one entry of the index.
type predefinedCMap struct {
	ordering string
	use      string
	vertical bool
	packed   string
	size     int
	load     func() *cmapFile
}

// predefinedIndex lists the CMaps by name.
var predefinedIndex = sync.OnceValue(func() map[string]*predefinedCMap {
	r := &packedReader{s: predefinedData}
	m := map[string]*predefinedCMap{}
	var list []*predefinedCMap
	var sizes []int
	for range r.uint() {
		name, e := r.string(), &predefinedCMap{ordering: r.string(), use: r.string(), vertical: r.bytes(1) == "\x01", size: r.uint()}
		sizes = append(sizes, r.uint())
		list = append(list, e)
		m[name] = e
	}
	for i, e := range list {
		e.packed = r.bytes(sizes[i])
		e.load = sync.OnceValue(func() *cmapFile {
			c := e.unpack()
			if base := m[e.use]; base != nil {
				c.base = base.load()
			}
			return c
		})
	}
	if r.err != nil {
		panic("predefined CMaps: " + r.err.Error())
	}
	return m
})

// lookupCMap finds a predefined CMap; nil when none has the name.
func lookupCMap(name string) *cmapFile {
	switch name {
	case "Identity-H":
		return identityCMap(false)
	case "Identity-V":
		return identityCMap(true)
	}
	if e := predefinedIndex()[name]; e != nil {
		return e.load()
	}
	return nil
}

// collectionRunes maps the CIDs of a character collection, as codes of two bytes, to characters; nil when
// the collection is not one of the published ones.
func collectionRunes(ordering string) *cmapFile {
	return lookupCMap("Adobe-" + ordering + "-UCS2")
}

func (e *predefinedCMap) unpack() *cmapFile {
	b := make([]byte, e.size)
	if _, err := io.ReadFull(flate.NewReader(strings.NewReader(e.packed)), b); err != nil {
		panic("predefined CMap: " + err.Error())
	}
	r := &packedReader{s: string(b)}
	c := &cmapFile{vertical: e.vertical, ordering: e.ordering}
	for range r.uint() {
		n := int(r.bytes(1)[0])
		v := []byte(r.bytes(8))
		c.spaces[n-1] = append(c.spaces[n-1], codeSpace{be32(v), be32(v[4:])})
	}
	for n := range c.ranges {
		c.ranges[n] = r.table(false)
	}
	for n := range c.notdef {
		c.notdef[n] = r.table(true)
	}
	if r.err != nil {
		panic("predefined CMap: " + r.err.Error())
	}
	return c
}

// packedReader reads the embedded file, which is the program's own: an error is a bug.
type packedReader struct {
	s   string
	err error
}

var errPacked = errors.New("the data is cut short")

func (r *packedReader) bytes(n int) string {
	if n > len(r.s) {
		r.err = errPacked
		return strings.Repeat("\x00", n)
	}
	b := r.s[:n]
	r.s = r.s[n:]
	return b
}

func (r *packedReader) uint() int {
	v, shift := 0, 0
	for {
		b := int(r.bytes(1)[0])
		v |= b & 0x7F << shift
		if shift += 7; b < 0x80 {
			return v
		}
	}
}

func (r *packedReader) int() int {
	v := r.uint()
	return v>>1 ^ -(v & 1)
}

func (r *packedReader) string() string { return r.bytes(r.uint()) }

func (r *packedReader) table(constant bool) []cidRange {
	t := make([]cidRange, r.uint())
	for i := range t {
		t[i].lo = uint32(r.uint())
	}
	next := uint32(0)
	for i := range t {
		t[i].lo += next
		t[i].hi = t[i].lo + uint32(r.uint())
		next = t[i].hi + 1
	}
	value := 0
	for i := range t {
		value += r.int()
		t[i].cid = uint32(value)
		if !constant {
			value += int(t[i].hi-t[i].lo) + 1
		}
	}
	return t
}
