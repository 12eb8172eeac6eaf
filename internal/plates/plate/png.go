package plate

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
)

// PNGWriter is a Sink that writes one 8-bit gray PNG a plate, band by band: 255 = full toner. Plates
// without toner get no file unless Empty is set. The bytes do not depend on how the bands are cut.
// Files appear under their names in End, all or none.
type PNGWriter struct {
	Dir    string // must exist
	Prefix string // before the plate's name: "p1-" makes p1-White.png
	Empty  bool   // write plates without toner too

	// Files are the names written by End, by plate; "" = none.
	Files []string

	progress progress
	blocks   *blocks
	plates   []pngPlate
}

type pngPlate struct {
	name    string
	out     *atomicFile // nil until there is toner
	buf     *bufio.Writer
	sum     checksum
	last    []byte // the row above the next, nil = without toner
	waiting int    // rows without toner not yet written
}

// Begin implements Sink.
func (p *PNGWriter) Begin(h Header) error {
	if err := p.progress.begin(h); err != nil {
		return err
	}
	p.plates = make([]pngPlate, h.Set.Len())
	p.Files = nil
	for i, name := range FileNames(h.Set) {
		p.plates[i].name = filepath.Join(p.Dir, p.Prefix+name+".png")
		p.plates[i].sum = newChecksum()
	}
	p.blocks = newBlocks(h, blockBytes, p.block)
	return nil
}

// Band implements Sink.
func (p *PNGWriter) Band(b *Band) error {
	if err := p.progress.band(b); err != nil {
		return err
	}
	err := p.blocks.band(b)
	if err != nil {
		p.Abort()
	}
	return err
}

// block deflates and writes rows of every plate.
func (p *PNGWriter) block(_, rows int, planes [][]byte) error {
	pieces := make([][]piece, len(p.plates))
	eachPlate(len(p.plates), func(i int) {
		if planes[i] == nil {
			p.plates[i].waiting += rows
		} else {
			pieces[i] = p.plates[i].rows(planes[i], p.progress.header.Width)
		}
	})
	for i, list := range pieces {
		if len(list) == 0 {
			continue
		}
		if err := p.write(i, list); err != nil {
			return err
		}
	}
	return nil
}

// rows filters and deflates rows with toner, after those waiting. PNG's filter Up makes a row equal to the one
// above into zeros.
func (q *pngPlate) rows(plane []byte, width int) []piece {
	list := q.blankRows(width)
	rows := len(plane) / width
	filtered := make([]byte, 0, rows*(width+1))
	above := q.last
	if above == nil {
		above = make([]byte, width)
	}
	for y := range rows {
		row := plane[y*width : (y+1)*width]
		filtered = append(filtered, pngFilterUp)
		for x, v := range row {
			filtered = append(filtered, v-above[x])
		}
		above = row
	}
	q.last = append(q.last[:0], above...)
	return append(list, newPiece(filtered))
}

const pngFilterUp = 2

// blankRows makes the waiting rows: the first goes back to no toner, the others are filtered with
// None, which is the byte 0, so that all of them are zeros.
func (q *pngPlate) blankRows(width int) []piece {
	if q.waiting == 0 {
		return nil
	}
	p := newZeroPiece(q.waiting * (width + 1))
	q.waiting, q.last = 0, nil
	return []piece{p}
}

// write opens plate i's file where need be and adds pieces.
func (p *PNGWriter) write(i int, list []piece) error {
	q := &p.plates[i]
	if q.out == nil {
		out, err := createAtomic(q.name)
		if err != nil {
			return err
		}
		q.out, q.buf = out, bufio.NewWriterSize(out.file, 1<<16)
		p.head(q.buf, i)
	}
	for _, piece := range list {
		q.sum.addPiece(piece)
		if err := writeChunk(q.buf, "IDAT", piece.data); err != nil {
			return err
		}
	}
	return nil
}

// head writes the chunks before the picture, with the exact name of the colourant and its place in
// the set.
func (p *PNGWriter) head(w *bufio.Writer, i int) {
	h := p.progress.header
	w.WriteString("\x89PNG\r\n\x1a\n")
	ihdr := binary.BigEndian.AppendUint32(nil, uint32(h.Width))
	ihdr = binary.BigEndian.AppendUint32(ihdr, uint32(h.Height))
	writeChunk(w, "IHDR", append(ihdr, 8, 0, 0, 0, 0))
	if h.DPI > 0 {
		perMetre := uint32(math.Round(h.DPI / 0.0254))
		phys := binary.BigEndian.AppendUint32(nil, perMetre)
		writeChunk(w, "pHYs", append(binary.BigEndian.AppendUint32(phys, perMetre), 1))
	}
	writeChunk(w, "tEXt", []byte(pngNameKey+"\x00"+h.Set.At(i).Name))
	writeChunk(w, "tEXt", fmt.Appendf(nil, "%s\x00%d of %d, 255 = full toner", pngPlateKey, i+1, h.Set.Len()))
	writeChunk(w, "IDAT", zlibHeader)
}

// Keywords of the text chunks: the colourant's name and which plate of how many it is.
const (
	pngNameKey  = "Title"
	pngPlateKey = "Plate"
)

// writeChunk writes a PNG chunk. Errors of a bufio.Writer stay until its Flush, so callers may leave
// them to that.
func writeChunk(w *bufio.Writer, kind string, data []byte) error {
	var head [8]byte
	binary.BigEndian.PutUint32(head[:], uint32(len(data)))
	copy(head[4:], kind)
	w.Write(head[:])
	w.Write(data)
	sum := crc32.Update(crc32.ChecksumIEEE(head[4:]), crc32.IEEETable, data)
	_, err := w.Write(binary.BigEndian.AppendUint32(nil, sum))
	return err
}

// End implements Sink.
func (p *PNGWriter) End() error {
	err := p.progress.end()
	for i := range p.plates {
		if err == nil && (p.Empty || p.plates[i].out != nil) {
			err = p.finish(i)
		}
	}
	files := make([]string, len(p.plates))
	for i := range p.plates {
		q := &p.plates[i]
		if err != nil || q.out == nil {
			continue
		}
		if err = q.out.commit(); err == nil {
			files[i] = q.name
		}
		q.out = nil
	}
	if err != nil {
		for _, name := range files {
			if name != "" {
				err = errors.Join(err, os.Remove(name))
			}
		}
		p.Abort()
		return err
	}
	p.Files, p.plates, p.blocks = files, nil, nil
	return nil
}

// finish writes plate i to its end, the file not yet in its place.
func (p *PNGWriter) finish(i int) error {
	q := &p.plates[i]
	if err := p.write(i, q.blankRows(p.progress.header.Width)); err != nil {
		return err
	}
	writeChunk(q.buf, "IDAT", append(append([]byte(nil), zlibEnd...), q.sum.bytes()...))
	writeChunk(q.buf, "IEND", nil)
	return q.buf.Flush()
}

// Abort implements Aborter: nothing is left behind.
func (p *PNGWriter) Abort() {
	for i := range p.plates {
		if q := &p.plates[i]; q.out != nil {
			q.out.discard()
			q.out = nil
		}
	}
	p.plates, p.blocks = nil, nil
}
