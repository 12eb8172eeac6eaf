package jbig2

import (
	"laydown/internal/artwork/image/fax"
	"laydown/internal/artwork/image/mq"
)

// maxOverrun is how many bytes beyond its end an arithmetic decoder may ask for before what it
// tells is taken to be made up.
const maxOverrun = 64

// A pixelTemplate is the neighbourhood a pixel is predicted from: windows of the two rows above and
// of the row itself (Figures 3 to 6). The adaptive pixels, where they stand as usual, are part of the windows.
type pixelTemplate struct {
	n2, right2 int // pixels of row y-2, and how far the window reaches to the right of x
	n1, right1 int
	n0         int
	adaptive   []adaptive
	typical    int // context of the bit that tells a row like the one above (Figures 8 to 11)
}

type adaptive struct{ x, y, bit int }

var templates = [4]pixelTemplate{
	{5, 2, 7, 3, 4, []adaptive{{3, -1, 4}, {-3, -1, 10}, {2, -2, 11}, {-2, -2, 15}}, 0x9b25},
	{4, 2, 6, 3, 3, []adaptive{{3, -1, 3}}, 0x0795},
	{3, 1, 5, 2, 2, []adaptive{{2, -1, 2}}, 0x00e5},
	{0, 0, 6, 2, 4, []adaptive{{2, -1, 4}}, 0x0195},
}

// genericParams are the parameters of the generic region procedure (Table 2).
type genericParams struct {
	w, h     int
	template int
	typical  bool
	at       [4][2]int
	skip     *Bitmap
}

// nominal sets the adaptive pixels where they stand as usual.
func (p *genericParams) nominal() {
	for i, a := range templates[p.template].adaptive {
		p.at[i] = [2]int{a.x, a.y}
	}
}

func (p *genericParams) readAdaptive(r *input) {
	for i := range templates[p.template].adaptive {
		p.at[i] = [2]int{r.i8(), r.i8()}
	}
}

// contextsOf makes the contexts of a template.
func contextsOf(template int) []mq.Context {
	t := &templates[template]
	return make([]mq.Context, 1<<(t.n2+t.n1+t.n0))
}

const margin = 8 // white pixels on either side of unpacked rows

// generic decodes a bitmap (6.2.5). With an error the rows that were decoded are returned.
func (d *decoder) generic(p *genericParams, dec *mq.Decoder, cx []mq.Context) (*Bitmap, error) {
	b, err := d.newBitmap(p.w, p.h)
	if err != nil {
		return nil, err
	}
	if p.w == 0 {
		return b, nil
	}
	t := &templates[p.template]
	type moved struct {
		adaptive
		shift int
	}
	var away []moved
	keep := -1
	for i, a := range t.adaptive {
		x, y := p.at[i][0], p.at[i][1]
		if x == a.x && y == a.y {
			continue
		}
		if y > 0 || y == 0 && x >= 0 {
			return nil, damaged("a pixel is predicted from one that follows it")
		}
		away = append(away, moved{adaptive{x, y, a.bit}, a.bit})
		keep &^= 1 << a.bit
	}
	n := p.w + 2*margin
	lines := make([]byte, 3*n)
	up2, up1, cur := lines[:n], lines[n:2*n], lines[2*n:]
	m2, m1, m0 := 1<<t.n2-1, 1<<t.n1-1, 1<<t.n0-1
	s2, s1 := t.n1+t.n0, t.n0
	same := 0
	for y := range p.h {
		if err := d.spend(p.w); err != nil {
			return b, err
		}
		if dec.Overrun() > maxOverrun {
			return b, errShort
		}
		up2, up1, cur = up1, cur, up2
		if p.typical {
			if same ^= dec.Bit(&cx[t.typical]); same == 1 {
				copy(cur, up1)
				b.pack(cur[margin:], y)
				continue
			}
		}
		w2, w1, w0 := 0, 0, 0
		for x := range t.right2 {
			w2 = w2<<1 | int(up2[margin+x])
		}
		for x := range t.right1 {
			w1 = w1<<1 | int(up1[margin+x])
		}
		clear(cur)
		ahead2, ahead1 := up2[margin+t.right2:][:p.w], up1[margin+t.right1:][:p.w]
		now := cur[margin:][:p.w]
		for x := range now {
			w2 = (w2<<1 | int(ahead2[x])) & m2
			w1 = (w1<<1 | int(ahead1[x])) & m1
			if p.skip != nil && p.skip.at(x, y) == 1 {
				w0 = w0 << 1 & m0
				continue
			}
			c := w2<<s2 | w1<<s1 | w0
			if len(away) > 0 {
				c &= keep
				for _, a := range away {
					c |= d.near(b, now, x, y, a.x, a.y) << a.shift
				}
			}
			v := dec.Bit(&cx[c])
			now[x] = byte(v)
			w0 = (w0<<1 | v) & m0
		}
		b.pack(now, y)
	}
	return b, nil
}

// near is the pixel at x+dx, y+dy of a bitmap whose row y is still unpacked.
func (d *decoder) near(b *Bitmap, now []byte, x, y, dx, dy int) int {
	if dy < 0 {
		return b.at(x+dx, y+dy)
	}
	if x += dx; x < 0 {
		return 0
	}
	return int(now[x])
}

// mmr decodes a bitmap of fax coding (6.2.6) and tells how many bytes it took.
func (d *decoder) mmr(data []byte, w, h int) (b *Bitmap, used int, err error) {
	if b, err = d.newBitmap(w, h); err != nil || w == 0 || h == 0 {
		return b, 0, err
	}
	if err := d.spend(w * h / 8); err != nil {
		return nil, 0, err
	}
	got := fax.Decode(data, fax.Params{K: -1, Columns: w, Rows: h})
	b.Pix = got.Pix
	if got.Rows < h || got.Damaged > 0 {
		return b, got.Used, damaged("rows of a bitmap")
	}
	return b, got.Used, nil
}

// genericRegion decodes a generic region segment (7.4.6).
func (d *decoder) genericRegion(_ *segment, info *regionInfo, r *input) (*Bitmap, error) {
	flags := r.u8()
	if flags&1 != 0 {
		b, _, err := d.mmr(r.b, info.w, info.h)
		return b, err
	}
	p := &genericParams{w: info.w, h: info.h, template: flags >> 1 & 3, typical: flags&8 != 0}
	if flags&16 != 0 && p.template == 0 {
		return nil, unsupported("a template of twelve adaptive pixels")
	}
	p.readAdaptive(r)
	if r.short {
		return nil, errShort
	}
	var dec mq.Decoder
	dec.Init(r.b)
	return d.generic(p, &dec, contextsOf(p.template))
}
