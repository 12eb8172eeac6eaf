package look

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/adler32"
	"hash/crc32"
	"io"
	"math"
	"sync"

	"github.com/klauspost/compress/flate"
)

// Note is a line that travels with a picture: a tEXt chunk of a PNG (iTXt where it is not ASCII).
type Note struct{ Key, Text string }

// pngRows writes a PNG row by row. Rows are filtered and deflated in blocks of a fixed number of rows, several at a
// time, so that the bytes depend on the picture alone.
type pngRows struct {
	w       *bufio.Writer
	format  pngFormat
	stride  int
	jobs    int
	per     int    // rows a block
	rows    []byte // waiting for their block to fill
	above   []byte // the last row of the block before
	row     int
	sum     hash.Hash32
	chunk   func(data []byte) // writes picture data, IDAT or a frame of an animation
	blocks  []pngBlock
	started bool
}

type pngFormat struct {
	width, height int
	bits          int // 8 or 16
	kind          byte
	dpi           float64
}

// Colour types of PNG (ISO/IEC 15948, 11.2.2).
const (
	pngRGB  = 2
	pngRGBA = 6
)

func (f *pngFormat) pixelBytes() int {
	n := 3
	if f.kind == pngRGBA {
		n = 4
	}
	return n * f.bits / 8
}

const pngBlockBytes = 1 << 18

type pngBlock struct{ rows, above, filtered, deflated []byte }

func newPNGRows(w io.Writer, f pngFormat, jobs int) *pngRows {
	p := &pngRows{w: bufio.NewWriterSize(w, 1<<16), format: f, jobs: max(jobs, 1)}
	p.stride = f.width * f.pixelBytes()
	p.per = max(1, pngBlockBytes/p.stride)
	p.chunk = func(data []byte) { writeChunk(p.w, "IDAT", data) }
	return p
}

// writeChunk writes a PNG chunk. Errors of a bufio.Writer stay until its Flush.
func writeChunk(w *bufio.Writer, kind string, data []byte) {
	var head [8]byte
	binary.BigEndian.PutUint32(head[:], uint32(len(data)))
	copy(head[4:], kind)
	w.Write(head[:])
	w.Write(data)
	sum := crc32.Update(crc32.ChecksumIEEE(head[4:]), crc32.IEEETable, data)
	w.Write(binary.BigEndian.AppendUint32(nil, sum))
}

// head writes what comes before the picture; sRGB with the perceptual intent, as its decoders expect gamma and
// chromaticities to be known then.
func (p *pngRows) head() {
	f := &p.format
	p.w.WriteString("\x89PNG\r\n\x1a\n")
	ihdr := binary.BigEndian.AppendUint32(nil, uint32(f.width))
	ihdr = binary.BigEndian.AppendUint32(ihdr, uint32(f.height))
	writeChunk(p.w, "IHDR", append(ihdr, byte(f.bits), f.kind, 0, 0, 0))
	writeChunk(p.w, "sRGB", []byte{0})
	if f.dpi > 0 {
		perMetre := uint32(math.Round(f.dpi / 0.0254))
		phys := binary.BigEndian.AppendUint32(nil, perMetre)
		writeChunk(p.w, "pHYs", append(binary.BigEndian.AppendUint32(phys, perMetre), 1))
	}
}

func writeNotes(w *bufio.Writer, notes []Note) {
	for _, n := range notes {
		ascii := true
		for _, r := range n.Text {
			ascii = ascii && r < 0x80
		}
		if ascii {
			writeChunk(w, "tEXt", []byte(n.Key+"\x00"+n.Text))
		} else {
			writeChunk(w, "iTXt", []byte(n.Key+"\x00\x00\x00\x00\x00"+n.Text))
		}
	}
}

// add takes whole rows.
func (p *pngRows) add(rows []byte) error {
	if len(rows)%p.stride != 0 || p.row+len(rows)/p.stride > p.format.height {
		return fmt.Errorf("a picture of %d rows gets more", p.format.height)
	}
	p.row += len(rows) / p.stride
	p.rows = append(p.rows, rows...)
	whole := p.per * p.stride
	for len(p.rows) >= whole*p.jobs {
		p.deflate(p.jobs)
	}
	return nil
}

// deflate filters, deflates and writes the first n waiting blocks.
func (p *pngRows) deflate(n int) {
	if !p.started {
		p.started, p.sum = true, adler32.New()
		p.above = make([]byte, p.stride)
		p.chunk([]byte{0x78, 0x01}) // zlib, RFC 1950
	}
	if p.blocks == nil {
		p.blocks = make([]pngBlock, p.jobs)
	}
	whole, at := p.per*p.stride, 0
	above := p.above
	var wg sync.WaitGroup
	for i := range n {
		b := &p.blocks[i]
		b.rows, b.above = p.rows[at:min(at+whole, len(p.rows))], above
		at += len(b.rows)
		above = b.rows[len(b.rows)-p.stride:]
		wg.Go(func() { b.run(p.stride, p.format.pixelBytes()) })
	}
	wg.Wait()
	for i := range n {
		p.sum.Write(p.blocks[i].filtered)
		p.chunk(p.blocks[i].deflated)
	}
	p.above = append(p.above[:0], above...)
	p.rows = p.rows[:copy(p.rows, p.rows[at:])]
}

var deflaters = sync.Pool{New: func() any {
	w, err := flate.NewWriter(nil, 5)
	if err != nil {
		panic(err) // 5 is a level
	}
	return w
}}

func (b *pngBlock) run(stride, pixel int) {
	b.filtered = b.filtered[:0]
	above := b.above
	for ; len(b.rows) > 0; b.rows = b.rows[stride:] {
		b.filtered = appendFiltered(b.filtered, b.rows[:stride], above, pixel)
		above = b.rows[:stride]
	}
	buf := bytes.NewBuffer(b.deflated[:0])
	w := deflaters.Get().(*flate.Writer)
	w.Reset(buf)
	w.Write(b.filtered) // a bytes.Buffer does not fail
	w.Flush()
	deflaters.Put(w)
	b.deflated = buf.Bytes()
}

// appendFiltered takes the filter of PNG with the least sum of absolute values, of Up and Paeth.
func appendFiltered(dst, row, above []byte, pixel int) []byte {
	const up, paeth = 2, 4
	at := len(dst)
	dst = append(dst, up)
	cost := 0
	for x, v := range row {
		d := v - above[x]
		dst = append(dst, d)
		cost += absByte(d)
	}
	if cost == 0 {
		return dst
	}
	other := 0
	try := make([]byte, 0, len(row)+1)
	try = append(try, paeth)
	for x, v := range row {
		var a, c byte
		if x >= pixel {
			a, c = row[x-pixel], above[x-pixel]
		}
		d := v - paethOf(a, above[x], c)
		try = append(try, d)
		other += absByte(d)
	}
	if other < cost {
		copy(dst[at:], try)
	}
	return dst
}

func absByte(v byte) int { return max(int(int8(v)), -int(int8(v))) }

// paethOf is the predictor of ISO/IEC 15948, 9.4.
func paethOf(a, b, c byte) byte {
	pa, pb := int(b)-int(c), int(a)-int(c)
	pc := max(pa+pb, -pa-pb)
	pa, pb = max(pa, -pa), max(pb, -pb)
	switch {
	case pa <= pb && pa <= pc:
		return a
	case pb <= pc:
		return b
	}
	return c
}

// data writes what is left of the picture.
func (p *pngRows) data() error {
	if p.row != p.format.height {
		return fmt.Errorf("the picture ended at row %d of %d", p.row, p.format.height)
	}
	for whole := p.per * p.stride; len(p.rows) > 0; {
		p.deflate(min(p.jobs, (len(p.rows)+whole-1)/whole))
	}
	if !p.started {
		return errors.New("the picture has no rows")
	}
	p.chunk(binary.BigEndian.AppendUint32([]byte{0x03, 0x00}, p.sum.Sum32()))
	p.started, p.row = false, 0
	return nil
}

// end writes the rest of the file.
func (p *pngRows) end(notes []Note) error {
	if err := p.data(); err != nil {
		return err
	}
	writeNotes(p.w, notes)
	writeChunk(p.w, "IEND", nil)
	return p.w.Flush()
}
