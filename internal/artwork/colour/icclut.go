package colour

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// iccPipeline is one direction of a profile: stages between device values 0..1 and the encoded
// connection space, at most four channels wide. It is immutable.
type iccPipeline struct {
	stages []iccStage
	pcs    pcsEncoding
	fast   *printer // to the device, where it has the common shape
}

// iccStage is one of three.
type iccStage struct {
	curves []*iccCurve
	matrix *[12]float64 // 3 x 3 row by row, then the offsets
	grid   *iccGrid
}

// pcsEncoding is how 0..1 stands for the connection space (ICC.1, 6.3.4).
type pcsEncoding uint8

const (
	pcsXYZ       pcsEncoding = iota // 1 = 1 + 32767/32768
	pcsLab                          // L* 100, a* and b* -128..127
	pcsLabLegacy                    // lut16Type: 65280 = L* 100, 256 steps per unit of a* and b*
)

const xyzUnit = 1 + 32767.0/32768

// decode turns encoded numbers into L*, a*, b* or X, Y, Z.
func (e pcsEncoding) decode(v *[4]float64) [3]float64 {
	switch e {
	case pcsLab:
		return [3]float64{float64(v[0] * 100), float64(v[1]*255) - 128, float64(v[2]*255) - 128}
	case pcsLabLegacy:
		return [3]float64{float64(v[0] * (65535.0 / 652.80)), float64(v[1]*(65535.0/256)) - 128, float64(v[2]*(65535.0/256)) - 128}
	}
	return [3]float64{float64(v[0] * xyzUnit), float64(v[1] * xyzUnit), float64(v[2] * xyzUnit)}
}

func (e pcsEncoding) encode(c [3]float64) (v [4]float64) {
	switch e {
	case pcsLab:
		return [4]float64{c[0] / 100, (c[1] + 128) / 255, (c[2] + 128) / 255}
	case pcsLabLegacy:
		return [4]float64{c[0] * (652.80 / 65535), (c[1] + 128) * (256.0 / 65535), (c[2] + 128) * (256.0 / 65535)}
	}
	return [4]float64{c[0] / xyzUnit, c[1] / xyzUnit, c[2] / xyzUnit}
}

func (p *iccPipeline) run(v *[4]float64) {
	for i := range p.stages {
		s := &p.stages[i]
		switch {
		case s.grid != nil:
			s.grid.at(v)
		case s.matrix != nil:
			m, a, b, c := s.matrix, v[0], v[1], v[2]
			v[0] = float64(m[0]*a) + float64(m[1]*b) + float64(m[2]*c) + m[9]
			v[1] = float64(m[3]*a) + float64(m[4]*b) + float64(m[5]*c) + m[10]
			v[2] = float64(m[6]*a) + float64(m[7]*b) + float64(m[8]*c) + m[11]
		default:
			for k, c := range s.curves {
				v[k] = c.at(v[k])
			}
		}
	}
}

var errTable = errors.New("a table of the ICC profile is damaged")

// readICCTable reads a tag of type lut8Type, lut16Type, lutAToBType or lutBToAType (ICC.1, 10.10
// to 10.13). toPCS tells the direction, n the device channels, lab the connection space.
func readICCTable(d []byte, toPCS bool, n int, lab bool) (*iccPipeline, error) {
	if len(d) < 32 {
		return nil, errTable
	}
	in, out := n, 3
	if !toPCS {
		in, out = 3, n
	}
	if int(d[8]) != in || int(d[9]) != out {
		return nil, fmt.Errorf("%w: %d numbers become %d", errTable, d[8], d[9])
	}
	p := &iccPipeline{pcs: pcsXYZ}
	if lab {
		p.pcs = pcsLab
	}
	var err error
	switch string(d[:4]) {
	case "mft1", "mft2":
		if lab && string(d[:4]) == "mft2" {
			p.pcs = pcsLabLegacy
		}
		err = p.readOld(d, in, out, !toPCS && !lab)
	case "mAB ":
		if !toPCS {
			return nil, errTable
		}
		err = p.readNew(d, in, out, true)
	case "mBA ":
		if toPCS {
			return nil, errTable
		}
		err = p.readNew(d, in, out, false)
	default:
		return nil, errTable
	}
	if err != nil {
		return nil, err
	}
	// Where Lab values are the index, neighbours are weighed alike in each direction: the neutral axis
	// is no diagonal of the grid there.
	for i := range p.stages {
		if g := p.stages[i].grid; g != nil {
			g.linear = !toPCS && lab
		}
	}
	if !toPCS {
		p.fast = newPrinter(p)
	}
	return p, nil
}

// readOld reads lut8Type and lut16Type: matrix (used where the input is X, Y, Z), curves, grid, curves.
func (p *iccPipeline) readOld(d []byte, in, out int, matrix bool) error {
	if len(d) < 52 {
		return errTable
	}
	if matrix {
		p.stages = append(p.stages, iccStage{matrix: readMatrix9(d[12:])})
	}
	points, entriesIn, entriesOut, at, wide := int(d[10]), 256, 256, 48, 1
	read := tableFrom8
	if d[3] == '2' {
		entriesIn, entriesOut, at, wide = int(binary.BigEndian.Uint16(d[48:])), int(binary.BigEndian.Uint16(d[50:])), 52, 2
		read = tableFrom16
	}
	if entriesIn < 2 || entriesOut < 2 {
		return errTable
	}
	curves := func(count, entries int) error {
		var s iccStage
		for range count {
			if at+entries*wide > len(d) {
				return errTable
			}
			s.curves = append(s.curves, &iccCurve{table: read(d[at:], entries), form: -1})
			at += entries * wide
		}
		p.stages = append(p.stages, s)
		return nil
	}
	if err := curves(in, entriesIn); err != nil {
		return err
	}
	grid := make([]int, in)
	for i := range grid {
		grid[i] = points
	}
	g, used, err := readICCGrid(d[at:], grid, out, wide)
	if err != nil {
		return err
	}
	at += used
	p.stages = append(p.stages, iccStage{grid: g})
	return curves(out, entriesOut)
}

func readMatrix9(d []byte) *[12]float64 {
	var m [12]float64
	for i := range 9 {
		m[i] = s15Fixed16(d[4*i:])
	}
	return &m
}

// readNew reads lutAToBType (A curves, grid, M curves, matrix, B curves) and lutBToAType (the same the
// other way round). Parts whose offset is 0 are absent.
func (p *iccPipeline) readNew(d []byte, in, out int, toPCS bool) error {
	offset := func(i int) int { return int(binary.BigEndian.Uint32(d[12+4*i:])) }
	b, matrix, m, grid, a := offset(0), offset(1), offset(2), offset(3), offset(4)
	nA, nB := in, out
	if !toPCS {
		nA, nB = out, in
	}
	var parts []iccStage
	add := func(off int, read func(d []byte) (iccStage, error)) error {
		if off == 0 {
			return nil
		}
		if off < 0 || off > len(d) {
			return errTable
		}
		s, err := read(d[off:])
		parts = append(parts, s)
		return err
	}
	err := errors.Join(
		add(a, func(d []byte) (iccStage, error) { return readCurveSet(d, nA) }),
		add(grid, func(d []byte) (iccStage, error) { return readNewGrid(d, in, out) }),
		add(m, func(d []byte) (iccStage, error) { return readCurveSet(d, 3) }),
		add(matrix, readMatrix12),
		add(b, func(d []byte) (iccStage, error) { return readCurveSet(d, nB) }))
	if err != nil {
		return errTable
	}
	if grid == 0 && in != out {
		return errTable // nothing makes the channels fit
	}
	if !toPCS {
		for i, j := 0, len(parts)-1; i < j; i, j = i+1, j-1 {
			parts[i], parts[j] = parts[j], parts[i]
		}
	}
	p.stages = parts
	return nil
}

func readMatrix12(d []byte) (iccStage, error) {
	if len(d) < 48 {
		return iccStage{}, errTable
	}
	var m [12]float64
	for i := range m {
		m[i] = s15Fixed16(d[4*i:])
	}
	return iccStage{matrix: &m}, nil
}

func readCurveSet(d []byte, n int) (s iccStage, err error) {
	plain := true
	for range n {
		c, size, err := readICCCurve(d)
		if err != nil {
			return s, err
		}
		plain = plain && c.identity()
		s.curves = append(s.curves, c)
		d = d[min((size+3)&^3, len(d)):]
	}
	if plain {
		s.curves = nil // runs as a stage that does nothing
	}
	return s, nil
}

func readNewGrid(d []byte, in, out int) (s iccStage, err error) {
	if len(d) < 20 || d[16] != 1 && d[16] != 2 {
		return s, errTable
	}
	grid := make([]int, in)
	for i := range grid {
		grid[i] = int(d[i])
	}
	s.grid, _, err = readICCGrid(d[20:], grid, out, int(d[16]))
	return s, err
}
