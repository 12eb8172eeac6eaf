package cgats

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/colourant"
)

// Set is a table understood: what was printed and what was measured.
type Set struct {
	// Colourants are the fields of tints: the process colourants by their names in PDF, others as the table
	// names its fields.
	Colourants []string
	// Wavelengths of Patch.Spectrum in nm, ascending; none when the table has no spectra.
	Wavelengths []float64
	Patches     []Patch
	// HasColour tells that Patch.Lab is measured; a table without colours must have spectra.
	HasColour bool
	// PaperRelative tells that colours are relative to the white of the stock, by the table's own words or
	// because its unprinted patch is Lab 100, 0, 0.
	PaperRelative bool
	// Illuminant the colours hold for, as the table tells; "D50" when it tells nothing.
	Illuminant string
}

// Patch is one printed and measured patch.
type Patch struct {
	ID       string
	Line     int       // in the file, from 1
	Tints    []float64 // 0..1, one for each of Set.Colourants
	Lab      [3]float64
	Spectrum []float64 // reflectance, perfect diffuser = 1
}

// White is the Lab white of XYZ data: D50, 2 degrees, as in graphic arts (ISO 13655, ICC.1).
var White = [3]float64{96.42, 100, 82.49}

// columns of a table by what they hold.
type columns struct {
	id       int
	tints    []int
	lab, xyz [3]int
	spectrum []int
	paired   []int // columns of wavelengths before each of spectrum, when the table has them
}

// processFields of four-colour tables.
var processFields = map[string]string{
	"CMYK_C": colourant.Cyan, "CMYK_M": colourant.Magenta, "CMYK_Y": colourant.Yellow, "CMYK_K": colourant.Black,
	"CMY_C": colourant.Cyan, "CMY_M": colourant.Magenta, "CMY_Y": colourant.Yellow,
	"CYAN": colourant.Cyan, "MAGENTA": colourant.Magenta, "YELLOW": colourant.Yellow, "BLACK": colourant.Black,
	"C": colourant.Cyan, "M": colourant.Magenta, "Y": colourant.Yellow, "K": colourant.Black, "GRAY_K": colourant.Black,
}

// ownFields are fields of the standard and its dialects that are no tints.
var ownFields = []string{"SAMPLE_ID", "SAMPLEID", "SAMPLE_NAME", "SAMPLE_LOC", "SAMPLE_TYPE", "SAMPLE_POSITION", "STRING", "INDEX", "PAGE",
	"SET", "ROW", "COLUMN", "STOCK", "CHI_SQD_PAR", "MEAN_DE", "TIME", "CONDITION", "COMMENT"}

var ownPrefixes = []string{"XYZ_", "XYY_", "LAB_", "LCH_", "LUV_", "STDEV_", "D_", "RGB_", "DE_", "DENSITY", "SPECTRAL_", "MEAN_", "STATUS"}

func own(field string) bool {
	if slices.Contains(ownFields, field) {
		return true
	}
	for _, p := range ownPrefixes {
		if strings.HasPrefix(field, p) {
			return true
		}
	}
	return false
}

// wavelengthOf reads field names such as SPECTRAL_NM400, SPECTRAL_DEC_NM400, NM_400, nm400, SPEC_400 and R_400.
func wavelengthOf(field string) (nm float64, ok bool) {
	f := strings.ToUpper(field)
	digits := strings.TrimLeft(f, "ABCDEFGHIJKLMNOPQRSTUVWXYZ_")
	switch head := strings.TrimRight(f[:len(f)-len(digits)], "_"); head {
	case "NM", "SPECTRAL_NM", "SPECTRAL_DEC_NM", "SPECTRAL_PCT_NM", "SPECTRAL", "SPECTRAL_DEC", "SPECTRAL_PCT", "SPEC", "R":
	default:
		return 0, false
	}
	digits = strings.TrimSuffix(digits, "NM")
	nm, ok = number(digits)
	return nm, ok && nm >= 200 && nm <= 2500
}

// Set gives the table its meaning. Fields are found by name; tints and reflectances in percent or of one are told
// apart by their largest value, so are XYZ with Y of 100 or of 1 for white. Lab counts before XYZ. A table
// with neither tints nor measurements, values that are no numbers, tints beyond 0..100 % and fields given
// twice are errors of type *Error.
func (t *Table) Set() (*Set, error) {
	c, s, err := t.columns()
	if err != nil {
		return nil, err
	}
	if s.Patches, err = t.patches(c, s); err != nil {
		return nil, err
	}
	s.tellConditions(t)
	return s, nil
}

func (t *Table) columns() (c columns, s *Set, err error) {
	s = &Set{}
	c.id = -1
	for i := range 3 {
		c.lab[i], c.xyz[i] = -1, -1
	}
	seen := map[string]bool{}
	nm := map[float64]bool{}
	for i, name := range t.Fields {
		f := strings.ToUpper(strings.TrimSpace(name))
		pair := f == "SPECTRAL_NM" || f == "SPECTRAL_PCT" || f == "SPECTRAL_DEC"
		if seen[f] && !pair {
			return c, nil, faulty(0, "the table has the field %s twice", quoted(name))
		}
		seen[f] = true
		switch f {
		case "SPECTRAL_NM":
			if i+1 == len(t.Fields) || !strings.HasPrefix(strings.ToUpper(t.Fields[i+1]), "SPECTRAL_") {
				return c, nil, faulty(0, "the field SPECTRAL_NM has no reflectance after it")
			}
			c.paired = append(c.paired, i)
			c.spectrum = append(c.spectrum, i+1)
			continue
		case "SAMPLE_ID", "SAMPLEID":
			c.id = i
			continue
		}
		if k := slices.Index([]string{"LAB_L", "LAB_A", "LAB_B"}, f); k >= 0 {
			c.lab[k] = i
			continue
		}
		if k := slices.Index([]string{"XYZ_X", "XYZ_Y", "XYZ_Z"}, f); k >= 0 {
			c.xyz[k] = i
			continue
		}
		if v, ok := wavelengthOf(name); ok {
			if nm[v] {
				return c, nil, faulty(0, "the table has the wavelength %g nm twice", v)
			}
			nm[v] = true
			if len(c.paired) == 0 {
				c.spectrum = append(c.spectrum, i)
				s.Wavelengths = append(s.Wavelengths, v)
			}
			continue
		}
		if own(f) {
			continue
		}
		word := f
		if p, ok := processFields[f]; ok {
			word = p
		} else if !t.tintLike(i) {
			continue
		} else if head, tail, ok := strings.Cut(f, "_"); ok && strings.HasPrefix(head, "CMYK") && processFields["CMYK_"+tail] != "" {
			word = processFields["CMYK_"+tail] // of more than four colours
		} else {
			word = strings.TrimSpace(strings.TrimSuffix(name, "%"))
		}
		if slices.Contains(s.Colourants, word) {
			return c, nil, faulty(0, "the table has the tints of %s twice", quoted(word))
		}
		c.tints = append(c.tints, i)
		s.Colourants = append(s.Colourants, word)
	}
	for k := range 3 {
		if c.lab[k] < 0 {
			c.lab[0] = -1
		}
		if c.xyz[k] < 0 {
			c.xyz[0] = -1
		}
	}
	if len(c.paired) > 0 && len(c.paired) != len(c.spectrum) {
		return c, nil, faulty(0, "the table names wavelengths both in its fields and in its rows")
	}
	s.HasColour = c.lab[0] >= 0 || c.xyz[0] >= 0
	switch {
	case len(t.Rows) == 0:
		return c, nil, faulty(0, "the table has no rows")
	case len(c.tints) == 0:
		return c, nil, faulty(0, "the table has no fields of tints, such as CMYK_C")
	case !s.HasColour && len(c.spectrum) == 0:
		return c, nil, faulty(0, "the table has no measurements: neither LAB_L, LAB_A, LAB_B nor XYZ_X, XYZ_Y, XYZ_Z nor reflectances by wavelength")
	}
	return c, s, nil
}

// tintLike tells whether a column that is known by nothing else holds what tints can be.
func (t *Table) tintLike(column int) bool {
	for i := range t.Rows {
		if v, err := t.Number(i, column); err != nil || v < 0 || v > 100 {
			return false
		}
	}
	return len(t.Rows) > 0
}

func (t *Table) patches(c columns, s *Set) ([]Patch, error) {
	patches := make([]Patch, len(t.Rows))
	mostTint, mostY, mostR := 0.0, 0.0, 0.0
	for i := range patches {
		p := &patches[i]
		p.Line, p.ID = t.Rows[i].Line, strconv.Itoa(i+1)
		if c.id >= 0 {
			p.ID = t.Rows[i].Values[c.id]
		}
		p.Tints = make([]float64, len(c.tints))
		for k, col := range c.tints {
			v, err := t.Number(i, col)
			if err == nil && (v < 0 || v > 100) {
				err = faulty(p.Line, "the tint %s is %g; tints go from 0 to 100 %%", t.Fields[col], v)
			}
			if err != nil {
				return nil, err
			}
			p.Tints[k] = v
			mostTint = max(mostTint, v)
		}
		if s.HasColour {
			cols := c.lab
			if c.lab[0] < 0 {
				cols = c.xyz
			}
			for k, col := range cols {
				v, err := t.Number(i, col)
				if err != nil {
					return nil, err
				}
				if math.Abs(v) > 1000 {
					return nil, faulty(p.Line, "%s is %g, which no colour has", t.Fields[col], v)
				}
				p.Lab[k] = v
			}
			mostY = max(mostY, p.Lab[1])
		}
		if err := t.spectrum(i, c, s, p); err != nil {
			return nil, err
		}
		for _, v := range p.Spectrum {
			mostR = max(mostR, v)
		}
	}
	// A white measured as a factor stays below 1.5 even where it is brightened, in percent it is above 30; no tint is 1 % at most.
	for i := range patches {
		p := &patches[i]
		if mostTint > 1 {
			for k := range p.Tints {
				p.Tints[k] /= 100
			}
		}
		if mostR > 2.5 {
			for k := range p.Spectrum {
				p.Spectrum[k] /= 100
			}
		}
		if c.lab[0] < 0 && s.HasColour {
			scale := 1.0
			if mostY <= 1.5 {
				scale = 100
			}
			for k := range p.Lab {
				p.Lab[k] *= scale
			}
			p.Lab = labFromXYZ(p.Lab)
		}
	}
	s.sortWavelengths(patches)
	return patches, nil
}

// spectrum reads the reflectances of a row, and its wavelengths where the table has them row by row.
func (t *Table) spectrum(i int, c columns, s *Set, p *Patch) error {
	if len(c.spectrum) == 0 {
		return nil
	}
	p.Spectrum = make([]float64, len(c.spectrum))
	for k, col := range c.spectrum {
		v, err := t.Number(i, col)
		if err == nil && (v < -1 || v > 400) {
			err = faulty(p.Line, "the reflectance %s is %g", t.Fields[col], v)
		}
		if err != nil {
			return err
		}
		p.Spectrum[k] = v
	}
	for k, col := range c.paired {
		nm, err := t.Number(i, col)
		if err == nil && !(nm >= 200 && nm <= 2500) {
			err = faulty(p.Line, "the wavelength is %g nm", nm)
		}
		if err == nil && i > 0 && s.Wavelengths[k] != nm {
			err = faulty(p.Line, "the wavelength %g nm stands where the first row has %g nm", nm, s.Wavelengths[k])
		}
		if err == nil && i == 0 {
			if slices.Contains(s.Wavelengths, nm) {
				err = faulty(p.Line, "the wavelength %g nm is given twice", nm)
			}
			s.Wavelengths = append(s.Wavelengths, nm)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *Set) sortWavelengths(patches []Patch) {
	if slices.IsSorted(s.Wavelengths) {
		return
	}
	order := make([]int, len(s.Wavelengths))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		if s.Wavelengths[i] < s.Wavelengths[j] {
			return -1
		}
		return 1
	})
	pick := func(v []float64) []float64 {
		out := make([]float64, len(v))
		for i, k := range order {
			out[i] = v[k]
		}
		return out
	}
	s.Wavelengths = pick(s.Wavelengths)
	for i := range patches {
		patches[i].Spectrum = pick(patches[i].Spectrum)
	}
}

// tellConditions reads what the keywords tell of the measurement.
func (s *Set) tellConditions(t *Table) {
	s.Illuminant = "D50"
	for _, k := range t.Keywords {
		value := strings.ToUpper(k.Value)
		switch strings.ToUpper(k.Name) {
		case "ILLUMINANT":
			s.Illuminant = strings.TrimSpace(k.Value)
		case "MEASUREMENT_SOURCE", "WEIGHTING_FUNCTION":
			for _, word := range strings.FieldsFunc(value, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '\t' }) {
				name, v, _ := strings.Cut(word, "=")
				switch name {
				case "ILLUMINATION", "ILLUMINANT":
					s.Illuminant = v
				case "WHITEBASE":
					s.PaperRelative = v != "ABS" && v != "ABSOLUTE"
				}
			}
		}
	}
	if !s.HasColour {
		return
	}
	for i := range s.Patches {
		p := &s.Patches[i]
		if p.bare() && p.Lab[0] >= 99.995 && math.Hypot(p.Lab[1], p.Lab[2]) < .01 {
			s.PaperRelative = true
		}
	}
}

// bare tells that nothing is printed on the patch.
func (p *Patch) bare() bool {
	for _, v := range p.Tints {
		if v != 0 {
			return false
		}
	}
	return true
}

// labFromXYZ is CIELAB of X, Y, Z with Y = 100 for the perfect diffuser (ISO/CIE 11664-4).
func labFromXYZ(xyz [3]float64) [3]float64 {
	var f [3]float64
	for c, v := range xyz {
		if t := v / White[c]; t > 216.0/24389 {
			f[c] = math.Cbrt(t)
		} else {
			f[c] = (float64(24389.0/27*t) + 16) / 116
		}
	}
	return [3]float64{float64(116*f[1]) - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// Colourant finds the number of a colourant in Colourants. Upper and lower case, spaces and marks do not
// count, as field names can have neither.
func (s *Set) Colourant(name string) (int, bool) {
	want := squeezed(name)
	for i, c := range s.Colourants {
		if squeezed(c) == want {
			return i, true
		}
	}
	return 0, false
}

func squeezed(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(" _-.%\t", r) {
			return -1
		}
		return r
	}, strings.ToUpper(s))
}

// Describe tells in a few words what the set holds.
func (s *Set) Describe() string {
	what := "Lab"
	if len(s.Wavelengths) > 0 {
		what = fmt.Sprintf("%d wavelengths from %g to %g nm", len(s.Wavelengths), s.Wavelengths[0], s.Wavelengths[len(s.Wavelengths)-1])
	}
	return fmt.Sprintf("%d patches of %s, %s", len(s.Patches), strings.Join(s.Colourants, ", "), what)
}
