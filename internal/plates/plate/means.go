package plate

import "encoding/binary"

// Means is a Sink that measures the mean tint of every plate and nothing else. Read Percent after End.
type Means struct {
	Percent []float64 // by plate, of full tint, over the whole page

	progress progress
	sums     []uint64
}

// Begin implements Sink.
func (m *Means) Begin(h Header) error {
	if err := m.progress.begin(h); err != nil {
		return err
	}
	m.Percent, m.sums = nil, make([]uint64, h.Set.Len())
	return nil
}

// Band implements Sink.
func (m *Means) Band(b *Band) error {
	if err := m.progress.band(b); err != nil {
		return err
	}
	for i, plane := range b.Planes {
		m.sums[i] += sum(plane)
	}
	return nil
}

// End implements Sink.
func (m *Means) End() error {
	if err := m.progress.end(); err != nil {
		return err
	}
	pixels := float64(m.progress.header.Width) * float64(m.progress.header.Height)
	m.Percent = make([]float64, len(m.sums))
	for i, sum := range m.sums {
		m.Percent[i] = float64(sum) / 255 * 100 / pixels
	}
	return nil
}

// sum adds the bytes of b, eight at a time: even and odd ones in four lanes of 16 bits each, which
// hold 128 rounds of two bytes.
func sum(b []byte) (s uint64) {
	const lanes = 0x00FF00FF00FF00FF
	for len(b) >= 8 {
		part := b[:min(len(b), 8*128)&^7]
		b = b[len(part):]
		var acc uint64
		for ; len(part) >= 8; part = part[8:] {
			v := binary.LittleEndian.Uint64(part)
			acc += v&lanes + v>>8&lanes
		}
		s += acc&0xFFFF + acc>>16&0xFFFF + acc>>32&0xFFFF + acc>>48
	}
	for _, v := range b {
		s += uint64(v)
	}
	return s
}
