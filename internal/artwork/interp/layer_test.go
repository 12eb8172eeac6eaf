package interp

import (
	"fmt"
	"testing"

	"laydown/internal/pdfbuild"
)

// layered is a page with four layers a b c d and the configuration and content given; resources
// name them A B C D and memberships M.
func layered(config, content, member string, usage ...string) *pdfbuild.File {
	f := pdfbuild.New()
	var n [4]int
	for i := range n {
		u := ""
		if i < len(usage) {
			u = usage[i]
		}
		n[i] = f.Add(fmt.Sprintf("<< /Type /OCG /Name (layer %c) %s >>", 'a'+i, u))
	}
	r := func(s string) string { return fmt.Sprintf(s, ref(n[0]), ref(n[1]), ref(n[2]), ref(n[3])) }
	x := f.Stream("/Subtype /Form /BBox [0 0 20 20] /Resources << >> /OC "+ref(n[0]), "1 0 0 rg 0 0 5 5 re f")
	f.Catalog("/OCProperties << /OCGs " + r("[%s %s %s %s]") + " /D << " + r(config) + " >> >>")
	mem := f.Add("<< /Type /OCMD " + r(member) + " >>")
	f.Page(200, 100, "/ColorSpace << "+white+" "+silver+" >> /XObject << /Fm "+ref(x)+" >> /Properties << "+r("/A %s /B %s /C %s /D %s")+" /M "+ref(mem)+" >>", content)
	return f
}

// none is a format that leaves all four layers out.
const none = "%.0s%.0s%.0s%.0s"

// TestLayers asks one question of each use of optional content (8.11).
func TestLayers(t *testing.T) {
	box := func(layer string, x int) string { return fmt.Sprintf("/OC /%s BDC %d 0 5 5 re f EMC ", layer, x) }
	all := box("A", 0) + box("B", 10) + box("C", 20) + box("D", 30)
	print := "/Usage << /Print << /PrintState /%s >> >>"
	step := func(group, kind string) string {
		s := "/GTS_Metadata << /GTS_ProcStepsGroup /" + group
		if kind != "" {
			s += " /GTS_ProcStepsType /" + kind
		}
		return s + " >>"
	}
	on, off := fmt.Sprintf(print, "ON"), fmt.Sprintf(print, "OFF")
	event := "/AS [<< /Event /Print /Category [/Print] /OCGs [%s %s %s %s] >>]"
	for _, c := range []struct {
		name, config, content, member string
		usage                         []string
		opt                           Options
	}{
		{"layer/off-list-hides", "/OFF [%.0s%s%.0s %s]", all, none, nil, Options{}},
		{"layer/base-state-off", "/BaseState /OFF /ON [%.0s%s%.0s%.0s]", all, none, nil, Options{}},
		{"layer/printing-ignores-usage", "/OFF [%[1]s] " + "/AS [<< /Event /Print /Category [/Print] /OCGs [%[1]s %[2]s %[3]s %[4]s] >>]", all, none, []string{on, off}, Options{}},
		{"layer/viewer-applies-usage", "/OFF [%[1]s] " + "/AS [<< /Event /Print /Category [/Print] /OCGs [%[1]s %[2]s %[3]s %[4]s] >>]", all, none, []string{on, off}, Options{AsViewer: true}},
		{"layer/usage-of-other-events-is-ignored", "/AS [<< /Event /View /Category [/Print] /OCGs [%s %s %s %s] >>]", all, none, []string{off}, Options{AsViewer: true}},
		{"layer/usage-that-changes-nothing", event, all, none, []string{on}, Options{}},
		{"layer/override-by-name", "/OFF [%s%.0s%.0s%.0s]", all, none, nil, Options{Layers: map[string]bool{"layer a": true, "layer b": false}}},
		{"layer/nested-need-all", "/OFF [%.0s%s%.0s%.0s]", "/OC /A BDC 0 0 5 5 re f /OC /B BDC 10 0 5 5 re f /OC /C BDC 20 0 5 5 re f EMC EMC 30 0 5 5 re f EMC 40 0 5 5 re f", none, nil, Options{}},
		{"layer/state-changes-in-hidden-content-hold", "/OFF [%s%.0s%.0s%.0s]", "/OC /A BDC 1 0 0 rg 10 10 50 50 re W n EMC 0 0 200 100 re f", none, nil, Options{}},
		{"layer/of-a-form", "/OFF [%s%.0s%.0s%.0s]", "/Fm Do 20 0 5 5 re f", none, nil, Options{}},
		{"layer/member-any-on", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/OCGs [%s %s%.0s%.0s]", nil, Options{}},
		{"layer/member-all-on", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/P /AllOn /OCGs [%s %s%.0s%.0s]", nil, Options{}},
		{"layer/member-any-off", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/P /AnyOff /OCGs [%s %s%.0s%.0s]", nil, Options{}},
		{"layer/member-all-off", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/P /AllOff /OCGs [%s %s%.0s%.0s]", nil, Options{}},
		{"layer/member-of-none-is-visible", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/P /AllOff /OCGs [null]" + none, nil, Options{}},
		{"layer/expression-overrides-policy", "/OFF [%s%.0s%.0s%.0s]", box("M", 0), "/P /AllOff /OCGs %[2]s /VE [/And [/Not %[1]s] [/Or %[1]s %[2]s]]", nil, Options{}},
		{"layer/design-intent-has-no-say", "/OFF [%s%.0s%.0s%.0s]", box("A", 0), none, []string{"/Intent /Design"}, Options{}},
		{"layer/hidden-colourant-is-told", "/OFF [%s%.0s%.0s%.0s]", "/White cs /OC /A BDC 0 0 5 5 re f EMC /Silver cs 0 0 5 5 re f", none, nil, Options{}},
		{"layer/structural-step-does-not-print", none, all, none, []string{step("Structural", "Cutting"), step("White", ""), step("Dimensions", ""), "/GTS_Metadata << >>"}, Options{}},
		{"layer/structural-step-a-viewer-shows", none, box("A", 0), none, []string{step("Structural", "Folding")}, Options{AsViewer: true}},
		{"layer/structural-step-printed-by-name", none, box("A", 0), none, []string{step("Structural", "Folding")}, Options{Layers: map[string]bool{"layer a": true}}},
		{"layer/membership-of-a-step", none, box("M", 0), "/OCGs [%s%.0s%.0s%.0s]", []string{step("Positions", "Barcode")}, Options{}},
		{"layer/marks-without-layer", "", "/Span << /X 1 >> BDC /P BMC 0 0 5 5 re f EMC EMC EMC", none, nil, Options{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			check(t, c.name, layered(c.config, c.content, c.member, c.usage...), c.opt)
		})
	}
}

// Without OCProperties optional content is ignored altogether (8.11.4.2).
func TestLayersWithoutProperties(t *testing.T) {
	f := pdfbuild.New()
	g := f.Add("<< /Type /OCG /Name (lost) >>")
	f.Page(200, 100, "/Properties << /A "+ref(g)+" >>", "/OC /A BDC 0 0 5 5 re f EMC")
	check(t, "layer/no-properties", f, Options{})
}
