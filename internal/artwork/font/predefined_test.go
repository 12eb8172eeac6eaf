package font

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// table116 lists the predefined CMaps of ISO 32000-2, 9.7.5.2; "name-H/V" stands for both.
const table116 = `GB-EUC-H/V GBpc-EUC-H/V GBK-EUC-H/V GBKp-EUC-H/V GBK2K-H/V UniGB-UCS2-H/V UniGB-UTF16-H/V
B5pc-H/V HKscs-B5-H/V ETen-B5-H/V ETenms-B5-H/V CNS-EUC-H/V UniCNS-UCS2-H/V UniCNS-UTF16-H/V
83pv-RKSJ-H 90ms-RKSJ-H/V 90msp-RKSJ-H/V 90pv-RKSJ-H Add-RKSJ-H/V EUC-H/V Ext-RKSJ-H/V H V UniJIS-UCS2-H/V UniJIS-UCS2-HW-H/V
UniJIS-UTF16-H/V KSC-EUC-H/V KSCms-UHC-H/V KSCms-UHC-HW-H/V KSCpc-EUC-H UniKS-UCS2-H/V UniKS-UTF16-H/V Identity-H/V`

// Every predefined CMap is carried, with its direction of writing.
func TestPredefinedCMapsAreCarried(t *testing.T) {
	for _, entry := range strings.Fields(table116) {
		name, both := strings.CutSuffix(entry, "/V")
		names := []string{name}
		if both {
			names = append(names, strings.TrimSuffix(name, "H")+"V")
		}
		for _, n := range names {
			c := lookupCMap(n)
			if c == nil {
				t.Errorf("%s is not carried", n)
			} else if c.vertical != strings.HasSuffix(n, "V") || c.mapsNothing() {
				t.Errorf("%s: vertical %v, maps nothing %v", n, c.vertical, c.mapsNothing())
			}
		}
	}
	if lookupCMap("Demo-H") != nil || lookupCMap("") != nil {
		t.Error("a CMap nobody has published was found")
	}
}

// Codes reach the CIDs that the published files give them: one or more of each family, read from the
// files by eye.
func TestPredefinedCMapsReachCIDs(t *testing.T) {
	for _, tc := range []struct {
		name, code string
		cid        uint32
	}{
		{"GB-EUC-H", "\xB0\xA1", 940},
		{"GB-EUC-V", "\xA1\xA2", 575},
		{"GBpc-EUC-H", "\xFD", 7713},
		{"GBK-EUC-H", "\x81\x40", 10072},
		{"GBK-EUC-H", "$", 817},
		{"GBKp-EUC-H", "$", 5},
		{"GBK2K-H", "\x81\x39\xEF\x30", 22530},
		{"GBK2K-V", "\xA3\xA1", 578},
		{"UniGB-UCS2-H", "\x4E\x00", 4162},
		{"UniGB-UTF16-H", "\x4E\x00", 4162},
		{"UniGB-UTF16-V", "\xD8\x40\xDC\x87", 22048},
		{"B5pc-H", "\xA4\x40", 595},
		{"HKscs-B5-H", "\x88\x40", 17609},
		{"ETen-B5-V", "\xA4\x40", 595},
		{"ETen-B5-V", "\xA1\x4B", 13646},
		{"ETenms-B5-H", "A", 34},
		{"CNS-EUC-H", "\x8E\xA1\xA1\xA1", 99},
		{"CNS-EUC-V", "\x8E\xA2\xA1\xA1", 5996},
		{"UniCNS-UCS2-H", "\x4E\x00", 595},
		{"UniCNS-UTF16-V", "\x4E\x00", 595},
		{"83pv-RKSJ-H", "\x88\x9F", 1125},
		{"90ms-RKSJ-H", "A", 264},
		{"90ms-RKSJ-H", "\x1F", 231}, // a notdef range
		{"90ms-RKSJ-V", "\x81\x41", 7887},
		{"90ms-RKSJ-V", "\xB1", 343},
		{"90msp-RKSJ-H", "A", 34},
		{"90pv-RKSJ-H", "\x88\x9F", 1125},
		{"Add-RKSJ-V", "\x88\x9F", 1125},
		{"EUC-H", "\x8E\xB1", 343},
		{"Ext-RKSJ-H", "\x88\x9F", 1125},
		{"H", "\x30\x21", 1125},
		{"V", "\x21\x22", 7887},
		{"UniJIS-UCS2-V", "\x30\x01", 7887},
		{"UniJIS-UCS2-HW-H", "\x00\x41", 264},
		{"UniJIS-UTF16-H", "\x4E\x9C", 1125},
		{"UniJIS-UTF16-H", "\xD8\x40\xDC\x0B", 13839},
		{"KSC-EUC-H", "\xB0\xA1", 1086},
		{"KSCms-UHC-H", "\x81\x41", 9333},
		{"KSCms-UHC-HW-H", "A", 8127},
		{"KSCpc-EUC-H", "\xB0\xA1", 1086},
		{"UniKS-UCS2-H", "\xAC\x00", 1086},
		{"UniKS-UTF16-V", "\x30\x01", 8056},
		{"Identity-V", "\x12\x34", 0x1234},
		{"Adobe-Japan1-UCS2", "\x04\x65", 0x4E9C},
		{"Adobe-GB1-UCS2", "\x04\x65", 0x79C9},
		{"Adobe-CNS1-UCS2", "\x04\x65", 0x574A},
		{"Adobe-Korea1-UCS2", "\x04\x66", 0xAC78},
		{"Adobe-KR-UCS2", "\x04\x65", 0xB9AC},
	} {
		c := lookupCMap(tc.name)
		code, n, valid := c.next(tc.code + "\x20\x20")
		if cid, _ := c.cid(code, n); cid != tc.cid || n != len(tc.code) || !valid {
			t.Errorf("%s: % X is CID %d of %d bytes, valid %v; want CID %d", tc.name, tc.code, cid, n, valid, tc.cid)
		}
	}
}

// The packed CMaps say of every code what the package's own reader of CMap files finds in the published
// ones, where these are installed.
func TestPredefinedCMapsEqualThePublished(t *testing.T) {
	files, _ := filepath.Glob("/usr/share/poppler/cMap/*/*")
	if len(files) == 0 {
		t.Skip("the published CMaps are not installed (Debian: poppler-data)")
	}
	seen := 0
	for _, path := range files {
		name := filepath.Base(path)
		e := predefinedIndex()[name]
		if e == nil {
			continue
		}
		seen++
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		got, want := e.load(), parseCMap(b)
		if want.vertical != got.vertical || want.useName != e.use || want.useName != "" && got.base != predefinedIndex()[want.useName].load() {
			t.Errorf("%s: vertical %v, based on %q", name, got.vertical, e.use)
		}
		codes := 0
		for n := 1; n <= 4; n++ {
			if len(got.spaces[n-1]) != len(want.spaces[n-1]) {
				t.Errorf("%s: code spaces %v, want %v", name, got.spaces, want.spaces)
			}
			for i, s := range want.spaces[n-1] {
				if got.spaces[n-1][i] != s {
					t.Errorf("%s: code spaces %v, want %v", name, got.spaces, want.spaces)
				}
			}
			look := func(c *cmapFile, code uint32) (uint32, bool) {
				if strings.HasSuffix(name, "-UCS2") && c == want {
					r, ok := c.runeOf(code, n)
					return uint32(r), ok && r != 0xFFFD
				}
				alone := *c
				alone.base = nil
				return alone.cid(code, n)
			}
			compare := func(code uint32) {
				codes++
				g, gok := look(got, code)
				w, wok := look(want, code)
				if g != w || gok != wok {
					t.Fatalf("%s: code %X is %d %v, want %d %v", name, code, g, gok, w, wok)
				}
			}
			for _, list := range [][]cidRange{got.ranges[n-1], want.ranges[n-1], got.notdef[n-1], want.notdef[n-1], want.uniRange[n-1]} {
				for _, r := range list {
					for code := uint64(r.lo); code <= uint64(r.hi)+1; code++ {
						compare(uint32(code))
					}
				}
			}
			for _, list := range [][]cidRange{want.chars[n-1], want.unicode[n-1]} {
				for _, r := range list {
					compare(r.lo)
				}
			}
		}
		if codes == 0 && e.use == "" {
			t.Errorf("%s: no codes were compared", name)
		}
	}
	if seen < 100 {
		t.Errorf("only %d CMaps were compared", seen)
	}
}
