package ticket

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// Namespaces of measured colour: CxF3 core (ISO 17972-1), and its custom element for spot inks (ISO 17972-4; the namespace is
// known from programs that write it, not from the paper).
const (
	cxfSpace = "http://colorexchangeformat.com/CxF3-core"
	sicSpace = "http://colorexchangeformat.com/CxF3-SpotInkCharacterisation"
)

// Spectrum is the reflectance of a solid; 1 is the perfect diffuser.
type Spectrum struct {
	Ground string // what it was laid on, for people
	White  bool   // that was a white stock
	Values []float64
}

// Measured is a toner's measured colour.
type Measured struct {
	Name       string
	Kind       string
	From, Step float64 // nm
	Spectra    []Spectrum
	Time       time.Time
}

// characterised tells whether ISO 17972-4 speaks of the toner: it leaves out what looks different from each side or glows.
func (m *Measured) characterised() bool { return m.Kind != KindMetallic && m.Kind != KindFluorescent }

// WriteCxF writes the solid of a toner as CxF3. Toners that ISO 17972-4 speaks of are also told as a spot ink known by its
// solid on the substrate alone (conformance level X-4b).
func (m *Measured) WriteCxF(w io.Writer) error {
	when := m.Time.UTC().Format(time.RFC3339)
	line := func(name, s string) *element {
		e := el(name)
		e.text = text(s)
		return e
	}
	objects, ink := el("cc:ObjectCollection"), el("sic:SpotInkCharacterisation", "xmlns:sic", sicSpace, "SpotInkName", text(m.Name))
	for i, s := range m.Spectra {
		id := fmt.Sprintf("solid%d", i+1)
		values := make([]string, len(s.Values))
		for k, v := range s.Values {
			values[k] = strconv.FormatFloat(v, 'f', -1, 64)
		}
		r := el("cc:ReflectanceSpectrum", "ColorSpecification", "cs1", "StartWL", number(m.From), "Name", text(m.Name))
		r.text = strings.Join(values, " ")
		objects.add(el("cc:Object", "ObjectType", "Target", "Name", text(m.Name+", solid on "+s.Ground), "Id", id).
			add(line("cc:CreationDate", when), el("cc:ColorValues").add(r)))
		if s.White {
			ink.add(el("sic:MeasurementSet", "Background", "Substrate").add(el("sic:Measurement", "TintLevel", "100", "ObjectRef", id)))
		}
	}
	spec := el("cc:ColorSpecification", "Id", "cs1").add(
		el("cc:TristimulusSpec").add(line("cc:Illuminant", "D50"), line("cc:Observer", "2_Degree"), line("cc:Method", "E308_Table5")),
		el("cc:MeasurementSpec").add(line("cc:MeasurementType", "Spectrum_Reflectance"),
			el("cc:GeometryChoice").add(el("cc:SingleAngle").add(line("cc:SingleAngleConfiguration", "Annular"), line("cc:IlluminationAngle", "45"), line("cc:MeasurementAngle", "0"))),
			el("cc:WavelengthRange", "StartWL", number(m.From), "Increment", number(m.Step))))
	root := el("cc:CxF", "xmlns:cc", cxfSpace).add(
		el("cc:FileInformation").add(line("cc:Creator", "laydown"), line("cc:CreationDate", when), line("cc:Description", "Solid of the toner "+m.Name)),
		el("cc:Resources").add(objects, el("cc:ColorSpecificationCollection").add(spec)))
	if m.characterised() && len(ink.kids) > 0 {
		root.add(el("cc:CustomResources").add(ink))
	}
	return root.write(w)
}
