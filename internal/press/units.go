package press

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"laydown/internal/colourant"
)

// Length is in millimetres; written "0.25pt", "3mm", "2cm", "1in" or "80um".
type Length float64

// Area is in square millimetres, written "1mm2".
type Area float64

// GSM is a mass per area in g/m2, written "300gsm".
type GSM float64

// Percent is 0..100 and beyond for piles, written "70%".
type Percent float64

// DPI is a resolution, written "600dpi".
type DPI float64

// Wavelength is in nanometres, written "380nm".
type Wavelength float64

// Lab is CIE L*a*b*, D50, 2 degrees; written [52, 5, 29].
type Lab [3]float64

// Points of 1/72 inch.
func (l Length) Points() float64 { return float64(l) * 72 / 25.4 }

// ParseLength reads a length with its unit, such as 3mm or 0.25pt.
func ParseLength(s string) (l Length, err error) {
	err = l.parse(s)
	return l, err
}

// LengthFromPoints turns points of 1/72 inch into a Length.
func LengthFromPoints(pt float64) Length { return Length(pt * 25.4 / 72) }

// String writes the length in millimetres, or in a unit that needs far fewer digits.
func (l Length) String() string { return formatUnit(float64(l), lengthUnits) }

func (a Area) String() string    { return formatUnit(float64(a), areaUnits) }
func (g GSM) String() string     { return formatUnit(float64(g), gsmUnits) }
func (p Percent) String() string { return formatUnit(float64(p), percentUnits) }
func (d DPI) String() string     { return formatUnit(float64(d), dpiUnits) }

func (w Wavelength) String() string { return formatUnit(float64(w), wavelengthUnits) }

// unit is one way to write a quantity: value = number x num / den. Numerator and denominator are
// kept apart because 25.4/72 has no exact double and 0.25pt must come back as 0.25pt.
type unit struct {
	suffix   string
	num, den float64
}

var (
	lengthUnits  = []unit{{"mm", 1, 1}, {"pt", 25.4, 72}, {"in", 25.4, 1}, {"cm", 10, 1}, {"um", 1, 1000}}
	areaUnits    = []unit{{"mm2", 1, 1}}
	gsmUnits     = []unit{{"gsm", 1, 1}}
	percentUnits = []unit{{"%", 1, 1}}
	dpiUnits     = []unit{{"dpi", 1, 1}}

	wavelengthUnits = []unit{{"nm", 1, 1}}
)

func (u unit) apply(n float64) float64 { return n * u.num / u.den }

// parseUnit reads a number followed by one of the units.
func parseUnit(text, what, example string, units []unit) (float64, error) {
	t := strings.TrimSpace(text)
	i := len(t)
	for i > 0 && (t[i-1] < '0' || t[i-1] > '9') && t[i-1] != '.' {
		i--
	}
	suffix := t[i:]
	// "mm2" ends in a digit of its own.
	for _, u := range units {
		if strings.HasSuffix(t, u.suffix) && len(u.suffix) > len(suffix) {
			i, suffix = len(t)-len(u.suffix), u.suffix
		}
	}
	number := strings.TrimSpace(t[:i])
	n, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(n, 0) || math.IsNaN(n) {
		return 0, fmt.Errorf("%q is not %s; write for example %s", text, what, example)
	}
	suffix = strings.TrimSpace(suffix)
	if suffix == "" {
		return 0, fmt.Errorf("%q has no unit; write %s", text, joinOr(spellings(number, units)))
	}
	for _, u := range units {
		if suffix == u.suffix {
			return u.apply(n), nil
		}
	}
	return 0, fmt.Errorf("unit %q in %q is not known for %s; write %s", suffix, text, what, joinOr(spellings(number, units)))
}

func spellings(number string, units []unit) []string {
	out := make([]string, len(units))
	for i, u := range units {
		out[i] = number + u.suffix
	}
	return out
}

func joinOr(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " or " + list[len(list)-1]
}

// patience is how many more characters the first unit may take than the shortest.
const patience = 3

// formatUnit picks the shortest spelling that reads back as exactly v, preferring the first unit.
func formatUnit(v float64, units []unit) string {
	best, length := "", 0
	for _, u := range units {
		n := v * u.den / u.num
		if u.apply(n) != v {
			n = math.Round(n*1e9) / 1e9
		}
		s := strconv.FormatFloat(n, 'f', -1, 64)
		// A neighbour with fewer digits often gives the same v.
		if r := strconv.FormatFloat(n, 'f', 9, 64); strings.Contains(r, ".") {
			r = strings.TrimRight(strings.TrimRight(r, "0"), ".")
			if m, err := strconv.ParseFloat(r, 64); err == nil && u.apply(m) == v {
				s, n = r, m
			}
		}
		s += u.suffix
		if u.apply(n) != v {
			continue
		}
		if best == "" {
			best, length = s, len(s)-patience
		} else if len(s) < length {
			best, length = s, len(s)
		}
	}
	if best == "" {
		best = strconv.FormatFloat(v, 'f', -1, 64) + units[0].suffix
	}
	return best
}

// quantity is implemented by pointers to the unit types; the reader of definitions sets them from
// the scalar as the person wrote it.
type quantity interface{ parse(text string) error }

func (l *Length) parse(s string) (err error) {
	return setUnit((*float64)(l), s, "a length", "3mm", lengthUnits)
}
func (a *Area) parse(s string) error {
	return setUnit((*float64)(a), s, "an area", "1mm2", areaUnits)
}
func (g *GSM) parse(s string) error {
	return setUnit((*float64)(g), s, "a mass per area", "300gsm", gsmUnits)
}
func (p *Percent) parse(s string) error {
	return setUnit((*float64)(p), s, "a percentage", "70%", percentUnits)
}
func (d *DPI) parse(s string) error {
	return setUnit((*float64)(d), s, "a resolution", "600dpi", dpiUnits)
}

func (w *Wavelength) parse(s string) error {
	return setUnit((*float64)(w), s, "a wavelength", "380nm", wavelengthUnits)
}

func setUnit(dst *float64, text, what, example string, units []unit) error {
	v, err := parseUnit(text, what, example, units)
	if err == nil {
		*dst = v
	}
	return err
}

// MarshalYAML and UnmarshalYAML make the unit types usable with any YAML encoder and decoder; the
// strict reader of this package goes through parse, for positions.

// MarshalYAML writes the number with its unit.
func (l Length) MarshalYAML() (any, error) { return l.String(), nil }

// MarshalYAML writes the number with its unit.
func (a Area) MarshalYAML() (any, error) { return a.String(), nil }

// MarshalYAML writes the number with its unit.
func (g GSM) MarshalYAML() (any, error) { return g.String(), nil }

// MarshalYAML writes the number with its unit.
func (p Percent) MarshalYAML() (any, error) { return p.String(), nil }

// MarshalYAML writes the number with its unit.
func (d DPI) MarshalYAML() (any, error) { return d.String(), nil }

// MarshalYAML writes the number with its unit.
func (w Wavelength) MarshalYAML() (any, error) { return w.String(), nil }

// UnmarshalYAML reads a number with its unit.
func (l *Length) UnmarshalYAML(b []byte) error { return l.parse(scalarText(b)) }

// UnmarshalYAML reads a number with its unit.
func (a *Area) UnmarshalYAML(b []byte) error { return a.parse(scalarText(b)) }

// UnmarshalYAML reads a number with its unit.
func (g *GSM) UnmarshalYAML(b []byte) error { return g.parse(scalarText(b)) }

// UnmarshalYAML reads a number with its unit.
func (p *Percent) UnmarshalYAML(b []byte) error { return p.parse(scalarText(b)) }

// UnmarshalYAML reads a number with its unit.
func (d *DPI) UnmarshalYAML(b []byte) error { return d.parse(scalarText(b)) }

// UnmarshalYAML reads a number with its unit.
func (w *Wavelength) UnmarshalYAML(b []byte) error { return w.parse(scalarText(b)) }

func scalarText(b []byte) string {
	return strings.Trim(strings.TrimSpace(string(b)), `"'`)
}

// kindWords lists the toner kinds as written in definitions.
func kindWords() []string {
	var out []string
	for k := colourant.Spot; k <= colourant.Fluorescent; k++ {
		out = append(out, k.String())
	}
	return out
}
