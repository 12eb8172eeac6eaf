package paint

// full is alpha 1 and a solid tint with 16 bits.
const full = 0xFFFF

// mul16 multiplies two fractions, rounded to nearest.
func mul16(a, b uint16) uint16 { return div16(uint64(a) * uint64(b)) }

// div16 is v/65535 rounded to nearest, for v up to 65535*65535 + 32767.
func div16(v uint64) uint16 {
	v += 0x8000
	return uint16((v + v>>16) >> 16)
}

// lerp16 is (dst*(65535-k) + m*src)/65535 rounded to nearest. m*src <= 65535*k + 32767 must hold.
func lerp16(dst, k, m, src uint16) uint16 {
	return div16(min(uint64(dst)*uint64(full-k)+uint64(m)*uint64(src), full*full+0x7FFF))
}

// union is a + b - a*b.
func union(a, b uint16) uint16 { return full - mul16(full-a, full-b) }

// add16 adds and stops at 65535; only roundings can reach beyond.
func add16(a, b uint16) uint16 { return uint16(min(uint32(a)+uint32(b), full)) }

// to16 is v 0..1 with 16 bits.
func to16(v float64) uint16 {
	if !(v > 0) {
		return 0
	}
	return uint16(float64(min(v, 1)*full) + 0.5)
}

// to8 is a 16-bit tint with 8 bits, halves up.
func to8(v uint16) uint8 { return uint8((uint32(v) + 128) / 257) }

// widen makes 16-bit tints of 8-bit ones.
func widen(dst []uint16, src []byte) {
	for i, v := range src {
		dst[i] = uint16(v) * 257
	}
}
