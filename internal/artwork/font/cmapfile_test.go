package font

import (
	"fmt"
	"testing"
)

const mixedCMap = `/CIDInit /ProcSet findresource begin begincmap /WMode 1 def
2 begincodespacerange <00> <80> <8140> <9FFC> endcodespacerange
1 begincidchar <20> 1 endcidchar
2 begincidrange <21> <7E> 100 <8140> <817E> 633 endcidrange
endcmap`

// Strings are cut by code spaces whose every byte is bounded, and codes reach CIDs.
func TestCMapCutsStrings(t *testing.T) {
	c := parseCMap([]byte(mixedCMap))
	if !c.vertical {
		t.Error("WMode 1 was not read")
	}
	got := ""
	for s := " !\x81\x41\x81\x20A\x9F"; s != ""; {
		code, n, _ := c.next(s)
		cid, ok := c.cid(code, n)
		got += fmt.Sprintf("%X/%d=%d,%v ", code, n, cid, ok)
		s = s[n:]
	}
	// 81 20 begins a two-byte code but is none: both bytes go (9.7.6.3); a lone 9F ends the string.
	if want := "20/1=1,true 21/1=100,true 8141/2=634,true 8120/2=0,false 41/1=132,true 9F/1=0,false "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// A CMap overrides the one it is built on.
func TestCMapUsesAnother(t *testing.T) {
	c := parseCMap([]byte("1 begincidchar <0041> 7 endcidchar"))
	c.base = identityCMap(false)
	for code, want := range map[uint32]uint32{0x41: 7, 0x42: 0x42} {
		v, n, _ := c.next(string([]byte{byte(code >> 8), byte(code)}))
		if cid, ok := c.cid(v, n); !ok || cid != want {
			t.Errorf("code %X is CID %d, want %d", code, cid, want)
		}
	}
}

// Overlapping ranges still give one answer for every code.
func TestCMapOverlappingRanges(t *testing.T) {
	c := parseCMap([]byte("3 begincidrange <0010> <0020> 100 <0015> <0030> 500 <0012> <0014> 900 endcidrange"))
	for code, want := range map[uint32]uint32{0x10: 100, 0x14: 104, 0x20: 116, 0x21: 512, 0x30: 527} {
		if cid, ok := c.cid(code, 2); !ok || cid != want {
			t.Errorf("code %X is CID %d %v, want %d", code, cid, ok, want)
		}
	}
	if _, ok := c.cid(0x31, 2); ok {
		t.Error("a code past the last range was mapped")
	}
}

// ToUnicode forms: single, ranges with a start and with a list, surrogates.
func TestCMapToUnicode(t *testing.T) {
	c := parseCMap([]byte("2 beginbfchar <01> <0041> <02> <D83DDE00> endbfchar 2 beginbfrange <10> <12> <0061> <20> <21> [<0078> <0079>] endbfrange"))
	for code, want := range map[uint32]rune{1: 'A', 2: 0x1F600, 0x11: 'b', 0x21: 'y'} {
		if r, ok := c.runeOf(code, 1); !ok || r != want {
			t.Errorf("code %X is %q %v, want %q", code, r, ok, want)
		}
	}
	var none *cmapFile
	if _, ok := none.runeOf(1, 1); ok {
		t.Error("no CMap mapped a code")
	}
}
