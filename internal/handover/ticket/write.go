package ticket

import (
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Namespaces of what is written.
const (
	xjdfSpace = "http://www.CIP4.org/JDFSchema_2_0"
	ownSpace  = "urn:laydown:handover:1" // holds the SHA-256 of files
)

// pointsPerMM is the unit of lengths in XJDF: 1/72 inch.
const pointsPerMM = 72 / 25.4

func points(mm float64) float64 { return mm * pointsPerMM }

// Write writes the ticket as XJDF 2.2.
func (t *Ticket) Write(w io.Writer) error {
	x := &writer{t: t, tokens: Tokens(t.names())}
	return x.root().write(w)
}

func (t *Ticket) names() (out []string) {
	for _, c := range t.Colours {
		out = append(out, c.Name)
	}
	return out
}

type writer struct {
	t      *Ticket
	tokens map[string]string
}

func (x *writer) root() *element {
	t := x.t
	types := "DigitalPrinting"
	if x.imposes() {
		types = "Imposition DigitalPrinting"
	}
	root := el("XJDF", "xmlns", xjdfSpace, "xmlns:ld", ownSpace, "Version", "2.2", "JobID", Token(t.Job), "JobPartID", fmt.Sprintf("Pass%d", t.Pass),
		"Types", types, "DescriptiveName", fmt.Sprintf("%s, pass %d of %d", text(t.Job), t.Pass, t.Passes))
	root.add(el("AuditPool").add(el("AuditCreated").add(el("Header", "AgentName", "laydown", "AgentVersion", t.Version, "DeviceID", "laydown",
		"Time", t.Time.UTC().Format(time.RFC3339)))))
	for _, r := range t.Remarks {
		c := el("Comment", "Type", "Instruction")
		c.text = text(r)
		root.add(c)
	}
	return root.add(el("ProductList").add(x.product()), x.runList(), x.media(), x.colours(), x.control(), x.layout(), x.printing(), x.looks(), x.component())
}

// imposes tells whether the receiver lays the pages on sheets.
func (x *writer) imposes() bool { return !x.t.Imposed && len(x.t.Surface) > 0 }

// text is what an xs:string of the ticket can hold.
func text(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func (x *writer) list(names []string) string {
	var out []string
	for _, n := range names {
		if tok := x.tokens[n]; tok != "" && !slices.Contains(out, tok) {
			out = append(out, tok)
		}
	}
	return strings.Join(out, " ")
}

func (x *writer) product() *element {
	t, p := x.t, &x.t.Product
	e := el("Product", "ID", "PR1", "IsRoot", "true", "Amount", count(p.Amount), "ProductType", p.Type, "DescriptiveName", text(t.Job))
	colours := el("ColorIntent")
	if len(p.Front) > 0 {
		colours.add(el("SurfaceColor", "Surface", "Front", "ColorsUsed", x.list(p.Front)))
	}
	if len(p.Back) > 0 {
		colours.add(el("SurfaceColor", "Surface", "Back", "ColorsUsed", x.list(p.Back)))
	}
	if len(colours.kids) > 0 {
		e.add(el("Intent", "Name", "ColorIntent").add(colours))
	}
	k := &t.Stock
	e.add(el("Intent", "Name", "MediaIntent").add(el("MediaIntent", "MediaType", k.mediaType(), "Coating", k.coating(), "LabColorValue", numbers(k.Front[:]...),
		"MediaQuality", text(k.Title), "Opacity", k.opacity(), "Thickness", given(1000*k.Thickness), "Weight", given(k.Weight))))
	l := el("LayoutIntent", "Bleed", given(points(p.Bleed)))
	if p.Finished[0] > 0 {
		l.set("FinishedDimensions", numbers(points(p.Finished[0]), points(p.Finished[1]), 0))
	}
	l.set("Pages", count(p.Pages)).set("Sides", p.sides())
	return e.add(el("Intent", "Name", "LayoutIntent").add(l))
}

func (p *Product) sides() string {
	switch {
	case len(p.Back) == 0:
		return "OneSided"
	case len(p.Front) == 0:
		return "OneSidedBack"
	case p.Foot:
		return "TwoSidedHeadToFoot"
	}
	return "TwoSidedHeadToHead"
}

func (k *Stock) film() bool { return k.Surface == "film" }

// mediaType: films are transparent sheets to print on, or opaque ones, for which XJDF has the word Foil; its Film is exposed.
// Board with a metal layer stays paper, and says so in MediaTypeDetails.
func (k *Stock) mediaType() string {
	switch {
	case k.film() && k.opacity() != "Opaque":
		return "Transparency"
	case k.film():
		return "Foil"
	}
	return "Paper"
}

func (k *Stock) details() string {
	if k.Surface == "metallised" {
		return "Metallised"
	}
	return ""
}

// opacity in the three words XJDF has. The borders are common practice, no source.
func (k *Stock) opacity() string {
	switch {
	case k.Opacity == 0 && k.film(), k.Opacity > 0 && k.Opacity < 50:
		return "Transparent"
	case k.Opacity > 0 && k.Opacity < 90:
		return "Translucent"
	}
	return "Opaque"
}

func (k *Stock) coating() string {
	if k.Surface == "uncoated" {
		return "None"
	}
	switch k.Gloss {
	case "matte":
		return "Matte"
	case "satin":
		return "Satin"
	case "gloss":
		return "Gloss"
	}
	if k.Surface == "coated" {
		return "Coated"
	}
	return ""
}

func resourceSet(name, usage, index string, resources ...*element) *element {
	if len(resources) == 0 {
		return nil
	}
	return el("ResourceSet", "Name", name, "Usage", usage, "CombinedProcessIndex", index).add(resources...)
}

func (f *File) spec() *element {
	e := el("FileSpec", "CheckSum", strings.ToUpper(hex.EncodeToString(f.MD5)))
	if f.Size > 0 {
		e.set("FileSize", strconv.FormatInt(f.Size, 10))
	}
	return e.set("MimeType", f.Type).set("URL", f.URL).set("UserFileName", text(f.Name)).set("ld:SHA256", hex.EncodeToString(f.SHA256))
}

func (x *writer) runList() *element {
	t := x.t
	r := el("RunList")
	if n := t.Pages[1] - t.Pages[0] + 1; t.Pages[0] > 0 && n > 0 {
		r.set("NPage", strconv.Itoa(n)).set("Pages", fmt.Sprintf("%d %d", t.Pages[0]-1, t.Pages[1]-1)) // counted from 0
	}
	return resourceSet("RunList", "Input", "0", el("Resource").add(r.add(t.Content.spec())))
}

func (x *writer) media() *element {
	t, k := x.t, &x.t.Stock
	m := el("Media")
	if k.Back != k.Front {
		m.set("BackLabColorValue", numbers(k.Back[:]...))
	}
	m.set("Coating", k.coating())
	if t.Sheet[0] > 0 {
		m.set("Dimension", numbers(points(t.Sheet[0]), points(t.Sheet[1])))
	}
	switch t.Grain {
	case "width":
		m.set("GrainDirection", "XDirection")
	case "height":
		m.set("GrainDirection", "YDirection")
	}
	m.set("LabColorValue", numbers(k.Front[:]...)).set("MediaQuality", text(k.Title)).set("MediaType", k.mediaType()).set("MediaTypeDetails", k.details()).
		set("MediaUnit", "Sheet").set("Opacity", k.opacity()).set("OpacityLevel", given(k.Opacity)).set("Thickness", given(1000*k.Thickness)).set("Weight", given(k.Weight))
	m.add(el("ColorMeasurementConditions", "Illumination", "D50", "Observer", "2"))
	return resourceSet("Media", "Input", "", el("Resource", "ID", "M1", "DescriptiveName", text(k.Title)).add(m))
}

// colours tells each colourant once: its token, the name it has in the artwork and how it is laid.
func (x *writer) colours() *element {
	var list []*element
	for i := range x.t.Colours {
		c := &x.t.Colours[i]
		if slices.ContainsFunc(x.t.Colours[:i], func(o Colour) bool { return o.Name == c.Name }) {
			continue
		}
		e := el("Color", "ActualColorName", text(c.Name))
		if c.CMYK != nil {
			e.set("CMYK", numbers(c.CMYK[0]/100, c.CMYK[1]/100, c.CMYK[2]/100, c.CMYK[3]/100))
		}
		e.set("ColorType", c.colorType()).set("ColorTypeDetails", c.details())
		if c.Lab != nil {
			e.set("Lab", numbers(c.Lab[:]...))
		}
		e.set("PrintingTechnology", "Electrophotography").set("RawName", rawName(c.Name))
		if c.Lab != nil {
			e.add(el("ColorMeasurementConditions", "Illumination", "D50", "Observer", "2", "SampleBacking", "Substrate"))
		}
		r := el("Resource")
		if c.CxF != nil {
			r.add(el("GeneralID", "IDUsage", "CxF3", "IDValue", c.CxF.URL))
		}
		list = append(list, r.add(el("Part", "Separation", x.tokens[c.Name]), e))
	}
	return resourceSet("Color", "Input", "", list...)
}

// rawName holds the bytes of a name that XML cannot hold: one that is no UTF-8, or has control characters (XML 1.0, 2.2). "" for others.
func rawName(s string) string {
	held := func(r rune) bool {
		return r >= ' ' && r < 0xFFFE && r != utf8.RuneError || r == '\t' || r == '\n' || r == '\r' || r >= 0x10000
	}
	if utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool { return !held(r) }) {
		return ""
	}
	return strings.ToUpper(hex.EncodeToString([]byte(s)))
}

// colorType: white and metals hide what lies below, clear and process do not.
func (c *Colour) colorType() string {
	switch c.Kind {
	case KindWhite, KindMetallic:
		return "Opaque"
	case KindClear:
		return "Transparent"
	}
	return "Normal"
}

func (c *Colour) details() string {
	switch {
	case c.Under:
		return "Underlay"
	case c.Kind == KindMetallic:
		return "Metallic"
	case c.Kind == KindFluorescent:
		return "Fluorescent"
	case c.Kind == KindClear:
		return "Clear"
	}
	return ""
}

func (x *writer) kind(name string) string {
	for i := range x.t.Colours {
		if x.t.Colours[i].Name == name {
			return x.t.Colours[i].Kind
		}
	}
	return KindSpot
}

// sideName is the word of XJDF.
func sideName(back bool) string {
	if back {
		return "Back"
	}
	return "Front"
}

// control gives, for each side, the colourants in the order they are laid. There is no colour to be converted: what the pass
// does not print is not in its artwork.
func (x *writer) control() *element {
	var list []*element
	for _, s := range x.t.Sides {
		var spots []string
		model := "None"
		for _, n := range s.Order {
			if x.kind(n) == KindProcess {
				model = "DeviceCMYK"
			} else {
				spots = append(spots, n)
			}
		}
		e := el("ColorantControl", "ColorantOrder", x.list(s.Order), "ColorantParams", x.list(spots), "MappingSelection", "UsePDLValues", "ProcessColorModel", model)
		for _, n := range spots {
			if x.tokens[n] != n {
				e.add(el("ColorantAlias", "ColorantName", text(n), "RawName", rawName(n), "ReplacementColorantName", x.tokens[n]))
			}
		}
		for _, a := range x.t.Aliases {
			if slices.Contains(spots, a.Colour) && a.Name != a.Colour {
				e.add(el("ColorantAlias", "ColorantName", text(a.Name), "RawName", rawName(a.Name), "ReplacementColorantName", x.tokens[a.Colour]))
			}
		}
		list = append(list, el("Resource").add(el("Part", "Side", sideName(s.Back), "Option", fmt.Sprintf("Pass%d", x.t.Pass)), e))
	}
	return resourceSet("ColorantControl", "Input", "", list...)
}

func sheetName(n int) string { return fmt.Sprintf("S%d", n) }

// layout tells how pages lie on the sheets: to be done by the receiver, or, of sheets already made, for information, with no
// process that takes it in.
func (x *writer) layout() *element {
	var list []*element
	for _, s := range x.t.Surface {
		e := el("Layout", "PaperRef", "M1", "SurfaceContentsBox", numbers(0, 0, s.Size[0], s.Size[1]), "WorkStyle", s.Style)
		for _, p := range s.Placed {
			e.add(el("PlacedObject", "CTM", numbers(p.CTM[:]...), "ClipBox", numbers(p.Clip[:]...), "Ord", strconv.Itoa(p.Page-1),
				"TrimCTM", numbers(p.TrimCTM[:]...), "TrimSize", numbers(p.Trim[:]...)).add(el("ContentObject")))
		}
		list = append(list, el("Resource").add(el("Part", "SheetName", sheetName(s.Sheet), "Side", sideName(s.Back)), e))
	}
	if x.imposes() {
		return resourceSet("Layout", "Input", "0", list...)
	}
	return resourceSet("Layout", "", "", list...)
}

func (x *writer) printing() *element {
	front, back := false, false
	for _, s := range x.t.Sides {
		front, back = front || !s.Back, back || s.Back
	}
	sides := "OneSidedFront"
	switch {
	case front && back:
		sides = "TwoSided"
	case back:
		sides = "OneSidedBack"
	}
	index := "0"
	if x.imposes() {
		index = "1"
	}
	return resourceSet("DigitalPrintingParams", "Input", index, el("Resource").add(el("DigitalPrintingParams", "Sides", sides)))
}

func (x *writer) looks() *element {
	var list []*element
	for i := range x.t.Looks {
		list = append(list, el("Resource").add(el("Part", "PreviewType", "Viewable", "RunIndex", fmt.Sprintf("%d %d", i, i)),
			el("Preview", "PreviewFileType", "PNG").add(x.t.Looks[i].spec())))
	}
	return resourceSet("Preview", "Input", "", list...)
}

// component is what comes out: printed sheets, each kind with its number where they are known one by one.
func (x *writer) component() *element {
	t := x.t
	pool := el("AmountPool")
	if t.Good > 0 {
		pool.add(el("PartAmount", "Amount", strconv.Itoa(t.Good), "Waste", count(t.Waste)))
	}
	seen := map[int]bool{}
	several := slices.ContainsFunc(t.Surface, func(s Surface) bool { return s.Sheet != t.Surface[0].Sheet })
	if several && !slices.ContainsFunc(t.Surface, func(s Surface) bool { return s.Run == 0 }) {
		pool = el("AmountPool")
		for i, s := range t.Surface {
			if seen[s.Sheet] {
				continue
			}
			seen[s.Sheet] = true
			waste := ""
			if i == 0 {
				waste = count(t.Waste)
			}
			pool.add(el("PartAmount", "Amount", strconv.Itoa(s.Run), "Waste", waste).add(el("Part", "SheetName", sheetName(s.Sheet))))
		}
	}
	r := el("Resource")
	if len(pool.kids) > 0 {
		r.add(pool)
	}
	return resourceSet("Component", "Output", "", r.add(el("Component", "MediaRef", "M1")))
}
