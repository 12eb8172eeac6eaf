package content

import (
	"fmt"
	"strings"
	"testing"
)

// Where does the data of an inline image end? What follows it must be read as operators again.
func TestInlineImageEnds(t *testing.T) {
	cases := []struct{ name, dict, data string }{
		{"unfiltered gray holding EI", "/W 9/H 1/BPC 8/CS/G", "ab EI Q q"},
		{"unfiltered RGB, long keys", "/Width 2/Height 1/BitsPerComponent 8/ColorSpace/DeviceRGB", " EI Q "},
		{"unfiltered CMYK", "/W 2/H 1/BPC 8/CS/CMYK", "12 EI Q4"},
		{"rows end on bytes", "/W 9/H 3/BPC 1/CS/G", " EI Q6"},
		{"a stencil", "/W 17/H 2/IM true", " EI Q6"},
		{"indexed", "/W 6/H 1/BPC 8/CS[/I/RGB 1<000000FFFFFF>]", " EI q "},
		{"16 bits", "/W 3/H 1/BPC 16/CS/G", " EI q "},
		{"a length given", "/W 3/H 1/BPC 8/CS/Own/L 7", " EI Q x"},
		{"a long length key", "/W 3/H 1/BPC 8/CS/Own/Length 7/F/Fl", " EI Q x"},
		{"hexadecimal", "/W 2/H 1/BPC 8/CS/G/F/AHx", "4 EI 5>"},
		{"hexadecimal, long name in an array", "/W 2/H 1/BPC 8/CS/G/Filter[/ASCIIHexDecode]", "4 EI 5>"},
		{"base 85", "/W 2/H 1/BPC 8/CS/G/F/A85", "!! EI Q ~>"},
		{"base 85 over deflate", "/W 2/H 1/BPC 8/CS/G/F[/A85/Fl]", "!! EI Q ~>"},
		{"run lengths", "/W 9/H 1/BPC 8/CS/G/F/RL", "\x06 EI Q q\xffx\x80"},
		{"JPEG", "/W 2/H 1/BPC 8/CS/G/F/DCT", "\xff\xd8 EI Q \xff\xd9"},
		{"deflate with EI among bytes", "/W 2/H 1/BPC 8/CS/G/F/Fl", "x\x9c EI \x01\xb7\x02 EI)~\x00 "},
		{"a space of the page", "/W 2/H 1/BPC 8/CS/Own", "a EI\x00\x81b"},
		{"no data at all", "/W 0/H 0", ""},
	}
	for _, c := range cases {
		for _, end := range []string{"\nEI Q", " EI\nQ\n1 0 0 rg", "\r\nEI Q /Im Do"} {
			in := "q BI " + c.dict + " ID " + c.data + end
			s := NewScanner([]byte(in))
			s.Problem = func(at int64, what string) { t.Errorf("%s: %d: %s", c.name, at, what) }
			s.Next()
			op, _ := s.Next()
			if op.Name != "BI" || op.Inline == nil || string(op.Inline.Data) != c.data {
				t.Errorf("%s: %q gives %s", c.name, in, line(op))
				continue
			}
			if next, _ := s.Next(); next.Name != "Q" {
				t.Errorf("%s: %q: after the image stands %s", c.name, in, line(next))
			}
		}
	}
}

// Is the one white-space character after ID no part of the data, and the next ones are?
func TestInlineImageStart(t *testing.T) {
	for sep, want := range map[string]string{" ": "ab", "\n": "ab", "\r\n": "ab", "  ": " ab", "\n\n": "\nab"} {
		n := len(want)
		r := scan(fmt.Sprintf("BI /W %d/H 1/BPC 8/CS/G ID%sab EI Q", n, sep))
		if w := fmt.Sprintf("BI /BPC 8 /CS /G /H 1 /W %d %q|Q", n, want); strings.Join(r.ops, "|") != w {
			t.Errorf("after ID %q: %q, want %q", sep, r.ops, w)
		}
	}
}

// Is a wrong size or length mended by looking for EI?
func TestInlineImageOfWrongSize(t *testing.T) {
	for _, dict := range []string{"/W 50/H 50/BPC 8/CS/G", "/W 1/H 1/BPC 8/CS/G", "/W 3/H 1/BPC 8/CS/G/L 2", "/W 3/H 1/BPC 8/CS/G/L -2",
		"/W 2000000/H 2000000/BPC 8/CS/G", "/F/AHx", "/F/DCT", "/F/RL"} {
		r := scan("BI " + dict + " ID abc EI Q q")
		if n := len(r.ops); n != 3 || !strings.HasSuffix(r.ops[0], `"abc"`) || r.ops[2] != "q" {
			t.Errorf("%s: %q", dict, r.ops)
		}
	}
}
