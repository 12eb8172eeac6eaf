package plate

import (
	"encoding/binary"
	"math"
	"slices"
	"strings"

	"laydown/internal/colourant"
)

// TIFFWriter is a Sink that writes all plates into one TIFF 6.0 file: separated (5), planar, 8 bits,
// 255 = full toner (DotRange 0 255), the exact colourant names in InkNames; files beyond 4 GB are BigTIFF.
//
// Without compression each plane lies in one piece, and an untouched plate is a hole in the file
// where the file system can do that. The file appears under its name in End.
type TIFFWriter struct {
	Path     string
	Compress bool // Deflate with horizontal differencing, else none

	progress  progress
	out       *atomicFile
	forceBig  bool // for tests, as is stripSize
	stripSize int
	big       bool // BigTIFF
	stripRows int
	offsets   []uint64 // by plane, then strip
	counts    []uint64
	at        int64   // end of what is written, when compressing
	blocks    *blocks // compressing: the strips
}

// classicLimit is how much plate data a file with 32-bit offsets is trusted with.
const classicLimit = 1<<32 - 1<<24

// Begin implements Sink.
func (t *TIFFWriter) Begin(h Header) error {
	if err := t.progress.begin(h); err != nil {
		return err
	}
	n := int64(h.Set.Len())
	size := n * int64(h.Width) * int64(h.Height)
	t.big = t.forceBig || size+size/1000 > classicLimit // deflate may grow a little
	if t.stripSize == 0 {
		t.stripSize = blockBytes
	}
	t.blocks = newBlocks(h, t.stripSize, t.writeStrip)
	t.stripRows = t.blocks.rows
	strips := int(n) * t.strips()
	t.offsets, t.counts = make([]uint64, strips), make([]uint64, strips)
	t.at = 16
	var err error
	t.out, err = createAtomic(t.Path)
	return err
}

// strips is the number of strips of a plane.
func (t *TIFFWriter) strips() int { return (t.progress.header.Height + t.stripRows - 1) / t.stripRows }

// Band implements Sink.
func (t *TIFFWriter) Band(b *Band) error {
	if err := t.progress.band(b); err != nil {
		return err
	}
	err := t.band(b)
	if err != nil {
		t.Abort()
	}
	return err
}

func (t *TIFFWriter) band(b *Band) error {
	w := t.progress.header.Width
	if !t.Compress {
		for i, plane := range b.Planes {
			if plane == nil {
				continue
			}
			if _, err := t.out.file.WriteAt(plane, t.planeAt(i)+int64(b.Y0)*int64(w)); err != nil {
				return err
			}
		}
		return nil
	}
	return t.blocks.band(b)
}

// planeAt is where plane i starts in an uncompressed file.
func (t *TIFFWriter) planeAt(i int) int64 {
	return 16 + int64(i)*int64(t.progress.header.Width)*int64(t.progress.header.Height)
}

func (t *TIFFWriter) stripHeight(strip int) int {
	return min(t.stripRows, t.progress.header.Height-strip*t.stripRows)
}

// writeStrip deflates a strip of every plane, in the order of the plates.
func (t *TIFFWriter) writeStrip(y0, rows int, planes [][]byte) error {
	w := t.progress.header.Width
	packed := make([][]byte, len(planes))
	eachPlate(len(planes), func(i int) {
		sum := newChecksum()
		var p piece
		if planes[i] == nil {
			p = newZeroPiece(w * rows)
		} else {
			differ(planes[i], w)
			p = newPiece(planes[i])
		}
		sum.addPiece(p)
		packed[i] = slices.Concat(zlibHeader, p.data, zlibEnd, sum.bytes())
	})
	for i, data := range packed {
		k := i*t.strips() + y0/t.stripRows
		t.offsets[k], t.counts[k] = uint64(t.at), uint64(len(data))
		if _, err := t.out.file.WriteAt(data, t.at); err != nil {
			return err
		}
		t.at += int64(len(data))
	}
	return nil
}

// differ replaces each byte of a row by its difference from the one before (Predictor 2).
func differ(rows []byte, width int) {
	for ; len(rows) >= width; rows = rows[width:] {
		for x := width - 1; x > 0; x-- {
			rows[x] -= rows[x-1]
		}
	}
}

// End implements Sink.
func (t *TIFFWriter) End() error {
	err := t.progress.end()
	if err == nil {
		err = t.finish()
	}
	if err != nil {
		t.Abort()
		return err
	}
	out := t.out
	t.out, t.blocks = nil, nil
	return out.commit()
}

// Abort implements Aborter: nothing is left behind.
func (t *TIFFWriter) Abort() {
	if t.out != nil {
		t.out.discard()
	}
	t.out, t.blocks = nil, nil
}

// finish writes the directory after the planes and the header before them.
func (t *TIFFWriter) finish() error {
	h := t.progress.header
	if !t.Compress {
		for i := range h.Set.Len() {
			for s := range t.strips() {
				k := i*t.strips() + s
				t.offsets[k] = uint64(t.planeAt(i) + int64(s)*int64(t.stripRows)*int64(h.Width))
				t.counts[k] = uint64(t.stripHeight(s) * h.Width)
			}
		}
		t.at = t.planeAt(h.Set.Len())
	}
	t.at += t.at & 1 // directories start on a word boundary
	if err := t.out.file.Truncate(t.at); err != nil {
		return err
	}
	head := binary.LittleEndian.AppendUint32([]byte("II*\x00"), uint32(t.at))
	if t.big {
		head = binary.LittleEndian.AppendUint64([]byte("II+\x00\x08\x00\x00\x00"), uint64(t.at))
	}
	_, err := t.out.file.WriteAt(t.directory(), t.at)
	if err == nil {
		_, err = t.out.file.WriteAt(head, 0)
	}
	return err
}

// TIFF tags used here (TIFF 6.0, sections 8 and 16).
const (
	tagSubfileType     = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBitsPerSample   = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamplesPerPixel = 277
	tagRowsPerStrip    = 278
	tagStripByteCounts = 279
	tagXResolution     = 282
	tagYResolution     = 283
	tagPlanar          = 284
	tagResolutionUnit  = 296
	tagSoftware        = 305
	tagPredictor       = 317
	tagInkSet          = 332
	tagInkNames        = 333
	tagNumberOfInks    = 334
	tagDotRange        = 336
)

// Field types and their sizes.
const (
	typeASCII    = 2
	typeShort    = 3
	typeLong     = 4
	typeRational = 5
	typeLong8    = 16
)

var typeSize = map[uint16]int{1: 1, typeASCII: 1, typeShort: 2, typeLong: 4, typeRational: 8, typeLong8: 8}

const (
	compressionNone    = 1
	compressionDeflate = 8
	photometricInks    = 5
	planarSeparate     = 2
	inkSetCMYK         = 1
	inkSetNamed        = 2
	predictorDiffer    = 2
)

// directory makes the one directory of the file, standing at t.at, and the values that do not fit in it.
func (t *TIFFWriter) directory() []byte {
	h := t.progress.header
	n := h.Set.Len()
	d := directory{big: t.big}
	d.longs(tagSubfileType, 0)
	d.longs(tagWidth, uint64(h.Width))
	d.longs(tagHeight, uint64(h.Height))
	d.shorts(tagBitsPerSample, slices.Repeat([]uint16{8}, n)...)
	if t.Compress {
		d.shorts(tagCompression, compressionDeflate)
	} else {
		d.shorts(tagCompression, compressionNone)
	}
	d.shorts(tagPhotometric, photometricInks)
	d.offsets(tagStripOffsets, t.offsets)
	d.shorts(tagOrientation, 1)
	d.shorts(tagSamplesPerPixel, uint16(n))
	d.longs(tagRowsPerStrip, uint64(t.stripRows))
	d.offsets(tagStripByteCounts, t.counts)
	unit, num, den := uint16(2), uint64(math.Round(h.DPI*1000)), uint64(1000) // per inch
	if !(h.DPI > 0 && h.DPI < 1e6) {
		unit, num, den = 1, 1, 1
	}
	d.add(tagXResolution, typeRational, 1, rational(num, den))
	d.add(tagYResolution, typeRational, 1, rational(num, den))
	d.shorts(tagPlanar, planarSeparate)
	d.shorts(tagResolutionUnit, unit)
	d.ascii(tagSoftware, "laydown\x00")
	if t.Compress {
		d.shorts(tagPredictor, predictorDiffer)
	}
	if n == len(colourant.ProcessNames) {
		d.shorts(tagInkSet, inkSetCMYK) // names are for other sets only
	} else {
		var names strings.Builder
		for _, c := range h.Set.All() {
			names.WriteString(strings.ReplaceAll(c.Name, "\x00", "?") + "\x00") // NUL ends a name
		}
		d.shorts(tagInkSet, inkSetNamed)
		d.ascii(tagInkNames, names.String())
	}
	d.shorts(tagNumberOfInks, uint16(n))
	d.shorts(tagDotRange, 0, 255)
	return d.bytes(t.at)
}

// directory collects fields in ascending order of their tags.
type directory struct {
	big    bool
	fields []field
}

type field struct {
	tag, kind uint16
	count     uint64
	value     []byte
}

func (d *directory) add(tag, kind uint16, count int, value []byte) {
	d.fields = append(d.fields, field{tag, kind, uint64(count), value})
}

func (d *directory) shorts(tag uint16, v ...uint16) {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint16(b, x)
	}
	d.add(tag, typeShort, len(v), b)
}

func (d *directory) longs(tag uint16, v ...uint64) {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, uint32(x))
	}
	d.add(tag, typeLong, len(v), b)
}

// offsets are as wide as the file needs.
func (d *directory) offsets(tag uint16, v []uint64) {
	if !d.big {
		d.longs(tag, v...)
		return
	}
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, x)
	}
	d.add(tag, typeLong8, len(v), b)
}

func (d *directory) ascii(tag uint16, s string) { d.add(tag, typeASCII, len(s), []byte(s)) }

func rational(num, den uint64) []byte {
	return binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(nil, uint32(num)), uint32(den))
}

// bytes writes the directory as it stands at offset at, long values after it.
func (d *directory) bytes(at int64) []byte {
	le := binary.LittleEndian
	word, entry, head := 4, 12, 2
	if d.big {
		word, entry, head = 8, 20, 8
	}
	offset := func(b []byte, v uint64) []byte {
		if d.big {
			return le.AppendUint64(b, v)
		}
		return le.AppendUint32(b, uint32(v))
	}
	next := uint64(at) + uint64(head+entry*len(d.fields)+word)
	var out, values []byte
	if d.big {
		out = le.AppendUint64(out, uint64(len(d.fields)))
	} else {
		out = le.AppendUint16(out, uint16(len(d.fields)))
	}
	for _, f := range d.fields {
		out = le.AppendUint16(le.AppendUint16(out, f.tag), f.kind)
		out = offset(out, f.count)
		if len(f.value) <= word {
			out = append(out, f.value...)
			out = append(out, make([]byte, word-len(f.value))...)
			continue
		}
		out = offset(out, next+uint64(len(values)))
		values = append(values, f.value...)
		if len(values)%2 != 0 {
			values = append(values, 0)
		}
	}
	out = offset(out, 0) // no further directory
	return append(out, values...)
}
