// Package truth compares our plates with those of independent interpreters, run as programs, page by
// page and plate by plate. It is for tests only.
package truth

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"golang.org/x/image/tiff"
)

// Plates are the plates of one page: 255 = full toner, all of one size.
type Plates struct {
	W, H  int
	Plane map[string][]byte
}

// oracleTimeout ends an interpreter that does not come back.
const oracleTimeout = 100 * time.Second

// shrink is how many pixels of the interpreters, each way, are averaged to one: they mark whole pixels.
const shrink = 4

// DPI is the resolution plates of pages of a usual size are compared in. On a small page edges are much of
// what there is, and the interpreters' edges lie on their own pixels: it is compared in up to four times as many.
const DPI = 150

// dpiFor is the resolution a page of w x h pixels at DPI is compared in.
func dpiFor(w, h int) int {
	dpi := DPI
	for ; w*h < smallPage && dpi < 4*DPI; dpi *= 2 {
		w, h = 2*w, 2*h
	}
	return dpi
}

func run(ctx context.Context, dir, name string, args ...string) error {
	ctx, cancel := context.WithTimeout(ctx, oracleTimeout)
	defer cancel()
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir = dir
	var errOut bytes.Buffer
	cmd.Stderr = &errOut
	if err := cmd.Run(); err != nil {
		if ctx.Err() != nil {
			return fmt.Errorf("%s: no answer in %v", name, oracleTimeout)
		}
		return fmt.Errorf("%s: %w: %.200s", name, err, errOut.String())
	}
	return nil
}

// Ghostscript renders a page with the tiffsep device. It gives a range of pages, which takes a moment where all pages of a file take
// minutes; see GhostscriptAll. In the corpus no special plate that is not ours differs by it: on the four files that have such, the
// plates of the first page are the same with and without.
func Ghostscript(ctx context.Context, pdf string, page, dpi int) (*Plates, error) {
	pages, err := ghostscript(ctx, pdf, dpi, fmt.Sprintf("-dFirstPage=%d", page), fmt.Sprintf("-dLastPage=%d", page))
	if err != nil {
		return nil, err
	}
	return pages[0], nil
}

// GhostscriptAll renders all pages in one go. It gives no range of pages: with one, version 10.00 leaves the plates of special
// colourants empty on pages with transparency.
func GhostscriptAll(ctx context.Context, pdf string, dpi int) ([]*Plates, error) {
	return ghostscript(ctx, pdf, dpi)
}

// ghostscript renders the pages the options choose, at least one.
func ghostscript(ctx context.Context, pdf string, dpi int, options ...string) (out []*Plates, err error) {
	dir, err := os.MkdirTemp("", "laydown-gs-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	args := append([]string{"-q", "-sDEVICE=tiffsep", fmt.Sprintf("-r%d", shrink*dpi), fmt.Sprintf("-dDownScaleFactor=%d", shrink),
		"-dUseFastColor=true", "-dUseCropBox", "-dMaxSpots=60", "-dSAFER", "-dNOPAUSE", "-dBATCH"}, options...)
	if err := run(ctx, dir, "gs", append(args, "-sOutputFile=p%d.tif", pdf)...); err != nil {
		return nil, err
	}
	for n := 1; ; n++ {
		if _, err := os.Stat(filepath.Join(dir, fmt.Sprintf("p%d.tif", n))); n > 1 && err != nil {
			return out, nil
		}
		p, err := readTIFFs(dir, fmt.Sprintf("p%d", n))
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
}

// readTIFFs reads the plates of the page called base.
func readTIFFs(dir, base string) (*Plates, error) {
	files, err := filepath.Glob(filepath.Join(dir, base+"(*).tif"))
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		return nil, errors.New("gs: no output")
	}
	out := &Plates{Plane: map[string][]byte{}}
	for _, f := range files {
		name := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), base+"("), ").tif")
		w, h, plane, err := readTIFF(f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", filepath.Base(f), err)
		}
		out.W, out.H = w, h
		out.Plane[name] = plane
	}
	return out, nil
}

func readTIFF(file string) (w, h int, plane []byte, err error) {
	f, err := os.Open(file)
	if err != nil {
		return 0, 0, nil, err
	}
	defer f.Close()
	img, err := tiff.Decode(bufio.NewReader(f))
	if err != nil {
		return 0, 0, nil, err
	}
	b := img.Bounds()
	plane = make([]byte, b.Dx()*b.Dy())
	gray, ok := img.(*image.Gray)
	for y := range b.Dy() {
		for x := range b.Dx() {
			v := byte(0)
			if ok {
				v = gray.GrayAt(b.Min.X+x, b.Min.Y+y).Y
			} else {
				v = color.GrayModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.Gray).Y
			}
			plane[y*b.Dx()+x] = 255 - v
		}
	}
	return b.Dx(), b.Dy(), plane, nil
}

// MuPDF renders a page with overprint to a layered file and averages it.
func MuPDF(ctx context.Context, pdf string, page, dpi int) (*Plates, error) {
	dir, err := os.MkdirTemp("", "laydown-mutool-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := run(ctx, dir, "mutool", "draw", "-q", "-r", strconv.Itoa(shrink*dpi), "-A", "0", "-O", "2", "-o", "p.psd", pdf, strconv.Itoa(page)); err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join(dir, "p.psd"))
	if err != nil {
		return nil, errors.New("mutool: no output")
	}
	defer f.Close()
	return readPSD(bufio.NewReaderSize(f, 1<<20))
}

// psdProcess are the colour channels of a CMYK file in order.
var psdProcess = []string{"Cyan", "Magenta", "Yellow", "Black"}

// readPSD reads a flat 8-bit file with raw or run-length data: colour channels, an alpha channel if
// there is one, then spot channels named by image resource 1006 or 1045.
func readPSD(r *bufio.Reader) (*Plates, error) {
	head := make([]byte, 26)
	if _, err := io.ReadFull(r, head); err != nil || string(head[:4]) != "8BPS" {
		return nil, errors.New("mutool: output cannot be read")
	}
	be := binary.BigEndian
	n, h, w := int(be.Uint16(head[12:])), int(be.Uint32(head[14:])), int(be.Uint32(head[18:]))
	if depth, mode := be.Uint16(head[22:]), be.Uint16(head[24:]); depth != 8 || mode != 4 {
		return nil, fmt.Errorf("mutool: depth %d mode %d", depth, mode)
	}
	section := func() ([]byte, error) {
		var l [4]byte
		if _, err := io.ReadFull(r, l[:]); err != nil {
			return nil, err
		}
		b := make([]byte, be.Uint32(l[:]))
		_, err := io.ReadFull(r, b)
		return b, err
	}
	if _, err := section(); err != nil {
		return nil, err
	}
	resources, err := section()
	if err != nil {
		return nil, err
	}
	if _, err := section(); err != nil {
		return nil, err
	}
	names := channelNames(resources)
	var comp [2]byte
	if _, err := io.ReadFull(r, comp[:]); err != nil {
		return nil, err
	}
	extra := n - 4
	if extra < len(names) {
		names = names[len(names)-extra:] // colorants that come first in the list are the process ones
	}
	out := &Plates{W: (w + shrink - 1) / shrink, H: (h + shrink - 1) / shrink, Plane: map[string][]byte{}}
	var counts []int
	if c := be.Uint16(comp[:]); c == 1 {
		table := make([]byte, 2*n*h)
		if _, err := io.ReadFull(r, table); err != nil {
			return nil, err
		}
		for i := 0; i < len(table); i += 2 {
			counts = append(counts, int(be.Uint16(table[i:])))
		}
	} else if c != 0 {
		return nil, fmt.Errorf("mutool: compression %d", c)
	}
	row := make([]byte, w)
	for c := range n {
		name := ""
		switch {
		case c < 4:
			name = psdProcess[c]
		case n-c <= len(names): // the last channels are the spots
			name = names[len(names)-(n-c)]
		}
		sum := make([]uint32, out.W*out.H)
		for y := range h {
			if counts != nil {
				packed := make([]byte, counts[c*h+y])
				if _, err := io.ReadFull(r, packed); err != nil {
					return nil, err
				}
				unpack(row, packed)
			} else if _, err := io.ReadFull(r, row); err != nil {
				return nil, err
			}
			line := sum[y/shrink*out.W:]
			for x, v := range row {
				line[x/shrink] += uint32(255 - v)
			}
		}
		if name == "" {
			continue
		}
		plane := make([]byte, len(sum))
		for i, s := range sum {
			// Cells cut by the right and bottom edge average what they hold.
			nx, ny := min(shrink, w-i%out.W*shrink), min(shrink, h-i/out.W*shrink)
			cells := uint32(nx * ny)
			plane[i] = byte((s + cells/2) / cells)
		}
		out.Plane[name] = plane
	}
	return out, nil
}

// unpack is the byte run-length code of the file format.
func unpack(dst, src []byte) {
	i := 0
	for len(src) > 0 && i < len(dst) {
		n := int(int8(src[0]))
		src = src[1:]
		switch {
		case n >= 0:
			k := copy(dst[i:], src[:min(n+1, len(src))])
			i += k
			src = src[min(n+1, len(src)):]
		case n != -128 && len(src) > 0:
			for k := 0; k < 1-n && i < len(dst); k++ {
				dst[i] = src[0]
				i++
			}
			src = src[1:]
		}
	}
}

// channelNames reads the names of the extra channels, preferring the Unicode list.
func channelNames(b []byte) []string {
	be := binary.BigEndian
	var pascal, unicode []string
	for len(b) >= 12 && string(b[:4]) == "8BIM" {
		id := be.Uint16(b[4:])
		skip := 6 + (int(b[6])+2)&^1
		if len(b) < skip+4 {
			break
		}
		size := int(be.Uint32(b[skip:]))
		data := b[skip+4:]
		if size > len(data) {
			break
		}
		body := data[:size]
		switch id {
		case 1006:
			for len(body) > 0 && body[0] > 0 && int(body[0]) < len(body) { // a zero at the end is padding
				pascal = append(pascal, string(body[1:1+int(body[0])]))
				body = body[1+int(body[0]):]
			}
		case 1045:
			for len(body) >= 4 {
				n := int(be.Uint32(body))
				body = body[4:]
				if 2*n > len(body) {
					break
				}
				u := make([]uint16, n)
				for i := range u {
					u[i] = be.Uint16(body[2*i:])
				}
				unicode = append(unicode, strings.TrimRight(string(utf16.Decode(u)), "\x00"))
				body = body[2*n:]
			}
		}
		b = data[min(len(data), (size+1)&^1):]
	}
	if len(unicode) >= len(pascal) && len(unicode) > 0 {
		return unicode
	}
	return pascal
}
