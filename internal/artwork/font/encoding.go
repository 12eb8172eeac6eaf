package font

import (
	"strconv"
	"strings"
	"sync"
)

// encoding maps codes to glyph names; "" = none.
type encoding [256]string

// parseEncoding reads the notation of encodingdata.go.
func parseEncoding(s string) *encoding {
	var e encoding
	code := 0
	for _, w := range strings.Fields(s) {
		if n, err := strconv.Atoi(w); err == nil {
			code = n
			continue
		}
		e[code] = w
		code++
	}
	return &e
}

var (
	standardEncoding     = sync.OnceValue(func() *encoding { return parseEncoding(standardNames) })
	winAnsiEncoding      = sync.OnceValue(func() *encoding { return parseEncoding(winAnsiNames) })
	macRomanEncoding     = sync.OnceValue(func() *encoding { return parseEncoding(macRomanNames) })
	macExpertEncoding    = sync.OnceValue(func() *encoding { return parseEncoding(macExpertNames) })
	symbolEncoding       = sync.OnceValue(func() *encoding { return parseEncoding(symbolNames) })
	zapfDingbatsEncoding = sync.OnceValue(func() *encoding { return parseEncoding(zapfDingbatsNames) })

	symbolWidths       = sync.OnceValue(func() *[256]float64 { return parseAdvances(symbolAdvances) })
	zapfDingbatsWidths = sync.OnceValue(func() *[256]float64 { return parseAdvances(zapfDingbatsAdvances) })
)

func parseAdvances(s string) *[256]float64 {
	var a [256]float64
	code := 0
	for _, w := range strings.Fields(s) {
		if at, ok := strings.CutPrefix(w, "@"); ok {
			code, _ = strconv.Atoi(at)
			continue
		}
		a[code], _ = strconv.ParseFloat(w, 64)
		code++
	}
	return &a
}

// namedEncoding finds a predefined encoding (9.6.5.1, Table 112).
func namedEncoding(name string) (*encoding, bool) {
	switch name {
	case "StandardEncoding":
		return standardEncoding(), true
	case "WinAnsiEncoding":
		return winAnsiEncoding(), true
	case "MacRomanEncoding":
		return macRomanEncoding(), true
	case "MacExpertEncoding":
		return macExpertEncoding(), true
	}
	return nil, false
}

// macCodes finds the code of a glyph name in the Macintosh character set, for (1,0) "cmap" subtables:
// MacRomanEncoding and the additions of 9.6.5.4, Table 115.
var macCodes = sync.OnceValue(func() map[string]byte {
	m := map[string]byte{}
	for c, n := range macRomanEncoding() {
		if _, seen := m[n]; n != "" && !seen {
			m[n] = byte(c)
		}
	}
	for n, c := range map[string]byte{
		"notequal": 173, "infinity": 176, "lessequal": 178, "greaterequal": 179, "partialdiff": 182,
		"summation": 183, "product": 184, "pi": 185, "integral": 186, "Omega": 189, "radical": 195,
		"approxequal": 197, "Delta": 198, "lozenge": 215, "Euro": 219, "apple": 240,
	} {
		m[n] = c
	}
	return m
})
