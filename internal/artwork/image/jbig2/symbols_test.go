package jbig2

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// placed is a symbol with its top left corner.
type placed struct{ id, x, y int }

type textSpec struct {
	corner     int
	transposed bool
	logStrips  int
	op         int
	offset     int
}

// st turns a placed symbol into the standard's S (before the pen moves) and T.
func (sp textSpec) st(p placed, symbol *Bitmap) (s, t int) {
	x, y := p.x, p.y
	if sp.transposed {
		s, t = y, x
		if sp.corner == topRight || sp.corner == bottomRight {
			t += symbol.W - 1
		}
		return s, t
	}
	s, t = x, y
	if sp.corner == bottomLeft || sp.corner == bottomRight {
		t += symbol.H - 1
	}
	return s, t
}

// strips groups symbols by strip, each in order of S; T is cut into strip and rest.
func (sp textSpec) strips(list []placed, symbols []*Bitmap) (order []int, groups map[int][]placed) {
	groups = map[int][]placed{}
	for _, p := range list {
		_, t := sp.st(p, symbols[p.id])
		k := t >> sp.logStrips
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], p)
	}
	slices.Sort(order)
	return order, groups
}

// number writers: arithmetic by name, or Huffman by table.
type numbers interface {
	number(name string, v int)
	id(v int)
	strip(v, bits int)
	refined(v int)
}

// text writes a text region's body.
func (sp textSpec) text(w numbers, list []placed, symbols []*Bitmap, each func(p placed)) {
	order, groups := sp.strips(list, symbols)
	w.number("dt", 1) // the tables know no 0
	at, firstS := -1, 0
	for _, k := range order {
		w.number("dt", k-at)
		at = k
		pen := 0
		for i, p := range groups[k] {
			s, t := sp.st(p, symbols[p.id])
			if i == 0 {
				w.number("fs", s-firstS)
				firstS = s
			} else {
				w.number("ds", s-pen-sp.offset)
			}
			if sp.logStrips > 0 {
				w.strip(t-k<<sp.logStrips, sp.logStrips)
			}
			w.id(p.id)
			if each != nil {
				each(p)
			}
			if pen = s + symbols[p.id].W - 1; sp.transposed {
				pen = s + symbols[p.id].H - 1
			}
		}
		w.number("ds", oob)
	}
}

type arithNumbers struct {
	e    *arith
	all  integers
	ids  []state
	bits int
}

func (w *arithNumbers) number(name string, v int) { w.e.integer(w.all, name, v) }
func (w *arithNumbers) id(v int)                  { w.e.identifier(w.ids, w.bits, v) }
func (w *arithNumbers) strip(v, _ int)            { w.e.integer(w.all, "it", v) }
func (w *arithNumbers) refined(v int)             { w.e.integer(w.all, "ri", v) }

func newArithNumbers(symbols int) *arithNumbers {
	n := codeLength(symbols)
	return &arithNumbers{newArith(), integers{}, make([]state, 1<<n), n}
}

func (sp textSpec) flags(more int) []byte {
	v := sp.logStrips<<2 | sp.corner<<4 | sp.op<<7 | sp.offset&31<<10 | more
	if sp.transposed {
		v |= 64
	}
	return []byte{byte(v >> 8), byte(v)}
}

// dictionary writes symbols, arithmetic, in classes of one height; it may refine contexts handed on.
func dictionary(f *file, symbols []*Bitmap, template int) byte {
	e, all := newArith(), integers{}
	p := &genericParams{template: template}
	p.nominal()
	cx := make([]state, 1<<16)
	height := 0
	for i := 0; i < len(symbols); {
		h := symbols[i].H
		e.integer(all, "dh", h-height)
		height = h
		width := 0
		for ; i < len(symbols) && symbols[i].H == h; i++ {
			e.integer(all, "dw", symbols[i].W-width)
			width = symbols[i].W
			e.generic(symbols[i], p, cx)
		}
		e.integer(all, "dw", oob)
	}
	e.integer(all, "ex", 0)
	e.integer(all, "ex", len(symbols))
	flags := template << 10
	head := append([]byte{byte(flags >> 8), byte(flags)}, offsets(p.at[:len(templates[template].adaptive)])...)
	return f.segment(kindSymbols, nil, slices.Concat(head, words(len(symbols), len(symbols)), e.bytes()))
}

func someSymbols(r *rand.Rand) []*Bitmap {
	var out []*Bitmap
	for _, s := range [][2]int{{3, 6}, {5, 6}, {8, 6}, {9, 9}, {4, 12}} {
		out = append(out, invented(r, s[0], s[1]))
	}
	return out
}

func somePlaces(r *rand.Rand, symbols []*Bitmap, n, w, h int) []placed {
	var out []placed
	for range n {
		out = append(out, placed{r.IntN(len(symbols)), r.IntN(w) - 3, r.IntN(h) - 2})
	}
	return out
}

func TestTextIsPlacedByEveryCorner(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 1))
	for corner := range 4 {
		for _, transposed := range []bool{false, true} {
			for log := range 3 {
				symbols := someSymbols(r)
				sp := textSpec{corner: corner, transposed: transposed, logStrips: log, op: (corner + log) % 3, offset: log - 1}
				list := somePlaces(r, symbols, 20, 60, 50)
				want := bitmap(60, 50)
				order, groups := sp.strips(list, symbols)
				for _, k := range order {
					for _, p := range groups[k] {
						want.draw(symbols[p.id], p.x, p.y, sp.op)
					}
				}
				f := &file{}
				f.page(60, 50)
				dict := dictionary(f, symbols, log)
				w := newArithNumbers(len(symbols))
				sp.text(w, list, symbols, nil)
				f.segment(kindText+2, []byte{dict}, slices.Concat(regionBytes(60, 50, 0, 0, opOr), sp.flags(0), words(len(list)), w.e.bytes()))
				t.Run(fmt.Sprintf("corner %d, transposed %v, strips of %d", corner, transposed, 1<<log), func(t *testing.T) { check(t, f.b, want, true) })
			}
		}
	}
}

func TestTextRefinesItsSymbols(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	symbols := someSymbols(r)
	sp := textSpec{corner: topLeft}
	list := somePlaces(r, symbols, 8, 40, 30)
	slices.SortFunc(list, func(a, b placed) int { return a.y - b.y })
	for i := range list { // one a strip, so that the pen does not matter
		list[i].y = 4 * i
	}
	want := bitmap(50, 40)
	f := &file{}
	f.page(50, 40)
	dict := dictionary(f, symbols, 0)
	w := newArithNumbers(len(symbols))
	cx := make([]state, 1<<13)
	n := 0
	sp.text(w, list, symbols, func(p placed) {
		s := symbols[p.id]
		if n++; n%2 == 0 {
			w.refined(0)
			want.draw(s, p.x, p.y, opOr)
			return
		}
		w.refined(1)
		dw, dh, dx, dy := r.IntN(4)-1, r.IntN(4)-1, r.IntN(3)-1, r.IntN(3)-1
		b := invented(r, s.W+dw, s.H+dh)
		for i, v := range []int{dw, dh, dx, dy} {
			w.number([]string{"rdw", "rdh", "rdx", "rdy"}[i], v)
		}
		w.e.refine(b, &refineParams{ref: s, dx: dw>>1 + dx, dy: dh>>1 + dy, at: [2][2]int{{-1, -1}, {-1, -1}}}, cx)
		want.draw(b, p.x, p.y, opOr)
	})
	f.segment(kindText+2, []byte{dict}, slices.Concat(regionBytes(50, 40, 0, 0, opOr), sp.flags(2), []byte{0xff, 0xff, 0xff, 0xff}, words(len(list)), w.e.bytes()))
	check(t, f.b, want, true)
}

// A dictionary of symbols made from others: one refined, one put together from several.
func TestSymbolsAreMadeFromOthers(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 1))
	base := someSymbols(r)
	f := &file{}
	f.page(30, 20)
	first := dictionary(f, base, 0)
	n := len(base) + 2
	w := newArithNumbers(n)
	cx := make([]state, 1<<13)
	at := [2][2]int{{-1, -1}, {-1, -1}}

	w.number("dh", 9)
	w.number("dw", 7) // one refined
	w.number("ai", 1)
	w.id(3)
	w.number("rdx", 1)
	w.number("rdy", -1)
	refined := invented(r, 7, 9)
	w.e.refine(refined, &refineParams{ref: base[3], dx: 1, dy: -1, at: at}, cx)
	w.number("dw", 5) // several, on 12 x 9
	w.number("ai", 2)
	whole := bitmap(12, 9)
	list := []placed{{0, 0, 0}, {len(base), 4, 0}}
	all := append(slices.Clone(base), refined)
	textSpec{corner: topLeft}.text(w, list, all, func(p placed) {
		w.refined(0)
		whole.draw(all[p.id], p.x, p.y, opOr)
	})
	w.number("dw", oob)
	w.number("ex", len(base)) // the old ones stay inside
	w.number("ex", 2)
	second := f.segment(kindSymbols, []byte{first}, slices.Concat([]byte{0, 2}, offsets([][2]int{{3, -1}, {-3, -1}, {2, -2}, {-2, -2}}), offsets(at[:]), words(2, 2), w.e.bytes()))

	made := []*Bitmap{refined, whole}
	list = []placed{{0, 2, 3}, {1, 11, 3}}
	want := bitmap(30, 20)
	for _, p := range list {
		want.draw(made[p.id], p.x, p.y, opOr)
	}
	w = newArithNumbers(2)
	sp := textSpec{corner: topLeft}
	sp.text(w, list, made, nil)
	f.segment(kindText+2, []byte{second}, slices.Concat(regionBytes(30, 20, 0, 0, opOr), sp.flags(0), words(2), w.e.bytes()))
	check(t, f.b, want, true)
}

// huffman writes numbers by tables.
type huffman struct {
	bits   []byte // a bit each
	tables map[string]*huffmanTable
	ids    int
}

func (w *huffman) put(v, n int) {
	for i := n - 1; i >= 0; i-- {
		w.bits = append(w.bits, byte(v>>i)&1)
	}
}

// code is the code of line i of a table, by B.3.
func (t *huffmanTable) code(i int) int {
	code := 0
	for j := range i {
		code = (code + 1) << (t.lines[j+1].prefix - t.lines[j].prefix)
	}
	return code
}

func (w *huffman) number(name string, v int) {
	t := w.tables[name]
	for i, l := range t.lines {
		in := v != oob && l.kind == lineRange && v >= l.low && v < l.low+1<<l.size
		switch {
		case v == oob && l.kind == lineOOB:
			w.put(t.code(i), l.prefix)
			return
		case in:
			w.put(t.code(i), l.prefix)
			w.put(v-l.low, l.size)
			return
		case v != oob && l.kind == lineLower && v <= l.low:
			w.put(t.code(i), l.prefix)
			w.put(l.low-v, l.size)
			return
		}
	}
	panic(fmt.Sprintf("no code for %d in %s", v, name))
}

func (w *huffman) id(v int)       { w.put(v, w.ids) }
func (w *huffman) strip(v, n int) { w.put(v, n) }
func (w *huffman) refined(v int)  { w.put(v, 1) }
func (w *huffman) align()         { w.bits = append(w.bits, make([]byte, -len(w.bits)&7)...) }
func (w *huffman) raw(b []byte)   { w.align(); w.packed(b) }
func (w *huffman) packed(b []byte) {
	for _, v := range b {
		w.put(int(v), 8)
	}
}

func (w *huffman) bytes() []byte {
	w.align()
	out := make([]byte, len(w.bits)/8)
	for i, v := range w.bits {
		out[i/8] |= v << (7 - i%8)
	}
	return out
}

func TestHuffmanCodedSymbolsAndText(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 1))
	custom := []line{{2, 3, -4, 0}, {2, 5, 4, 0}, {3, 7, 36, 0}, {3, 32, -5, lineLower}, {3, 32, 164, 0}, {3, 0, 0, lineOOB}}
	own, err := newTable(custom)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name            string
		dict            int // flags
		dh, dw          *huffmanTable
		text            int
		fs, ds, dt      *huffmanTable
		ownDict, ownAll bool
	}{
		{"first tables", 1, standardTable(4), standardTable(2), 0, standardTable(6), standardTable(8), standardTable(11), false, false},
		{"second tables", 1 | 1<<2 | 1<<4, standardTable(5), standardTable(3), 1 | 1<<2 | 1<<4, standardTable(7), standardTable(9), standardTable(12), false, false},
		{"third tables", 1, standardTable(4), standardTable(2), 2<<2 | 2<<4, standardTable(6), standardTable(10), standardTable(13), false, false},
		{"tables of its own", 1 | 3<<4, standardTable(4), own, 3 | 3<<2, own, own, standardTable(11), true, true},
	} {
		symbols := someSymbols(r)
		f := &file{}
		f.page(60, 50)
		var tables []byte
		if tt.ownDict {
			// Low -4, high 164; prefixes of 3 bits, ranges of 6.
			w := &huffman{}
			for _, l := range custom {
				w.put(l.prefix, 3)
				if l.size < 32 && l.kind == lineRange {
					w.put(l.size, 6)
				}
			}
			tables = []byte{f.segment(kindTable, nil, slices.Concat([]byte{1 | 2<<1 | 5<<4}, words(-4, 164), w.bytes()))}
		}
		w := &huffman{tables: map[string]*huffmanTable{"dh": tt.dh, "dw": tt.dw, "size": standardTable(1), "ex": standardTable(1)}}
		height := 0
		for i := 0; i < len(symbols); {
			h := symbols[i].H
			w.number("dh", h-height)
			height = h
			width, total := 0, 0
			from := i
			for ; i < len(symbols) && symbols[i].H == h; i++ {
				w.number("dw", symbols[i].W-width)
				width = symbols[i].W
				total += width
			}
			w.number("dw", oob)
			row, x := bitmap(total, h), 0
			for _, s := range symbols[from:i] {
				row.draw(s, x, 0, opReplace)
				x += s.W
			}
			w.number("size", 0)
			w.raw(row.Pix)
		}
		w.number("ex", 0)
		w.number("ex", len(symbols))
		dict := f.segment(kindSymbols, tables, slices.Concat([]byte{byte(tt.dict >> 8), byte(tt.dict)}, words(len(symbols), len(symbols)), w.bytes()))

		sp := textSpec{corner: topLeft, logStrips: 1}
		list := somePlaces(r, symbols, 15, 50, 40)
		for i := range list { // tables of T know no strips above the first
			list[i].y = max(list[i].y, 0)
		}
		want := bitmap(60, 50)
		order, groups := sp.strips(list, symbols)
		for _, k := range order {
			for _, p := range groups[k] {
				want.draw(symbols[p.id], p.x, p.y, opOr)
			}
		}
		w = &huffman{tables: map[string]*huffmanTable{"fs": tt.fs, "ds": tt.ds, "dt": tt.dt}, ids: 3}
		// Codes of symbols: the first run code is 3 bits long, which all symbols have.
		for i := range 35 {
			v := 0
			if i == 3 || i == 32 {
				v = 1
			}
			w.put(v, 4)
		}
		w.put(0, 1) // one symbol of 3 bits
		w.put(1, 1) // and as many again
		w.put(len(symbols)-4, 2)
		w.align()
		sp.text(w, list, symbols, nil)
		refers := append([]byte{dict}, tables...)
		if tt.ownAll { // a table is used up by each name
			refers = append(refers, tables...)
		}
		f.segment(kindText+2, refers, slices.Concat(regionBytes(60, 50, 0, 0, opOr), sp.flags(1), []byte{byte(tt.text >> 8), byte(tt.text)}, words(len(list)), w.bytes()))
		t.Run(tt.name, func(t *testing.T) { check(t, f.b, want, true) })
	}
}

func TestStandardTablesAreWholeCodes(t *testing.T) {
	for i, lines := range standardLines {
		sum := 0
		for j, l := range lines {
			sum += 1 << (32 - l.prefix)
			// Ranges follow each other.
			if j > 0 && l.kind == lineRange && lines[j-1].kind == lineRange && lines[j-1].low+1<<lines[j-1].size != l.low {
				t.Errorf("table B.%d: a gap before %d", i+1, l.low)
			}
		}
		if sum != 1<<32 {
			t.Errorf("table B.%d fills %d of the codes", i+1, sum)
		}
	}
}

func FuzzDecode(f *testing.F) {
	r := rand.New(rand.NewPCG(14, 1))
	symbols := someSymbols(r)
	doc := &file{}
	doc.page(40, 30)
	doc.segment(kindGeneric+2, nil, generic(invented(r, 20, 10), 3, 3, opXor))
	dict := dictionary(doc, symbols, 1)
	w := newArithNumbers(len(symbols))
	list := somePlaces(r, symbols, 5, 30, 20)
	textSpec{corner: bottomRight}.text(w, list, symbols, nil)
	doc.segment(kindText+2, []byte{dict}, slices.Concat(regionBytes(40, 30, 0, 0, opOr), textSpec{corner: bottomRight}.flags(0), words(len(list)), w.e.bytes()))
	f.Add(doc.b, []byte{})
	f.Fuzz(func(t *testing.T, data, globals []byte) {
		decode := func() (page *Bitmap, damage, err error) {
			d := &decoder{width: 40, height: 30, bytes: 1 << 20, work: 1 << 21}
			return d.decode(data, globals)
		}
		page, damage, err := decode()
		if err != nil {
			if page != nil {
				t.Fatal("an error with a page")
			}
			return
		}
		if page.W < 1 || page.H < 1 || page.Stride != (page.W+7)/8 || len(page.Pix) != page.Stride*page.H {
			t.Fatalf("%d x %d, %d a row, %d bytes", page.W, page.H, page.Stride, len(page.Pix))
		}
		if again, told, err := decode(); err != nil || (told == nil) != (damage == nil) || !bytes.Equal(again.Pix, page.Pix) {
			t.Fatal("decoded otherwise the second time")
		}
	})
}
