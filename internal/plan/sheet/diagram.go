package sheet

import "strings"

// Diagram draws the front of a layout in characters, cols wide: the sheet as a box with the lead edge on top, each piece
// as a box with an arrow to its head and a letter for its version (version tells the index; nil = all the same).
func (l *Layout) Diagram(cols int, version func(place int) int) string {
	// A character is about twice as high as wide.
	scale := float64(cols-1) / l.Sheet.W
	rows := int(float64(l.Sheet.H*scale)/2+0.5) + 1
	g := make([][]rune, rows)
	for i := range g {
		g[i] = []rune(strings.Repeat(" ", cols))
	}
	at := func(x, y float64) (int, int) {
		return min(max(int(float64(x*scale)+0.5), 0), cols-1), min(max(int(float64(y*scale)/2+0.5), 0), rows-1)
	}
	box := func(r Rect, corner, across, down rune) (x0, y0, x1, y1 int) {
		x0, y0 = at(r.X, r.Y)
		x1, y1 = at(r.X+r.W, r.Y+r.H)
		for x := x0; x <= x1; x++ {
			g[y0][x], g[y1][x] = across, across
		}
		for y := y0; y <= y1; y++ {
			g[y][x0], g[y][x1] = down, down
		}
		for _, x := range []int{x0, x1} {
			g[y0][x], g[y1][x] = corner, corner
		}
		return x0, y0, x1, y1
	}
	box(Rect{W: l.Sheet.W, H: l.Sheet.H}, '#', '=', '|')
	for i, p := range l.Places {
		x0, y0, x1, y1 := box(p.Rect, '+', '-', '|')
		word := []rune{map[int]rune{0: '^', 90: '>', 180: 'v', 270: '<'}[p.Rotate]}
		if version != nil {
			if v := version(i); v >= 0 {
				word = append(word, 'A'+rune(v%26))
			}
		}
		if p.Back {
			word = append(word, '\'')
		}
		x, y := (x0+x1+1-len(word))/2, (y0+y1)/2
		if x1-x0 > len(word) && y1-y0 > 1 {
			copy(g[y][x:], word)
		}
	}
	var b strings.Builder
	for _, line := range g {
		b.WriteString(strings.TrimRight(string(line), " "))
		b.WriteByte('\n')
	}
	return b.String()
}

// Version is the version at a place of sheet i; -1 = none.
func (p *Plan) Version(i, place int) int {
	v, piece := p.at(i, place)
	if piece == nil {
		return -1
	}
	return v
}
