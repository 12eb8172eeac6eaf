package font

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// composite is what a Type 0 font adds: codes of several bytes, CIDs, and metrics by CID (9.7).
type composite struct {
	cmap     *cmapFile
	gid      func(cid uint32, code uint32, n int) int
	dw       float64
	widths   []spanValue
	vertical bool
	dw2      [2]float64 // position vector y, displacement y
	columns  []spanValue
}

// spanValue gives CIDs lo..hi a width (v[0]) or vertical metrics (w1y, vx, vy), in thousandths.
type spanValue struct {
	lo, hi uint32
	v      [3]float64
}

func (c *composite) glyphs(dst []Glyph, s string) []Glyph {
	for len(s) > 0 {
		code, n, valid := c.cmap.next(s)
		g := Glyph{Code: code, Bytes: n, Space: n == 1 && code == 32}
		cid := uint32(0)
		if valid {
			cid, _ = c.cmap.cid(code, n)
		}
		g.ID = c.gid(cid, code, n)
		w := c.width(cid)
		g.Advance = w / 1000
		if c.vertical {
			w1, vx, vy := c.dw2[1], w/2, c.dw2[0]
			if v := findSpan(c.columns, cid); v != nil {
				w1, vx, vy = v[0], v[1], v[2]
			}
			g.AdvanceY, g.OriginX, g.OriginY = w1/1000, vx/1000, vy/1000
		}
		dst = append(dst, g)
		s = s[n:]
	}
	return dst
}

// width is the horizontal advance in thousandths.
func (c *composite) width(cid uint32) float64 {
	if v := findSpan(c.widths, cid); v != nil {
		return v[0]
	}
	return c.dw
}

func findSpan(spans []spanValue, cid uint32) *[3]float64 {
	i := sort.Search(len(spans), func(i int) bool { return spans[i].hi >= cid })
	if i < len(spans) && spans[i].lo <= cid {
		return &spans[i].v
	}
	return nil
}

// disjointSpans sorts spans; of two that overlap the later start is cut.
func disjointSpans(s []spanValue) []spanValue {
	sort.SliceStable(s, func(i, j int) bool { return s[i].lo < s[j].lo })
	out := s[:0]
	next := uint64(0)
	for _, x := range s {
		if uint64(x.hi) < next {
			continue
		}
		x.lo = max(x.lo, uint32(min(next, math.MaxUint32)))
		out = append(out, x)
		next = uint64(x.hi) + 1
	}
	return out
}

// spans reads W (n = 1) or W2 (n = 3): "c [v ...]" and "first last v ..." (9.7.4.3).
func (b *builder) spans(o pdf.Object, n int) []spanValue {
	ref, shared := o.(pdf.Ref)
	key := spansKey{ref, n}
	if shared {
		b.mu.Lock()
		known, ok := b.Reader.spans[key]
		b.mu.Unlock()
		if ok {
			return known
		}
	}
	out := b.readSpans(o, n)
	b.meter.kept.Add(int64(32 * len(out)))
	if shared {
		b.mu.Lock()
		b.Reader.spans[key] = out
		b.mu.Unlock()
	}
	return out
}

func (b *builder) readSpans(o pdf.Object, n int) []spanValue {
	a, _ := b.doc.Array(o)
	var out []spanValue
	cid := func(o pdf.Object) (uint32, bool) {
		v, ok := b.doc.Num(o)
		return uint32(max(0, min(v, 65535))), ok && v >= 0
	}
	value := func(a pdf.Array) (v [3]float64, ok bool) {
		ok = true
		for i := range n {
			x, num := b.doc.Num(a[i])
			if !num || math.Abs(x) > 1e7 {
				ok = false
			}
			v[i] = x
		}
		return v, ok
	}
	for i := 0; i+1 < len(a); {
		first, ok := cid(a[i])
		if !ok {
			i++
			continue
		}
		if list, isList := b.doc.Array(a[i+1]); isList {
			for k := 0; k+n <= len(list) && first <= 65535; k += n {
				if v, ok := value(list[k:]); ok {
					if last := len(out) - 1; last >= 0 && out[last].hi+1 == first && out[last].v == v {
						out[last].hi = first
					} else {
						out = append(out, spanValue{first, first, v})
					}
				}
				first++
			}
			i += 2
			continue
		}
		if i+2+n > len(a) {
			break
		}
		last, ok := cid(a[i+1])
		if v, good := value(a[i+2:]); ok && good && first <= last {
			out = append(out, spanValue{first, last, v})
		}
		i += 2 + n
	}
	return disjointSpans(out)
}

// type0 reads a composite font and its descendant.
func (b *builder) type0() {
	f := b.font
	c := &composite{dw: 1000, dw2: [2]float64{880, -1000}}
	f.composite = c
	kids, _ := b.doc.Array(b.dict["DescendantFonts"])
	var cid pdf.Dict
	if len(kids) > 0 {
		cid, _ = b.doc.Dict(kids[0])
	} else {
		cid, _ = b.doc.Dict(b.dict["DescendantFonts"])
	}
	if cid == nil {
		b.reports.add(damaged(f.Name, "the part that holds its letters is missing"))
	}
	b.descriptor, _ = b.doc.Dict(cid["FontDescriptor"])
	if v, ok := b.doc.Int(b.descriptor["Flags"]); ok {
		b.flags = v
	}
	if f.Name == "" {
		base, _ := b.doc.Name(cid["BaseFont"])
		b.setName(string(base))
	}
	known := b.readCMap(c)
	f.Vertical = c.vertical
	if v, ok := b.doc.Num(cid["DW"]); ok {
		c.dw = v
	}
	c.widths = b.spans(cid["W"], 1)
	if c.vertical {
		if v, ok := b.doc.Nums(cid["DW2"]); ok && len(v) == 2 {
			c.dw2 = [2]float64{v[0], v[1]}
		}
		c.columns = b.spans(cid["W2"], 3)
	}
	p := b.program()
	switch {
	case p == nil:
		b.substituteComposite(c, cid)
	case !known:
		f.Embedded = true
		b.setProgram(p)
		c.gid = func(uint32, uint32, int) int { return -1 }
	default:
		f.Embedded = true
		b.setProgram(p)
		c.gid = b.cidMap(cid, p)
	}
}

// cidMap is the way from CIDs to glyphs (9.7.4.2, 9.7.4.4). A CID without a glyph shows glyph 0.
func (b *builder) cidMap(cid pdf.Dict, p program) func(cid, code uint32, n int) int {
	n := uint32(p.numGlyphs())
	direct := func(cid, _ uint32, _ int) int {
		if cid < n {
			return int(cid)
		}
		return 0
	}
	var cff *cffFont
	switch t := p.(type) {
	case *cffFont:
		cff = t
	case *openTypeCFF:
		cff = t.cffFont
	}
	if s, ok := b.doc.Stream(cid["CIDToGIDMap"]); ok {
		m, err := b.doc.Data(s)
		if err != nil {
			b.reports.add(damaged(b.font.Name, "the table that leads to its letters is cut short"))
		}
		// A table of nothing, seen beside CFF programs, says no more than Identity.
		if len(m) >= 2 && (cff == nil || b.subtypeOf(cid) == "CIDFontType2") {
			return func(cid, _ uint32, _ int) int {
				if at := 2 * int(cid); at+2 <= len(m) {
					if g := be16(m[at:]); g < int(n) {
						return g
					}
				}
				return 0
			}
		}
	}
	if cff != nil {
		return func(cid, _ uint32, _ int) int { return max(0, cff.gidFromCID(int(cid))) }
	}
	return direct
}

func (b *builder) subtypeOf(d pdf.Dict) string {
	n, _ := b.doc.Name(d["Subtype"])
	return string(n)
}

// readCMap fills the code mapping; known is false for a predefined CMap that is not carried here.
func (b *builder) readCMap(c *composite) (known bool) {
	o := b.doc.Resolve(b.dict["Encoding"])
	if s, ok := o.(*pdf.Stream); ok {
		c.cmap = b.embeddedCMap(s, 0)
		c.vertical = c.cmap.vertical
		if v, ok := b.doc.Int(s.Dict["WMode"]); ok {
			c.vertical = v == 1
		}
		if c.cmap.mapsNothing() {
			if c.cmap.lost {
				return false
			}
			b.reports.add(damaged(b.font.Name, "the table of its codes is empty"))
			c.cmap = identityCMap(c.vertical)
		}
		return true
	}
	name, ok := o.(pdf.Name)
	if !ok {
		b.reports.add(damaged(b.font.Name, "the table of its codes is missing"))
		name = "Identity-H"
	}
	if c.cmap = lookupCMap(string(name)); c.cmap != nil {
		c.vertical = c.cmap.vertical
		return true
	}
	c.vertical = strings.HasSuffix(string(name), "-V")
	c.cmap = identityCMap(c.vertical)
	b.cmapNotSupported(string(name))
	return false
}

func (b *builder) cmapNotSupported(name string) {
	b.reports.add(finding.Finding{ID: "cmap-not-supported", Severity: finding.Error, Class: finding.Unsupported, Incomplete: true,
		What:   fmt.Sprintf("The text in %s is left out: its codes follow the table %s, which this program does not have.", quoted(b.font.Name), cleanName(name)),
		Why:    "The picture shown here lacks text that another machine will print.",
		Remedy: "Export the PDF again with fonts embedded as subsets, or turn the text into outlines."})
}

// streamCMap reads a CMap stream alone, once.
func (b *builder) streamCMap(s *pdf.Stream) *cmapFile {
	b.mu.Lock()
	c := b.cmaps[s.Ref]
	b.mu.Unlock()
	if c != nil && s.Ref != (pdf.Ref{}) {
		return c
	}
	data, err := b.doc.Data(s)
	c = parseCMap(data)
	c.cut = err != nil
	b.meter.kept.Add(12 * int64(c.entries()))
	b.mu.Lock()
	b.cmaps[s.Ref] = c
	b.mu.Unlock()
	return c
}

// embeddedCMap reads a CMap stream and what it builds on.
func (b *builder) embeddedCMap(s *pdf.Stream, depth int) *cmapFile {
	own := *b.streamCMap(s)
	c := &own
	if c.cut {
		b.reports.add(damaged(b.font.Name, "the table of its codes is cut short"))
	}
	if c.over {
		b.reports.add(finding.Finding{ID: "cmap-too-large", Severity: finding.Error, Class: finding.OverLimit, Incomplete: true,
			What:   fmt.Sprintf("The table of codes of %s has more entries than this program keeps; some characters may be missing or wrong.", quoted(b.font.Name)),
			Remedy: "Export the PDF again with fonts embedded as subsets, or turn the text into outlines."})
	}
	if depth >= maxUseCMap {
		return c
	}
	switch use := b.doc.Resolve(s.Dict["UseCMap"]).(type) {
	case *pdf.Stream:
		c.base = b.embeddedCMap(use, depth+1)
		c.lost = c.base.lost
	case pdf.Name:
		c.useName = string(use)
	}
	if c.base == nil && c.useName != "" {
		if c.base = lookupCMap(c.useName); c.base == nil {
			c.lost = true
			c.base = identityCMap(false) // codes are most likely of two bytes
			c.base.ranges[1] = nil
			b.cmapNotSupported(c.useName)
		}
	}
	return c
}

// entries counts what a CMap itself maps.
func (c *cmapFile) entries() int {
	n := 0
	for i := range c.ranges {
		n += len(c.chars[i]) + len(c.ranges[i]) + len(c.notdef[i]) + len(c.unicode[i]) + len(c.uniRange[i])
	}
	return n
}

// mapsNothing reports whether no code has a CID.
func (c *cmapFile) mapsNothing() bool {
	for d := 0; c != nil && d < maxUseCMap; c, d = c.base, d+1 {
		for i := range c.ranges {
			if len(c.ranges[i])+len(c.chars[i]) > 0 {
				return false
			}
		}
	}
	return true
}
