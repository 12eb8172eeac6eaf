package plate

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

// PNGFiles lists the PNG files of dir whose names start with prefix, sorted.
func PNGFiles(dir, prefix string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var files []string
	for _, e := range entries {
		if n := e.Name(); !e.IsDir() && strings.HasPrefix(n, prefix) && strings.EqualFold(filepath.Ext(n), ".png") {
			files = append(files, filepath.Join(dir, n))
		}
	}
	return files, nil
}

// ReadPNGs reads plates that PNGWriter wrote, one a file, all of one size. Colourants stand in the
// order they had; a colourant without a file is without toner.
func ReadPNGs(files []string) (*Stack, error) {
	type found struct {
		name  string
		order int
		dpi   float64
		pic   *image.Gray
	}
	var plates []found
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		var p found
		if p.name, p.order, p.dpi, err = pngLabel(data); err == nil {
			p.pic, err = decodeGray(data)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		if len(plates) > 0 && p.pic.Rect != plates[0].pic.Rect {
			return nil, fmt.Errorf("%s: %d x %d pixels, %s has %d x %d", file, p.pic.Rect.Dx(), p.pic.Rect.Dy(),
				files[0], plates[0].pic.Rect.Dx(), plates[0].pic.Rect.Dy())
		}
		if slices.ContainsFunc(plates, func(q found) bool { return q.name == p.name }) {
			return nil, fmt.Errorf("%s: the colourant %q has two plates; give the files of one page", file, p.name)
		}
		plates = append(plates, p)
	}
	if len(plates) == 0 {
		return nil, fmt.Errorf("no PNG files of plates")
	}
	slices.SortStableFunc(plates, func(a, b found) int { return a.order - b.order })
	var specials []colourant.Colourant
	for _, p := range plates {
		specials = append(specials, colourant.Colourant{Name: p.name})
	}
	h := Header{Width: plates[0].pic.Rect.Dx(), Height: plates[0].pic.Rect.Dy(), DPI: plates[0].dpi, Set: colourant.NewSet(specials...)}
	if err := new(progress).begin(h); err != nil {
		return nil, err
	}
	s := NewStack(h)
	for _, p := range plates {
		i, _ := h.Set.Lookup(p.name)
		if !blank(p.pic.Pix) {
			s.SetPlane(i, p.pic.Pix)
		}
	}
	return s, nil
}

// decodeGray reads an 8-bit gray PNG after a look at its size.
func decodeGray(data []byte) (*image.Gray, error) {
	c, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if c.Width > limits.MaxPlateSide || c.Height > limits.MaxPlateSide || c.Width*c.Height > limits.MaxPagePixels {
		return nil, fmt.Errorf("%d x %d pixels are too many", c.Width, c.Height)
	}
	im, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	g, ok := im.(*image.Gray)
	if !ok {
		return nil, fmt.Errorf("not an 8-bit gray picture")
	}
	return g, nil
}

// pngLabel finds the colourant, its place and the resolution in the chunks before the picture.
func pngLabel(data []byte) (name string, order int, dpi float64, err error) {
	const signature, chunkHead, chunkEnd = 8, 8, 4
	named := false
	for p := signature; p+chunkHead <= len(data); {
		n, kind := int(binary.BigEndian.Uint32(data[p:])), string(data[p+4:p+chunkHead])
		p += chunkHead
		if n > len(data)-p || kind == "IDAT" {
			break
		}
		body := data[p : p+n]
		p += n + chunkEnd
		switch kind {
		case "pHYs":
			if n == 9 && body[8] == 1 {
				dpi = float64(binary.BigEndian.Uint32(body)) * 0.0254
			}
		case "tEXt":
			key, text, _ := strings.Cut(string(body), "\x00")
			if key == pngNameKey {
				name, named = text, true
			}
			if key == pngPlateKey {
				fmt.Sscanf(text, "%d", &order)
			}
		}
	}
	if !named {
		return "", 0, 0, fmt.Errorf("not a PNG file of a plate as laydown writes them: it names no colourant")
	}
	return name, order, dpi, nil
}
