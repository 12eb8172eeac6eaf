package colour

import (
	"bytes"
	"fmt"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/pdfbuild"
)

func intentsOf(t *testing.T, catalog, page string, profiles ...[]byte) ([]OutputIntent, *finding.Collector) {
	t.Helper()
	b := pdfbuild.New()
	for _, p := range profiles { // objects 3, 4 ...
		b.Stream("/N 4", string(p))
	}
	b.Catalog(catalog)
	b.Page(10, 10, "", "", page)
	data := b.Bytes()
	sink := &finding.Collector{}
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: sink})
	if err != nil {
		t.Fatal(err)
	}
	pg, err := doc.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	return NewReader(doc, sink).OutputIntents(pg.Dict), sink
}

func TestOutputIntentsOfPageReplaceThoseOfFile(t *testing.T) {
	two, rgb := madeCMYK(2), tinyICC()[2]
	const file = "/OutputIntents [<< /S /GTS_PDFA1 /OutputConditionIdentifier (Custom) /Info (\xef\xbb\xbfAbendlicht) /DestOutputProfile 4 0 R >> " +
		"<< /S /GTS_PDFX /OutputCondition (\xfe\xff\x00B\x00o\x00a\x00r\x00d) /DestOutputProfile 3 0 R /MixingHints << /PrintingOrder [/White /Cyan] >> >>]"
	for _, tt := range []struct {
		name, catalog, page string
		want                string // names, then what is chosen for CMYK and RGB
	}{
		{"none", "", "", "[]  "},
		{"of the file", file, "", "[Abendlicht Board] Board Abendlicht"},
		{"of the page", file, "/OutputIntents [<< /S /GTS_PDFX /OutputConditionIdentifier (Silk) /DestOutputProfile 3 0 R >>]", "[Silk] Silk "},
		{"an empty list of the page", file, "/OutputIntents []", "[Abendlicht Board] Board Abendlicht"},
		{"without a profile", "/OutputIntents [<< /S /GTS_PDFX /OutputConditionIdentifier (Known) >>]", "", "[Known]  "},
		{"a profile elsewhere", "/OutputIntents [<< /S /GTS_PDFX /Info (Far) /DestOutputProfileRef << >> >>]", "", "[Far]  "},
		{"the one for print exchange", "/OutputIntents [<< /S /GTS_PDFA1 /Info (One) /DestOutputProfile 3 0 R >> << /S /GTS_PDFX /Info (Two) /DestOutputProfile 3 0 R >>]", "", "[One Two] Two "},
		{"the first of two alike", "/OutputIntents [<< /S /GTS_PDFX /Info (One) /DestOutputProfile 3 0 R >> << /S /GTS_PDFX /Info (Two) /DestOutputProfile 3 0 R >>]", "", "[One Two] One "},
		{"damaged entries", "/OutputIntents [7 null << >>]", "", "[]  "},
	} {
		all, sink := intentsOf(t, tt.catalog, tt.page, two, rgb)
		var names []string
		for i := range all {
			names = append(names, all[i].Name())
		}
		cmyk, rgb := ChooseOutput(all)
		got := fmt.Sprint(names)
		for _, o := range []*OutputIntent{cmyk, rgb} {
			got += " "
			if o != nil {
				got += o.Name()
			}
		}
		if got != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, got, tt.want)
		}
		if fs := sink.Sorted(); len(fs) > 0 {
			t.Errorf("%s: %v", tt.name, fs)
		}
	}
	all, _ := intentsOf(t, file, "", two, rgb)
	if h := all[1].Hints; h == nil || fmt.Sprint(h.PrintingOrder) != "[White Cyan]" {
		t.Errorf("hints %v", h)
	}
	all, _ = intentsOf(t, "/OutputIntents [<< /DestOutputProfileRef << >> >>]", "")
	if !all[0].External {
		t.Error("the profile elsewhere is not told")
	}
}

func TestUnusableOutputProfileIsReported(t *testing.T) {
	all, sink := intentsOf(t, "/OutputIntents [<< /S /GTS_PDFX /Info (X) /DestOutputProfile 3 0 R >>]", "", []byte("no profile"))
	fs := sink.Sorted()
	if len(all) != 1 || all[0].Profile != nil || len(fs) != 1 || fs[0].ID != "output-profile-unusable" || fs[0].Class != finding.Malformed {
		t.Errorf("%v, %v", all, fs)
	}
}

func TestWhichSpacesNeedAProfile(t *testing.T) {
	icc := &ICCBased{N: 4, Profile: mustProfile(t, madeCMYK(2)), Alternate: CMYK}
	for _, tt := range []struct {
		s    Space
		want bool
	}{
		{Gray, false}, {CMYK, false}, {RGB, true}, {&Lab{}, true}, {&CalGray{}, true}, {icc, true}, {&ICCBased{N: 4, Alternate: CMYK}, false},
		{&ICCBased{N: 3, Alternate: RGB}, true}, {&Indexed{Base: RGB}, true}, {&Indexed{Base: CMYK}, false}, {&Pattern{}, false},
		{&Pattern{Under: &Lab{}}, true}, {&Separation{Alternate: RGB}, false},
	} {
		if got := NeedsProfile(tt.s); got != tt.want {
			t.Errorf("%v: %v", tt.s, got)
		}
	}
}
