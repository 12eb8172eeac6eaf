package jpx

import (
	"bytes"
	"encoding/binary"
	"testing"
)

// split takes the one tile-part of a codestream apart: the header before it, and headers and bodies of its packets.
func split(t *testing.T, data []byte) (main, heads, bodies []byte) {
	t.Helper()
	f, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	cs := f.cs
	td := cs.tiles[0]
	tl, err := cs.newTile(0, td.par)
	if err != nil {
		t.Fatal(err)
	}
	body := td.body
	list := tl.places(cs, order{res1: maxLevels + 1, comp1: len(tl.comps)})
	for l := range td.par.layers {
		for _, p := range list {
			tc := &tl.comps[p.comp]
			r := &bits{data: body}
			var got []arrival
			if r.bit() == 1 {
				got, _ = tc.open(p.res, p.k).header(r, l, tc.coding.style)
			}
			n := r.end()
			heads, body = append(heads, body[:n]...), body[n:]
			for _, a := range got {
				a.block.add(a, body[:a.size:a.size])
				bodies, body = append(bodies, body[:a.size]...), body[a.size:]
			}
		}
	}
	return data[:bytes.Index(data, []byte{0xff, markSOT & 0xff})], heads, bodies
}

func marker(m int, body ...byte) []byte {
	b := binary.BigEndian.AppendUint16(nil, uint16(m))
	return append(binary.BigEndian.AppendUint16(b, uint16(2+len(body))), body...)
}

// Packet headers may stand in the header of the tile-part or of the file instead of the packets (A.7.4, A.7.5).
func TestPackedPacketHeaders(t *testing.T) {
	data := sample(t, "gray")
	want := invented(21, 17, 1, 8)
	main, heads, bodies := split(t, data)
	for name, make := range map[string]func() (mainMore, tileMore []byte){
		"in the tile-part": func() ([]byte, []byte) {
			return nil, append(marker(markPPT, append([]byte{0}, heads[:3]...)...), marker(markPPT, append([]byte{1}, heads[3:]...)...)...)
		},
		"in the main header": func() ([]byte, []byte) {
			return marker(markPPM, append(binary.BigEndian.AppendUint32([]byte{0}, uint32(len(heads))), heads...)...), nil
		},
	} {
		mainMore, tileMore := make()
		b := append(bytes.Clone(main), mainMore...)
		part := binary.BigEndian.AppendUint32([]byte{0xff, markSOT & 0xff, 0, 10, 0, 0}, uint32(12+len(tileMore)+2+len(bodies)))
		part = append(append(part, 0, 1), tileMore...)
		part = append(append(part, 0xff, markSOD&0xff), bodies...)
		b = append(append(b, part...), 0xff, markEOC&0xff)
		p, got := decoded(t, b, 1)
		if most, _ := worst(got, want); p.Damage != nil || most != 0 {
			t.Errorf("%s: %v, worst %d", name, p.Damage, most)
		}
	}
}

// A stream of thousands of repeated progressions ends soon.
func TestProgressionsThatRepeatEnd(t *testing.T) {
	data := sample(t, "gray")
	at := bytes.Index(data, []byte{0xff, markSOT & 0xff})
	var poc []byte
	for range 9000 {
		poc = append(poc, 0, 0, 0xff, 0xff, 33, 1, 0)
	}
	b := append(bytes.Clone(data[:at]), marker(markPOC, poc...)...)
	b = append(b, data[at:]...)
	p, got := decoded(t, b, 1)
	if most, _ := worst(got, invented(21, 17, 1, 8)); most != 0 {
		t.Errorf("worst %d, %v", most, p.Damage)
	}
}
