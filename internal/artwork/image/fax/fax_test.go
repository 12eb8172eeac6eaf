package fax

import (
	"bytes"
	"flag"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/ccitt"
)

// writer encodes rows by the book, for tests.
type writer struct {
	bits    strings.Builder
	columns int
}

func (w *writer) run(colour, n int) {
	codes := strings.Fields([]string{whiteCodes, blackCodes}[colour] + " " + longCodes)
	for n >= 2560+64 {
		w.bits.WriteString(codes[len(codes)-1])
		n -= 2560
	}
	if n >= 64 {
		w.bits.WriteString(codes[63+n/64])
		n %= 64
	}
	w.bits.WriteString(codes[n])
}

// next is the first turn after x away from the colour, in row.
func next(row []int, x, colour int) int {
	for x++; x < len(row) && row[x] == colour; x++ {
	}
	return min(x, len(row))
}

func (w *writer) plain(row []int) {
	x, colour := 0, 0
	for x < len(row) {
		to := x
		for to < len(row) && row[to] == colour {
			to++
		}
		w.run(colour, to-x)
		x, colour = to, colour^1
	}
}

func (w *writer) relative(ref, row []int) {
	pixel := func(r []int, x int) int {
		if x < 0 {
			return 0
		}
		return r[x]
	}
	a0, colour := -1, 0
	for a0 < len(row) {
		a1 := next(row, a0, colour)
		if a0 < 0 && row[0] == 1 {
			a1 = 0
		}
		b1 := a0 + 1
		for b1 < len(ref) && !(pixel(ref, b1) != colour && pixel(ref, b1-1) == colour) {
			b1++
		}
		b2 := b1
		for b2 < len(ref) && ref[b2] != colour {
			b2++
		}
		switch d := a1 - b1; {
		case b2 < a1:
			w.bits.WriteString(modeCodes[modePass])
			a0 = b2
		case d >= -3 && d <= 3:
			w.bits.WriteString(modeCodes[modeV0+d])
			a0, colour = a1, colour^1
		default:
			a2 := next(row, a1, colour^1)
			w.bits.WriteString(modeCodes[modeHorizontal])
			w.run(colour, a1-max(a0, 0))
			w.run(colour^1, a2-a1)
			a0 = a2
		}
	}
}

func (w *writer) bytes() []byte {
	s := w.bits.String()
	out := make([]byte, (len(s)+7)/8)
	for i, c := range s {
		if c == '1' {
			out[i/8] |= 0x80 >> (i % 8)
		}
	}
	return out
}

const eolCode = "000000000001"

type style struct {
	k               int
	eol, align, rtc bool
}

func encode(rows [][]int, st style) []byte {
	w := &writer{}
	ref := make([]int, len(rows[0]))
	for y, row := range rows {
		if st.align {
			for w.bits.Len()%8 != 0 {
				w.bits.WriteByte('0')
			}
		}
		if st.eol {
			w.bits.WriteString(eolCode)
		}
		switch {
		case st.k < 0:
			w.relative(ref, row)
		case st.k == 0:
			w.plain(row)
		case y%st.k == 0:
			w.bits.WriteByte('1')
			w.plain(row)
		default:
			w.bits.WriteByte('0')
			w.relative(ref, row)
		}
		ref = row
	}
	switch {
	case st.rtc && st.k < 0:
		w.bits.WriteString(eolCode + eolCode)
	case st.rtc && st.k == 0:
		w.bits.WriteString(strings.Repeat(eolCode, 6))
	case st.rtc:
		w.bits.WriteString(strings.Repeat(eolCode+"1", 6))
	}
	return w.bytes()
}

// rows draws rows of runs that resemble the row above, some of them long.
func rows(r *rand.Rand, columns, n int) [][]int {
	out := make([][]int, n)
	for y := range out {
		out[y] = make([]int, columns)
		switch {
		case y > 0 && r.IntN(4) > 0:
			copy(out[y], out[y-1])
			for range r.IntN(6) {
				out[y][r.IntN(columns)] ^= 1
			}
		default:
			for x, c := 0, r.IntN(2); x < columns; c ^= 1 {
				for n := 1 + r.IntN(1+r.IntN(columns)); n > 0 && x < columns; n, x = n-1, x+1 {
					out[y][x] = c
				}
			}
		}
	}
	return out
}

func packed(rows [][]int) []byte {
	var out []byte
	for _, row := range rows {
		b := make([]byte, (len(row)+7)/8)
		for x, v := range row {
			b[x/8] |= byte(v) << (7 - x%8)
		}
		out = append(out, b...)
	}
	return out
}

var styles = []style{
	{k: -1}, {k: -1, rtc: true}, {k: -1, align: true, rtc: true},
	{k: 0}, {k: 0, eol: true, rtc: true}, {k: 0, align: true}, {k: 0, eol: true, align: true},
	{k: 1, eol: true}, {k: 4, eol: true, rtc: true}, {k: 4}, {k: 2, eol: true, align: true, rtc: true},
}

func TestEveryCodingGivesTheRowsBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, st := range styles {
		for _, columns := range []int{1, 7, 8, 9, 64, 1728, 6000} {
			want := rows(r, columns, 20)
			data := encode(want, st)
			got := Decode(data, Params{K: st.k, Columns: columns, Rows: len(want), ByteAlign: st.align})
			if got.Rows != len(want) || got.Damaged > 0 || !bytes.Equal(got.Pix, packed(want)) {
				t.Errorf("%+v, %d columns: %d rows, %d damaged", st, columns, got.Rows, got.Damaged)
			}
			if st.k < 0 && got.Used != len(data) {
				t.Errorf("%+v, %d columns: %d of %d bytes used", st, columns, got.Used, len(data))
			}
		}
	}
}

// The tables are those of another decoder: what the test encoder writes with them, it reads.
func TestTablesAreTheStandards(t *testing.T) {
	const columns = 2700
	var want [][]int
	for n := range columns {
		row := make([]int, columns)
		for x := range row {
			if x >= n && x < n+n/2+1 {
				row[x] = 1
			}
		}
		want = append(want, row)
	}
	for format, st := range map[ccitt.SubFormat]style{ccitt.Group3: {k: 0, eol: true, rtc: true}, ccitt.Group4: {k: -1, rtc: true}} {
		got, err := io.ReadAll(ccitt.NewReader(bytes.NewReader(encode(want, st)), ccitt.MSB, format, columns, len(want), &ccitt.Options{Invert: true}))
		if err != nil || !bytes.Equal(got, packed(want)) {
			t.Errorf("format %d: %v", format, err)
		}
	}
}

func TestDamagedRowsEndAtTheNextLine(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	want := rows(r, 400, 12)
	for i, st := range []style{{k: 0, eol: true, rtc: true}, {k: 4, eol: true, rtc: true}} {
		data := encode(want, st)
		// The middle of the data is replaced by what is no code.
		for i := len(data) / 2; i < len(data)/2+3; i++ {
			data[i] = 0x00
		}
		got := Decode(data, Params{K: st.k, Columns: 400, Rows: 20}) // damage may look like another end of a line
		if got.Damaged == 0 || got.Broken {
			t.Errorf("%d: %+v", i, got.Damaged)
		}
		if first := packed(want[:got.FirstDamaged]); !bytes.Equal(got.Pix[:len(first)], first) {
			t.Errorf("%d: rows before the damage differ", i)
		}
		last := packed(want[11:])
		end := got.Pix[(got.Rows-1)*50:][:50]
		if !bytes.Equal(end, last) {
			t.Errorf("%d: the last row differs: %d rows, %d damaged from %d", i, got.Rows, got.Damaged, got.FirstDamaged)
		}
	}
}

func TestGroup4EndsAtDamage(t *testing.T) {
	want := rows(rand.New(rand.NewPCG(5, 6)), 400, 12)
	data := encode(want, style{k: -1, rtc: true})
	got := Decode(data[:len(data)/2], Params{K: -1, Columns: 400, Rows: 12})
	if got.Rows < 2 || got.Rows > 11 || !got.Broken {
		t.Fatalf("%d rows, broken %v", got.Rows, got.Broken)
	}
	if !bytes.Equal(got.Pix[:50*(got.Rows-1)], packed(want[:got.Rows-1])) {
		t.Error("rows before the damage differ")
	}
	for _, b := range got.Pix[50*got.Rows:] {
		if b != 0 {
			t.Fatal("rows that are not there are not white")
		}
	}
}

func FuzzDecode(f *testing.F) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, st := range styles {
		f.Add(encode(rows(r, 40, 6), st), st.k, uint16(40), st.align)
	}
	f.Fuzz(func(t *testing.T, data []byte, k int, columns uint16, align bool) {
		p := Params{K: k, Columns: int(columns%4000) + 1, Rows: 50, ByteAlign: align}
		got := Decode(data, p)
		stride := (p.Columns + 7) / 8
		if len(got.Pix) != stride*p.Rows || got.Rows < 0 || got.Rows > p.Rows || got.Damaged > got.Rows || got.Used > len(data) {
			t.Fatalf("%d bytes, %d rows, %d damaged, %d used", len(got.Pix), got.Rows, got.Damaged, got.Used)
		}
		if again := Decode(data, p); !bytes.Equal(again.Pix, got.Pix) {
			t.Fatal("decoded otherwise the second time")
		}
		for y := range p.Rows {
			row := got.Pix[y*stride : (y+1)*stride]
			if pad := byte(0xff >> ((p.Columns-1)&7 + 1)); row[stride-1]&pad != 0 {
				t.Fatalf("row %d is black beyond its end", y)
			}
			if y >= got.Rows && bytes.Count(row, []byte{0}) != stride {
				t.Fatalf("row %d is not there and not white", y)
			}
		}
		// What was decoded whole can be encoded and decoded again.
		if got.Damaged == 0 && got.Rows > 0 {
			all := make([][]int, got.Rows)
			for y := range all {
				all[y] = make([]int, p.Columns)
				for x := range all[y] {
					all[y][x] = int(got.Pix[y*stride+x/8]>>(7-x%8)) & 1
				}
			}
			again := Decode(encode(all, style{k: -1}), Params{K: -1, Columns: p.Columns, Rows: got.Rows})
			if !bytes.Equal(again.Pix, got.Pix[:stride*got.Rows]) {
				t.Fatal("encoded anew it decodes otherwise")
			}
		}
	})
}

var remake = flag.Bool("remake", false, "write testdata anew")

// The samples in testdata are an invented picture in mixed rows, for tests that show it to other programs.
func TestKeptSampleDecodes(t *testing.T) {
	want := rows(rand.New(rand.NewPCG(9, 9)), 50, 40)
	data := encode(want, style{k: 4, eol: true, rtc: true})
	name := filepath.Join("testdata", "mixed-50x40.fax")
	if *remake {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(name)
	if err != nil || !bytes.Equal(kept, data) {
		t.Fatal("the sample is not what the encoder writes", err)
	}
	if got := Decode(kept, Params{K: 4, Columns: 50, Rows: 40}); got.Rows != 40 || got.Damaged > 0 || !bytes.Equal(got.Pix, packed(want)) {
		t.Errorf("%d rows, %d damaged", got.Rows, got.Damaged)
	}
}
