package plate

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/adler32"
	"sync"

	"github.com/klauspost/compress/flate"
)

// A zlib stream (RFC 1950) made of pieces that are deflated on their own, each ended on a byte
// boundary by a sync flush, so that pieces of different plates can be deflated at the same time and
// rows without toner cost a copy of a prepared piece. The bytes depend on the pieces only.

// deflateLevel is the fastest one: plates are flat or screened by nothing, the first level halves
// what matters and is bound by reading.
const deflateLevel = flate.BestSpeed

var zlibHeader = []byte{0x78, 0x01}

// zlibEnd is an empty final block; the checksum follows.
var zlibEnd = []byte{0x03, 0x00}

var deflaters = sync.Pool{New: func() any {
	w, err := flate.NewWriter(nil, deflateLevel)
	if err != nil {
		panic(fmt.Sprintf("deflate level %d: %v", deflateLevel, err))
	}
	return w
}}

// deflate appends a piece holding data to dst.
func deflate(dst []byte, data []byte) []byte {
	buf := bytes.NewBuffer(dst)
	w := deflaters.Get().(*flate.Writer)
	defer deflaters.Put(w)
	w.Reset(buf)
	w.Write(data) // a bytes.Buffer does not fail
	w.Flush()
	return buf.Bytes()
}

// zeroRun is the length of the prepared pieces of zeros.
const zeroRun = 1 << 16

var zeroPiece = sync.OnceValue(func() []byte { return deflate(nil, make([]byte, zeroRun)) })

// deflateZeros appends pieces holding n zeros to dst.
func deflateZeros(dst []byte, n int) []byte {
	for ; n >= zeroRun; n -= zeroRun {
		dst = append(dst, zeroPiece()...)
	}
	if n > 0 {
		dst = deflate(dst, make([]byte, n))
	}
	return dst
}

// adlerMod is the modulus of Adler-32.
const adlerMod = 65521

// checksum is an Adler-32 that takes zeros by the million.
type checksum struct{ a, b uint64 }

func newChecksum() checksum { return checksum{a: 1} }

// add takes data whose own Adler-32 is known.
func (c *checksum) add(sum uint32, n int) {
	a, b := uint64(sum&0xffff), uint64(sum>>16)
	// data's sums were made from a = 1; here they start at c.a.
	c.b = (c.b + b + uint64(n)%adlerMod*(c.a+adlerMod-1)) % adlerMod
	c.a = (c.a + a + adlerMod - 1) % adlerMod
}

func (c *checksum) zeros(n int) { c.b = (c.b + uint64(n)%adlerMod*c.a) % adlerMod }

// bytes are the last four bytes of the stream.
func (c *checksum) bytes() []byte { return binary.BigEndian.AppendUint32(nil, uint32(c.b<<16|c.a)) }

// piece is part of a zlib stream with its checksum.
type piece struct {
	data []byte
	sum  uint32
	n    int // bytes it stands for
	zero bool
}

func newPiece(data []byte) piece {
	return piece{data: deflate(nil, data), sum: adler32.Checksum(data), n: len(data)}
}

func newZeroPiece(n int) piece { return piece{data: deflateZeros(nil, n), n: n, zero: true} }

func (c *checksum) addPiece(p piece) {
	if p.zero {
		c.zeros(p.n)
	} else {
		c.add(p.sum, p.n)
	}
}
