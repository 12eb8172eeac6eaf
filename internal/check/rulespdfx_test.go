package check

import (
	"strings"
	"testing"

	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

// metadata adds XMP metadata with some attributes and gives the catalogue's entry.
func metadata(f *pdfbuild.File, attributes string) string {
	return " /Metadata " + pdfbuild.Ref(f.Stream("/Type /Metadata /Subtype /XML", "<rdf:Description "+attributes+"/>")) + " "
}

// claimed is a document that calls itself PDF/X-4.
func claimed(more string) artwork {
	return artwork{pages: []string{""}, catalog: func(f *pdfbuild.File) string {
		return intent(f) + metadata(f, `pdfxid:GTS_PDFXVersion="PDF/X-4" pdf:Trapped="False"`) + more
	}}
}

// header is that of an ICC profile: device class and device space, and nothing more.
func header(class, space string) string {
	b := []byte(strings.Repeat("\x00", 128))
	copy(b[12:], class)
	copy(b[16:], space)
	copy(b[36:], "acsp")
	return string(b)
}

// withIntents is a document of a version of PDF/X with output intents, one for each profile; "" = none is embedded.
func withIntents(version string, profiles ...string) artwork {
	return artwork{pages: []string{""}, catalog: func(f *pdfbuild.File) string {
		all := ""
		for _, p := range profiles {
			all += "<< /Type /OutputIntent /S /GTS_PDFX /OutputConditionIdentifier (Own) "
			if p != "" {
				all += "/DestOutputProfile " + pdfbuild.Ref(f.Stream("/N 4", p))
			}
			all += " >> "
		}
		return "/OutputIntents [" + all + "]" + metadata(f, `pdfxid:GTS_PDFXVersion="`+version+`"`)
	}}
}

func TestOutputIntentOfPDFX(t *testing.T) {
	const id = "pdfx-intent-unfit"
	cmyk := header("prtr", "CMYK")
	referred := withIntents("PDF/X-4p", "")
	referred.catalog = func(f *pdfbuild.File) string {
		return "/OutputIntents [<< /S /GTS_PDFX /DestOutputProfileRef << /ProfileName (Own) >> >>]" + metadata(f, `pdfxid:GTS_PDFXVersion="PDF/X-4p"`)
	}
	holds(t, id, finding.Warning, withIntents("PDF/X-4", ""), quiet{
		"CMYK":                  withIntents("PDF/X-4", cmyk),
		"gray":                  withIntents("PDF/X-6", header("prtr", "GRAY")),
		"RGB":                   withIntents("PDF/X-4", header("prtr", "RGB ")),
		"outside by its letter": referred,
		"registered, PDF/X-3":   withIntents("PDF/X-3:2003", ""),
		"no claim":              withIntents("", ""),
		"none at all":           withIntents("PDF/X-4"), // pdfx-claim-broken tells that
	})
	for says, a := range map[string]artwork{
		"names 2 of them":        withIntents("PDF/X-4", cmyk, cmyk),
		"not in the file":        withIntents("PDF/X-6", ""),
		"says which it is":       withIntents("PDF/X-4p", ""),
		`of class "mntr"`:        withIntents("PDF/X-4", header("mntr", "RGB ")),
		`for "Lab "`:             withIntents("PDF/X-4", header("prtr", "Lab ")),
		"is no ICC profile":      withIntents("PDF/X-4", cmyk[:127]),
		"calls itself PDF/X-6n,": withIntents("PDF/X-6n", header("link", "CMYK")),
	} {
		if f := one(t, a, id); !strings.Contains(f.What, says) {
			t.Errorf("%s: %s", says, f.What)
		}
	}
}

// identified has versions in Info and in XMP, "" for none.
func identified(info, xmp, more string) artwork {
	return artwork{pages: []string{""}, catalog: func(f *pdfbuild.File) string {
		if info != "" || more != "" {
			entries := more
			if info != "" {
				entries += " /GTS_PDFXVersion (" + info + ")"
			}
			f.Trailer("/Info " + pdfbuild.Ref(f.Add("<< "+entries+" >>")))
		}
		if xmp == "" {
			return ""
		}
		return metadata(f, xmp)
	}}
}

func versionX(v string) string { return `pdfxid:GTS_PDFXVersion="` + v + `"` }

func TestIdentityOfPDFX(t *testing.T) {
	const id = "pdfx-identity-differs"
	holds(t, id, finding.Warning, identified("PDF/X-3:2003", versionX("PDF/X-4"), ""), quiet{
		"alike":          identified("PDF/X-3:2003", versionX("PDF/X-3:2003"), ""),
		"with its year":  identified("PDF/X-3:2003", versionX("PDF/X-3"), ""),
		"in XMP":         identified("", versionX("PDF/X-4"), ""),
		"in Info, X-3":   identified("PDF/X-3:2003", "", ""),
		"no claim":       {pages: []string{""}},
		"not of PDF/X-4": identified("", `pdf:Producer="PDF/X-4"`, ""),
	})
	if f := one(t, identified("PDF/X-4", "", ""), id); !strings.Contains(f.What, "do not look") {
		t.Error(f.What)
	}
}

func TestTrapping(t *testing.T) {
	const id = "trapped-unclear"
	trapped := func(v string) string { return versionX("PDF/X-4") + ` pdf:Trapped="` + v + `"` }
	holds(t, id, finding.Note, identified("", versionX("PDF/X-4"), ""), quiet{
		"in XMP":          identified("", trapped("True"), ""),
		"in Info":         identified("PDF/X-3:2003", "", "/Trapped /False"),
		"one is not sure": identified("", trapped("True"), "/Trapped /Unknown"),
		"no claim":        identified("", `pdf:Trapped="Unknown"`, ""),
	})
	holds(t, id, finding.Note, identified("", trapped("Unknown"), ""), nil)
	holds(t, id, finding.Warning, identified("", trapped("True"), "/Trapped /False"), nil)
}

func TestSimpleValuesOfXMP(t *testing.T) {
	for data, want := range map[string]string{
		`<a pdf:Trapped="True"/>`:                                "True",
		`<pdf:Trapped>False</pdf:Trapped>`:                       "False",
		"<a pdf:Trapped = '\nTrue '/>":                           "True",
		`<b note="no pdf:Trapped here"/><a pdf:Trapped="True"/>`: "True",
		`<a pdf:Trapped="True`:                                   "",
		`<pdf:Trapped/>`:                                         "",
		``:                                                       "",
	} {
		if got := xmpValue([]byte(data), "pdf:Trapped"); got != want {
			t.Errorf("%s: %q, want %q", data, got, want)
		}
	}
}

func TestLayersSwitchedByEvents(t *testing.T) {
	const id = "pdfx-layers-by-event"
	layers := func(usual, others string) artwork {
		return claimed("/OCProperties << /OCGs [] /D << " + usual + " >> /Configs [" + others + "] >>")
	}
	event := "/AS [<< /Event /Print /Category [/Print] /OCGs [1 0 R] >>]"
	unclaimed := artwork{pages: []string{""}, catalog: func(*pdfbuild.File) string { return "/OCProperties << /OCGs [] /D << " + event + " >> >>" }}
	holds(t, id, finding.Warning, layers(event, ""), quiet{
		"no events":        layers("/BaseState /ON", "<< /Name (Other) >>"),
		"an empty list":    layers("/AS []", ""),
		"of no layers":     layers("/AS [<< /Event /Print /OCGs [] >>]", ""),
		"no layers at all": claimed(""),
		"no claim":         unclaimed,
	})
	one(t, layers("", "<< "+event+" >>"), id)
	if f := one(t, layers("/BaseState /OFF", ""), id); !strings.Contains(f.What, "starts from OFF") {
		t.Error(f.What)
	}
}

// coloured is a document of PDF/X-4 with an output profile for a device space.
func coloured(space, content, spaces string) artwork {
	a := withIntents("PDF/X-4", header("prtr", space))
	a.pages, a.spaces = []string{content}, spaces
	return a
}

// calibrated is an RGB space that needs no profile, as a default.
const calibrated = "/DefaultRGB [/CalRGB << /WhitePoint [.9642 1 .8249] >>]"

func TestDeviceColoursOfPDFX(t *testing.T) {
	const id = "pdfx-device-colour"
	red, black := fill("1 0 0 rg", 5, 5, 10, 6), fill(cmyk, 20, 5, 3, 3)
	unclaimed := coloured("CMYK", red, "")
	unclaimed.catalog = nil
	f := holds(t, id, finding.Warning, coloured("CMYK", black+red, ""), quiet{
		"the intent's own":  coloured("RGB ", red, ""),
		"CMYK in CMYK":      coloured("CMYK", black, ""),
		"gray in either":    coloured("RGB ", fill(".5 g", 5, 5, 10, 6), ""),
		"a default space":   coloured("CMYK", red, calibrated),
		"a toner":           coloured("RGB ", fill(silver, 5, 5, 10, 6), ""),
		"beyond the bleed":  coloured("CMYK", fill("1 0 0 rg", -9.5, 5, 3, 3), ""),
		"no claim":          unclaimed,
		"an unknown intent": coloured("4CLR", red, ""),
	})
	wantItems(t, f, 1)
	if f := one(t, coloured("RGB ", black, ""), id); !strings.Contains(f.What, "device CMYK") {
		t.Error(f.What)
	}
}

func TestOverprintOfCMYKWithAProfile(t *testing.T) {
	const id = "pdfx-overprint-with-profile"
	with := func(ops string) artwork {
		a := claimed("")
		a.build = func(f *pdfbuild.File) string {
			return "/Own [/ICCBased " + pdfbuild.Ref(f.Stream("/N 4 /Alternate /DeviceCMYK", header("prtr", "CMYK"))) + "]"
		}
		a.pages = []string{fill(silver, 5, 5, 10, 6) + fill(ops, 8, 8, 10, 6)}
		return a
	}
	unclaimed := with(over + "/Own cs 0 0 0 1 scn")
	unclaimed.catalog = nil
	f := holds(t, id, finding.Warning, with(over+"/Own cs 0 0 0 1 scn"), quiet{
		"plain CMYK":        with(over + "0 0 0 1 k"),
		"knocking out":      with("/Own cs 0 0 0 1 scn"),
		"no component is 0": with(over + "/Own cs .1 .1 .1 1 scn"),
		"nothing":           with(over + "/Own cs 0 0 0 0 scn"),
		"no claim":          unclaimed,
	})
	wantItems(t, f, 1)
}
