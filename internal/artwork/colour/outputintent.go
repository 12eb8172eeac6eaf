package colour

import (
	"strings"
	"unicode/utf16"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// OutputIntent is the printing condition artwork was prepared for (14.11.5, Table 401).
type OutputIntent struct {
	Subtype    string // S: GTS_PDFX, GTS_PDFA1, ISO_PDFE1 or another
	Condition  string // OutputCondition, for people
	Identifier string // OutputConditionIdentifier, a name in a registry
	Info       string
	Profile    *Profile // DestOutputProfile; nil when none is embedded or usable
	// External tells that DestOutputProfileRef points to a profile outside the file, which is not looked for.
	External bool
	Hints    *MixingHints // nil when absent
}

// Name is what a person calls the condition: the first of Condition, Identifier, Info and the
// profile's own name that says anything.
func (o *OutputIntent) Name() string {
	for _, s := range []string{o.Condition, o.Identifier, o.Info} {
		if s != "" && s != "Custom" {
			return s
		}
	}
	if o.Profile != nil {
		return o.Profile.Description()
	}
	return ""
}

// OutputIntents reads the output intents that hold for a page: those of its own dictionary where it has
// any (PDF 2.0), else those of the catalog. page may be nil.
func (r *Reader) OutputIntents(page pdf.Dict) []OutputIntent {
	r.mu.Lock()
	defer r.mu.Unlock()
	list, _ := r.intentArray(page)
	var out []OutputIntent
	for _, o := range list[:min(len(list), limits.MaxOutputIntents)] {
		if d, ok := r.doc.Dict(o); ok {
			out = append(out, r.outputIntent(d))
		}
	}
	return out
}

// Declared reports whether any output intents hold for a page, and whether they are its own, without reading them.
func (r *Reader) Declared(page pdf.Dict) (own, any bool) {
	list, own := r.intentArray(page)
	return own, len(list) > 0
}

func (r *Reader) intentArray(page pdf.Dict) (list pdf.Array, own bool) {
	if list, ok := r.doc.Array(page["OutputIntents"]); ok && len(list) > 0 {
		return list, true
	}
	list, _ = r.doc.Array(r.doc.Catalog()["OutputIntents"])
	return list, false
}

func (r *Reader) outputIntent(d pdf.Dict) OutputIntent {
	subtype, _ := r.doc.Name(d["S"])
	o := OutputIntent{Subtype: string(subtype), Condition: r.text(d["OutputCondition"]),
		Identifier: r.text(d["OutputConditionIdentifier"]), Info: r.text(d["Info"]), External: d["DestOutputProfileRef"] != nil}
	if hints, ok := r.doc.Dict(d["MixingHints"]); ok {
		o.Hints = r.MixingHints(hints)
	}
	st, ok := r.doc.Stream(d["DestOutputProfile"])
	if !ok {
		return o
	}
	p, _, err := r.profile(st.Ref, st)
	if err != nil {
		r.sink.Add(finding.Finding{ID: "output-profile-unusable", Severity: finding.Warning, Class: classOf(err),
			What:   "The output profile of the file cannot be used: " + err.Error() + ".",
			Why:    "What its CMYK colours are meant to look like is not known.",
			Remedy: "Export the artwork again with the profile of the printing condition.",
			Place:  finding.Place{Object: st.Ref.Num}})
		return o
	}
	o.Profile = p
	return o
}

// text decodes a text string (7.9.2.2): UTF-16BE or UTF-8 with their marks, else bytes as Latin 1, in
// which the ASCII of condition names is the same.
func (r *Reader) text(o pdf.Object) string {
	s, _ := r.doc.Resolve(o).(pdf.String)
	b := []byte(s[:min(len(s), 4096)])
	switch {
	case strings.HasPrefix(string(b), "\xfe\xff"):
		units := make([]uint16, 0, len(b)/2)
		for i := 2; i+1 < len(b); i += 2 {
			units = append(units, uint16(b[i])<<8|uint16(b[i+1]))
		}
		return plainText(string(utf16.Decode(units)))
	case strings.HasPrefix(string(b), "\xef\xbb\xbf"):
		return plainText(strings.ToValidUTF8(string(b[3:]), ""))
	}
	runes := make([]rune, len(b))
	for i, c := range b {
		runes[i] = rune(c)
	}
	return plainText(string(runes))
}

// ChooseOutput picks the intents that tell what device colours mean: of those with a usable profile, for
// CMYK and for RGB, the one made for print exchange (GTS_PDFX), else the first. Either may be nil.
func ChooseOutput(intents []OutputIntent) (cmyk, rgb *OutputIntent) {
	for i := range intents {
		o := &intents[i]
		if o.Profile == nil {
			continue
		}
		at := &cmyk
		switch {
		case o.Profile.n == 3:
			at = &rgb
		case o.Profile.n != 4 || !o.Profile.CanPrint():
			continue
		}
		if *at == nil || (*at).Subtype != "GTS_PDFX" && o.Subtype == "GTS_PDFX" {
			*at = o
		}
	}
	return cmyk, rgb
}

// NeedsProfile reports whether colours of s are converted with profiles: all process spaces but
// DeviceGray and DeviceCMYK. Separation and DeviceN are not, their alternates may be.
func NeedsProfile(s Space) bool {
	for range 4 {
		switch x := s.(type) {
		case *Indexed:
			s = x.Base
		case *Pattern:
			s = x.Under
		case *ICCBased:
			return x.Profile != nil || NeedsProfile(x.Alternate)
		case *DeviceRGB, *CalGray, *CalRGB, *Lab:
			return true
		default:
			return false
		}
	}
	return false
}
