package pdf

import (
	"errors"
	"fmt"

	"laydown/internal/limits"
)

// unpredict undoes the predictor of FlateDecode and LZWDecode (7.4.4.4) in data, which is its own. err is what
// decoding gave.
func unpredict(parms Dict, data []byte, err error) ([]byte, error) {
	num := func(key Name, def int) int {
		if n, ok := intFrom(parms[key]); ok {
			return n
		}
		return def
	}
	pred := num("Predictor", 1)
	if pred <= 1 || len(data) == 0 {
		return data, err
	}
	colors, bpc, columns := num("Colors", 1), num("BitsPerComponent", 8), num("Columns", 1)
	switch bpc {
	case 1, 2, 4, 8, 16:
	default:
		return nil, errors.Join(err, fmt.Errorf("%w: a predictor for %d bits", ErrDamaged, bpc))
	}
	if colors < 1 || colors > 4*limits.MaxComponents || columns < 1 || columns > limits.MaxStreamBytes/colors {
		return nil, errors.Join(err, fmt.Errorf("%w: a predictor for %d colours in %d columns", ErrDamaged, colors, columns))
	}
	bits := colors * bpc
	row := (columns*bits + 7) / 8
	bpp := (bits + 7) / 8
	switch {
	case pred == 2:
		return tiffRows(data, row, colors, bpc, columns), err
	case pred >= 10 && pred <= 15:
		out, perr := pngRows(data, row, bpp)
		return out, errors.Join(err, perr)
	}
	return data, errors.Join(err, fmt.Errorf("%w: predictor %d", ErrUnsupportedFilter, pred))
}

// pngRows undoes PNG filters in place. Each row has its own type byte; what Predictor says beyond "PNG" is ignored.
func pngRows(data []byte, row, bpp int) ([]byte, error) {
	prev := make([]byte, min(row, len(data)))
	n := 0 // bytes done: a row ends before the place where it began, so none is lost
	var err error
	in := data
	for len(in) > 0 {
		kind := in[0]
		cur := data[n : n+min(row, len(in)-1)]
		copy(cur, in[1:])
		in = in[1+len(cur):]
		n += len(cur)
		switch kind {
		case 0:
		case 1:
			for i := bpp; i < len(cur); i++ {
				cur[i] += cur[i-bpp]
			}
		case 2:
			for i := range cur {
				cur[i] += prev[i]
			}
		case 3:
			for i := range min(bpp, len(cur)) {
				cur[i] += prev[i] / 2
			}
			for i := bpp; i < len(cur); i++ {
				cur[i] += byte((int(cur[i-bpp]) + int(prev[i])) / 2)
			}
		case 4:
			for i := range min(bpp, len(cur)) {
				cur[i] += prev[i]
			}
			for i := bpp; i < len(cur); i++ {
				cur[i] += paeth(cur[i-bpp], prev[i], prev[i-bpp])
			}
		default:
			if err == nil {
				err = fmt.Errorf("%w: a row with PNG filter %d", ErrDamaged, kind)
			}
		}
		prev = cur
	}
	return data[:n], err
}

func paeth(a, b, c byte) byte {
	p := int(a) + int(b) - int(c)
	pa, pb, pc := abs(p-int(a)), abs(p-int(b)), abs(p-int(c))
	switch {
	case pa <= pb && pa <= pc:
		return a
	case pb <= pc:
		return b
	}
	return c
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// tiffRows undoes horizontal differencing (TIFF 6.0 section 14) in place, for every depth PDF allows.
func tiffRows(out []byte, row, colors, bpc, columns int) []byte {
	for start := 0; start < len(out); start += row {
		line := out[start:min(start+row, len(out))]
		switch bpc {
		case 8:
			for i := colors; i < len(line); i++ {
				line[i] += line[i-colors]
			}
		case 16:
			for i := 2 * colors; i+1 < len(line); i += 2 {
				v := uint16(line[i])<<8 | uint16(line[i+1])
				v += uint16(line[i-2*colors])<<8 | uint16(line[i-2*colors+1])
				line[i], line[i+1] = byte(v>>8), byte(v)
			}
		default:
			mask := byte(1<<bpc - 1)
			last := make([]byte, colors)
			n := min(columns*colors, len(line)*8/bpc)
			for i := range n {
				bit := i * bpc
				shift := 8 - bpc - bit%8
				at := &line[bit/8]
				v := (*at>>shift + last[i%colors]) & mask
				last[i%colors] = v
				*at = *at&^(mask<<shift) | v<<shift
			}
		}
	}
	return out
}
