package look

import "laydown/internal/press"

// Labs is the colour of every pixel: planes are by plate, nil where a plate has no toner, and hold n bytes each. Pixels of
// equal tints are worked out once.
func (m *Model) Labs(planes [][]byte, n int) []press.Lab {
	out := make([]press.Lab, n)
	known := map[key]press.Lab{}
	e := newEvaluator(m)
	for i := range out {
		var k key
		for in, plate := range m.inputs {
			if plate < len(planes) && planes[plate] != nil {
				k.set(in, planes[plate][i])
			}
		}
		lab, ok := known[k]
		if !ok {
			e.mix(k)
			lab = e.lab()
			known[k] = lab
		}
		out[i] = lab
	}
	return out
}
