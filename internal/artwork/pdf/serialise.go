package pdf

import (
	"math"
	"sort"
	"strconv"
)

// AppendObject writes o as PDF syntax (7.3), the same bytes for the same value. Dictionary keys are
// sorted, /Type and /Subtype first. A stream within another object is written as its reference.
func AppendObject(dst []byte, o Object) []byte { return appendObject(dst, o, nil) }

// appendObject is AppendObject with references renumbered by mapRef when it is not nil.
func appendObject(dst []byte, o Object, mapRef func(Ref) Ref) []byte {
	switch v := o.(type) {
	case nil:
		return append(dst, "null"...)
	case Boolean:
		return strconv.AppendBool(dst, bool(v))
	case Integer:
		return strconv.AppendInt(dst, int64(v), 10)
	case Real:
		return appendReal(dst, float64(v))
	case Name:
		return appendName(dst, v)
	case String:
		return appendString(dst, v)
	case Ref:
		if mapRef != nil {
			v = mapRef(v)
		}
		dst = strconv.AppendInt(dst, int64(v.Num), 10)
		dst = append(dst, ' ')
		dst = strconv.AppendInt(dst, int64(v.Gen), 10)
		return append(dst, " R"...)
	case Array:
		dst = append(dst, '[')
		for i, e := range v {
			if i > 0 {
				dst = append(dst, ' ')
			}
			dst = appendObject(dst, e, mapRef)
		}
		return append(dst, ']')
	case Dict:
		dst = append(dst, "<<"...)
		for _, k := range sortedKeys(v) {
			dst = append(dst, ' ')
			dst = appendName(dst, k)
			dst = append(dst, ' ')
			dst = appendObject(dst, v[k], mapRef)
		}
		return append(dst, " >>"...)
	case *Stream:
		if v == nil || v.Ref.Num == 0 {
			return append(dst, "null"...)
		}
		return appendObject(dst, v.Ref, mapRef)
	}
	return append(dst, "null"...)
}

func sortedKeys(d Dict) []Name {
	keys := make([]Name, 0, len(d))
	for k := range d {
		keys = append(keys, k)
	}
	rank := func(k Name) int {
		switch k {
		case "Type":
			return 0
		case "Subtype":
			return 1
		}
		return 2
	}
	sort.Slice(keys, func(i, j int) bool {
		if a, b := rank(keys[i]), rank(keys[j]); a != b {
			return a < b
		}
		return keys[i] < keys[j]
	})
	return keys
}

// appendReal writes the shortest digits that read back as the same number, without an exponent and
// always with a point, so that a Real stays one.
func appendReal(dst []byte, f float64) []byte {
	if math.IsNaN(f) || math.IsInf(f, 0) || f == 0 {
		return append(dst, "0.0"...)
	}
	start := len(dst)
	dst = strconv.AppendFloat(dst, f, 'f', -1, 64)
	for _, c := range dst[start:] {
		if c == '.' {
			return dst
		}
	}
	return append(dst, ".0"...)
}

const hexDigits = "0123456789ABCDEF"

func appendName(dst []byte, n Name) []byte {
	dst = append(dst, '/')
	for i := range len(n) {
		if c := n[i]; c < '!' || c > '~' || c == '#' || charClass[c] != chRegular {
			dst = append(dst, '#', hexDigits[c>>4], hexDigits[c&15])
		} else {
			dst = append(dst, c)
		}
	}
	return dst
}

// appendString writes text as a literal string, and what is mostly not text as hexadecimal.
func appendString(dst []byte, s String) []byte {
	odd := 0
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			odd++
		}
	}
	if odd*4 > len(s) {
		dst = append(dst, '<')
		for i := range len(s) {
			dst = append(dst, hexDigits[s[i]>>4], hexDigits[s[i]&15])
		}
		return append(dst, '>')
	}
	dst = append(dst, '(')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '(' || c == ')' || c == '\\':
			dst = append(dst, '\\', c)
		case c < ' ' || c > '~':
			dst = append(dst, '\\', '0'+c>>6, '0'+c>>3&7, '0'+c&7)
		default:
			dst = append(dst, c)
		}
	}
	return append(dst, ')')
}
