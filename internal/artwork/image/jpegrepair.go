package image

// A sequential JPEG that is damaged or cut short is made whole before the strict decoder sees it:
// the Huffman codes are walked without decoding them, whole MCUs are kept and the missing ones
// are replaced by the shortest empty ones. Restart markers, where a file has them, limit each fault
// to its interval (ITU-T T.81, F.2).

// huffman is a table of codes by length (T.81, annex C and F.2.2.3).
type huffman struct {
	minCode, maxCode, first [17]int // by length; maxCode -1 = no codes
	symbols                 []byte
	zeroCode, zeroLen       int // the code of symbol 0, length 0 when there is none
}

func newHuffman(counts, symbols []byte) *huffman {
	t := &huffman{symbols: symbols}
	code, k := 0, 0
	for n := 1; n <= 16; n++ {
		t.first[n], t.minCode[n], t.maxCode[n] = k, code, -1
		for range counts[n-1] {
			if k >= len(symbols) {
				return nil
			}
			if symbols[k] == 0 && t.zeroLen == 0 {
				t.zeroCode, t.zeroLen = code, n
			}
			t.maxCode[n] = code
			code++
			k++
		}
		code <<= 1
	}
	return t
}

// bitReader reads the bits of one restart interval, stuffing removed.
type bitReader struct {
	data []byte
	at   int // in bits
}

func (b *bitReader) bit() int {
	if b.at >= 8*len(b.data) {
		b.at++
		return -1
	}
	v := int(b.data[b.at>>3]) >> (7 - b.at&7) & 1
	b.at++
	return v
}

func (b *bitReader) symbol(t *huffman) (byte, bool) {
	code := 0
	for n := 1; n <= 16; n++ {
		bit := b.bit()
		if bit < 0 {
			return 0, false
		}
		code = code<<1 | bit
		if t.maxCode[n] >= 0 && code <= t.maxCode[n] && code >= t.minCode[n] {
			return t.symbols[t.first[n]+code-t.minCode[n]], true
		}
	}
	return 0, false
}

// block walks over one block of coefficients.
func (b *bitReader) block(dc, ac *huffman) bool {
	s, ok := b.symbol(dc)
	if !ok || s > 11 {
		return false
	}
	b.at += int(s)
	for k := 1; k < 64; k++ {
		s, ok = b.symbol(ac)
		if !ok {
			return false
		}
		run, size := int(s>>4), int(s&15)
		if size == 0 {
			if run != 15 {
				break
			}
			k += 15
			continue
		}
		k += run
		if k > 63 {
			return false
		}
		b.at += size
	}
	return b.at <= 8*len(b.data)
}

// bitWriter writes entropy-coded bits with stuffing.
type bitWriter struct {
	out  []byte
	acc  uint32
	bits int
}

func (w *bitWriter) put(code, n int) {
	w.acc = w.acc<<n | uint32(code)&(1<<n-1)
	w.bits += n
	for w.bits >= 8 {
		w.bits -= 8
		w.byte(byte(w.acc >> w.bits))
	}
}

func (w *bitWriter) byte(b byte) {
	w.out = append(w.out, b)
	if b == 0xff {
		w.out = append(w.out, 0)
	}
}

// align fills the last byte with ones.
func (w *bitWriter) align() {
	if w.bits > 0 {
		w.put(0xff, 8-w.bits)
	}
}

// scanLayout is what the walk needs to know of a sequential JPEG in one scan.
type scanLayout struct {
	data     []byte // entropy-coded, with markers
	head     int    // length of everything before it
	blocks   []blockTables
	interval int // MCUs between restart markers, all of them when there are none
	mcusX    int
	mcus     int
	mcuW     int
	mcuH     int
}

// blockTables are the tables of one block of an MCU.
type blockTables struct{ dc, ac *huffman }

// layoutOf reads the tables before the scan; ok is false when the JPEG is not sequential, has
// several scans, or its header is damaged.
func layoutOf(h *jpegHeader, data []byte) (l scanLayout, ok bool) {
	if h.process > markerSOF0+1 || h.width == 0 || h.height == 0 {
		return l, false
	}
	var dc, ac [4]*huffman
	at := 2
	for at+4 <= len(data) {
		if data[at] != 0xff || data[at+1] == 0xff || data[at+1] == 0 {
			at++
			continue
		}
		m, size := data[at+1], int(data[at+2])<<8|int(data[at+3])
		if size < 2 || at+2+size > len(data) {
			return l, false
		}
		body := data[at+4 : at+2+size]
		at += 2 + size
		switch m {
		case markerDHT:
			if !readTables(body, &dc, &ac) {
				return l, false
			}
		case markerDRI:
			if len(body) < 2 {
				return l, false
			}
			l.interval = int(body[0])<<8 | int(body[1])
		case markerSOS:
			l.head, l.data = at, data[at:]
			return l, l.arrange(h, body, &dc, &ac)
		}
	}
	return l, false
}

func readTables(body []byte, dc, ac *[4]*huffman) bool {
	for len(body) >= 17 {
		n := 0
		for _, c := range body[1:17] {
			n += int(c)
		}
		if len(body) < 17+n || body[0]>>4 > 1 || body[0]&15 > 3 {
			return false
		}
		t := newHuffman(body[1:17], body[17:17+n])
		if body[0]>>4 == 0 {
			dc[body[0]&15] = t
		} else {
			ac[body[0]&15] = t
		}
		body = body[17+n:]
	}
	return true
}

// arrange works out the blocks of an MCU (T.81, A.2).
func (l *scanLayout) arrange(h *jpegHeader, sos []byte, dc, ac *[4]*huffman) bool {
	n := len(h.ids)
	if len(sos) < 1+2*n || int(sos[0]) != n {
		return false
	}
	hMax, vMax := 1, 1
	for _, f := range h.factors {
		hMax, vMax = max(hMax, int(f>>4)), max(vMax, int(f&15))
	}
	for i := range n {
		sel := sos[2+2*i]
		if sos[1+2*i] != h.ids[i] || sel>>4 > 3 || sel&15 > 3 || dc[sel>>4] == nil || ac[sel&15] == nil {
			return false
		}
		t := blockTables{dc[sel>>4], ac[sel&15]}
		count := int(h.factors[i]>>4) * int(h.factors[i]&15)
		if n == 1 { // one component alone is not interleaved
			count, hMax, vMax = 1, 1, 1
		}
		if count == 0 || t.dc.zeroLen == 0 || t.ac.zeroLen == 0 {
			return false
		}
		for range count {
			l.blocks = append(l.blocks, t)
		}
	}
	l.mcuW, l.mcuH = 8*hMax, 8*vMax
	l.mcusX = (h.width + l.mcuW - 1) / l.mcuW
	l.mcus = l.mcusX * ((h.height + l.mcuH - 1) / l.mcuH)
	if l.interval == 0 {
		l.interval = l.mcus
	}
	return true
}

// restartInterval is the entropy-coded data between two markers; number is that of the restart
// marker before it, -1 for the first.
type restartInterval struct {
	number int
	data   []byte
}

// intervals splits the data at restart markers and takes out the stuffing.
func (l *scanLayout) intervals() []restartInterval {
	list := []restartInterval{{number: -1}}
	cur := &list[0]
	for i := 0; i < len(l.data); i++ {
		b := l.data[i]
		if b != 0xff {
			cur.data = append(cur.data, b)
			continue
		}
		if i+1 >= len(l.data) {
			break
		}
		switch m := l.data[i+1]; {
		case m == 0xff: // fill byte
		case m == 0:
			cur.data = append(cur.data, b)
			i++
		case m >= markerRST0 && m < markerSOI:
			list = append(list, restartInterval{number: int(m - markerRST0)})
			cur = &list[len(list)-1]
			i++
		case m == markerEOI:
			return list
		default: // a marker that does not belong here: damage
			cur.data = append(cur.data, b)
		}
	}
	return list
}

// repaired is the JPEG with every MCU there; missing[i] tells that MCU i was made up.
func (l *scanLayout) repaired(data []byte) (out []byte, missing []bool) {
	missing = make([]bool, l.mcus)
	w := &bitWriter{out: append([]byte(nil), data[:l.head]...)}
	have := l.intervals()
	if l.interval == l.mcus && len(have) > 1 { // markers without a restart interval: all one
		for _, more := range have[1:] {
			have[0].data = append(have[0].data, more.data...)
		}
		have = have[:1]
	}
	next := 0
	for start, i := 0, 0; start < l.mcus; start, i = start+l.interval, i+1 {
		count := min(l.interval, l.mcus-start)
		var part []byte
		if next < len(have) && (have[next].number < 0 || (have[next].number-(i-1))&7 == 0) {
			part = have[next].data
			next++
		}
		if i > 0 {
			w.out = append(w.out, 0xff, markerRST0+byte((i-1)&7))
		}
		good := l.copyInterval(w, part, count)
		for k := good; k < count; k++ {
			missing[start+k] = true
		}
	}
	return append(w.out, 0xff, markerEOI), missing
}

// copyInterval writes the whole MCUs of part and empty ones up to count; it returns how many were whole.
func (l *scanLayout) copyInterval(w *bitWriter, part []byte, count int) (good int) {
	r := bitReader{data: part}
	end := 0
walk:
	for ; good < count; good++ {
		for _, t := range l.blocks {
			if !r.block(t.dc, t.ac) {
				break walk
			}
		}
		end = r.at
	}
	for _, b := range part[:end/8] {
		w.byte(b)
	}
	if n := end % 8; n > 0 {
		w.put(int(part[end/8])>>(8-n), n)
	}
	for range count - good {
		for _, t := range l.blocks {
			w.put(t.dc.zeroCode, t.dc.zeroLen)
			w.put(t.ac.zeroCode, t.ac.zeroLen)
		}
	}
	w.align()
	return good
}

// progressiveCuts are the data cut off before each scan but the first, last scan first: what a
// progressive JPEG shows with its damaged scans left out.
func progressiveCuts(data []byte) [][]byte {
	var at []int
	for i := 2; i+1 < len(data); i++ {
		if data[i] == 0xff && data[i+1] == markerSOS {
			at = append(at, i)
		}
	}
	var cuts [][]byte
	for k := len(at) - 1; k >= 1 && len(cuts) < maxCuts; k-- {
		cuts = append(cuts, data[:at[k]])
	}
	return cuts
}

// maxCuts bounds how often a damaged progressive JPEG is tried.
const maxCuts = 8
