package plate

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/klauspost/compress/zlib"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

var errNotPlates = errors.New("not a TIFF file of plates as laydown writes them")

// ReadTIFF reads a file that TIFFWriter wrote.
func ReadTIFF(path string) (*Stack, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	s, err := readTIFF(f, info.Size())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, nil
}

// maxTIFFFields bounds the directory; TIFFWriter writes 22.
const maxTIFFFields = 200

// tiffReader reads from a file that may be damaged: sizes are checked against the file's before
// anything is made.
type tiffReader struct {
	r      io.ReaderAt
	size   int64
	big    bool
	fields map[uint16][]uint64
	names  string
}

func (t *tiffReader) at(offset uint64, n int64) ([]byte, error) {
	if offset > uint64(t.size) || n > t.size-int64(offset) || n < 0 {
		return nil, errNotPlates
	}
	b := make([]byte, n)
	_, err := t.r.ReadAt(b, int64(offset))
	return b, err
}

func readTIFF(r io.ReaderAt, size int64) (*Stack, error) {
	t := &tiffReader{r: r, size: size, fields: map[uint16][]uint64{}}
	if err := t.directory(); err != nil {
		return nil, err
	}
	h, err := t.header()
	if err != nil {
		return nil, err
	}
	s := NewStack(h.Header)
	for i, plate := range h.plates {
		if err := t.plane(s, i, plate); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// directory reads the fields of the first directory as numbers, InkNames as text.
func (t *tiffReader) directory() error {
	le := binary.LittleEndian
	head, err := t.at(0, 16)
	if err != nil {
		return errNotPlates
	}
	var start, count uint64
	entry := int64(12)
	switch string(head[:4]) {
	case "II*\x00":
		start = uint64(le.Uint32(head[4:]))
		b, err := t.at(start, 2)
		if err != nil {
			return err
		}
		count, start = uint64(le.Uint16(b)), start+2
	case "II+\x00":
		t.big, entry = true, 20
		start = le.Uint64(head[8:])
		b, err := t.at(start, 8)
		if err != nil {
			return err
		}
		count, start = le.Uint64(b), start+8
	default:
		return errNotPlates
	}
	if count > maxTIFFFields {
		return errNotPlates
	}
	b, err := t.at(start, int64(count)*entry)
	if err != nil {
		return err
	}
	for ; len(b) > 0; b = b[entry:] {
		if err := t.field(b[:entry]); err != nil {
			return err
		}
	}
	return nil
}

func (t *tiffReader) field(e []byte) error {
	le := binary.LittleEndian
	tag, kind := le.Uint16(e), le.Uint16(e[2:])
	count, value := uint64(le.Uint32(e[4:])), e[8:]
	if t.big {
		count, value = le.Uint64(e[4:]), e[12:]
	}
	size := typeSize[kind]
	if size == 0 || count > uint64(t.size) {
		return nil // of no use here
	}
	n := int64(count) * int64(size)
	if n > int64(len(value)) {
		offset := uint64(le.Uint32(value))
		if t.big {
			offset = le.Uint64(value)
		}
		var err error
		if value, err = t.at(offset, n); err != nil {
			return err
		}
	}
	if tag == tagInkNames {
		t.names = string(value[:n])
		return nil
	}
	numbers := make([]uint64, 0, count)
	for ; n > 0; n -= int64(size) {
		switch kind {
		case typeShort:
			numbers = append(numbers, uint64(le.Uint16(value)))
		case typeLong:
			numbers = append(numbers, uint64(le.Uint32(value)))
		case typeRational:
			numbers = append(numbers, uint64(le.Uint32(value)), uint64(le.Uint32(value[4:])))
		case typeLong8:
			numbers = append(numbers, le.Uint64(value))
		default:
			numbers = append(numbers, uint64(value[0]))
		}
		value = value[size:]
	}
	t.fields[tag] = numbers
	return nil
}

// one returns a field that is a single number.
func (t *tiffReader) one(tag uint16) uint64 {
	if v := t.fields[tag]; len(v) > 0 {
		return v[0]
	}
	return 0
}

// tiffHeader says which plate of the set each plane of the file is.
type tiffHeader struct {
	Header
	plates []int
}

func (t *tiffReader) header() (h tiffHeader, err error) {
	n := t.one(tagSamplesPerPixel)
	names := colourant.ProcessNames[:]
	if t.one(tagInkSet) == inkSetNamed {
		names = strings.Split(strings.TrimSuffix(t.names, "\x00"), "\x00")
	}
	width, height, rows := t.one(tagWidth), t.one(tagHeight), t.one(tagRowsPerStrip)
	if t.one(tagPhotometric) != photometricInks || t.one(tagPlanar) != planarSeparate || uint64(len(names)) != n || n > limits.MaxColourants ||
		uint64(len(t.fields[tagBitsPerSample])) != n || slices.ContainsFunc(t.fields[tagBitsPerSample], func(b uint64) bool { return b != 8 }) ||
		width > limits.MaxPlateSide || height > limits.MaxPlateSide || rows < 1 || rows > height {
		return h, errNotPlates
	}
	var specials []colourant.Colourant
	for _, name := range names {
		specials = append(specials, colourant.Colourant{Name: name})
	}
	h.Header = Header{Width: int(width), Height: int(height), Set: colourant.NewSet(specials...)}
	if res := t.fields[tagXResolution]; len(res) == 2 && res[1] > 0 && t.one(tagResolutionUnit) == 2 {
		h.DPI = float64(res[0]) / float64(res[1])
	}
	for _, name := range names {
		i, _ := h.Set.Lookup(name)
		if slices.Contains(h.plates, i) {
			return h, fmt.Errorf("the colourant %q has two plates", name)
		}
		h.plates = append(h.plates, i)
	}
	strips := (height + rows - 1) / rows * n
	if uint64(len(t.fields[tagStripOffsets])) != strips || uint64(len(t.fields[tagStripByteCounts])) != strips {
		return h, errNotPlates
	}
	return h, new(progress).begin(h.Header)
}

// plane reads plane i of the file into a plate.
func (t *tiffReader) plane(s *Stack, i, plate int) error {
	rows := int(t.one(tagRowsPerStrip))
	strips := len(t.fields[tagStripOffsets]) / int(t.one(tagSamplesPerPixel))
	for k := range strips {
		y := k * rows
		n := min(rows, s.Height-y) * s.Width
		data, err := t.strip(i*strips+k, n)
		if err != nil {
			return err
		}
		if t.one(tagPredictor) == predictorDiffer {
			for x := range data {
				if x%s.Width != 0 {
					data[x] += data[x-1]
				}
			}
		}
		if !blank(data) {
			copy(s.touch(plate)[y*s.Width:], data)
		}
	}
	return nil
}

// strip reads strip k, which holds n bytes once unpacked.
func (t *tiffReader) strip(k, n int) ([]byte, error) {
	count := t.fields[tagStripByteCounts][k]
	if count > uint64(t.size) {
		return nil, errNotPlates
	}
	data, err := t.at(t.fields[tagStripOffsets][k], int64(count))
	if err != nil {
		return nil, err
	}
	switch t.one(tagCompression) {
	case compressionNone:
		if len(data) != n {
			return nil, errNotPlates
		}
		return data, nil
	case compressionDeflate:
		z, err := zlib.NewReader(bytes.NewReader(data))
		if err != nil {
			return nil, err
		}
		out, err := io.ReadAll(io.LimitReader(z, int64(n)+1)) // one more, so that the checksum is met
		if err != nil {
			return nil, err
		}
		if len(out) != n {
			return nil, errNotPlates
		}
		return out, nil
	}
	return nil, errNotPlates
}
