package press

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
)

// The toners of docs/appearance.md are read as they stand there, with what every toner needs added.
func TestDocumentedAppearancesAreRead(t *testing.T) {
	text, err := os.ReadFile("../../docs/appearance.md")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```yaml\n(- name.*?)```").FindSubmatch(text)
	if block == nil {
		t.Fatal("no toners in the page")
	}
	var names []string
	var toners strings.Builder
	for _, item := range strings.Split(string(block[1]), "- name: ")[1:] {
		name, rest, _ := strings.Cut(item, "\n")
		names = append(names, name)
		fmt.Fprintf(&toners, "  - name: %s\n    stand_in: [0%%, 50%%, 0%%, 0%%]\n    mass: 5gsm\n", name)
		for _, line := range strings.Split(strings.TrimRight(rest, "\n"), "\n") {
			toners.WriteString("  " + line + "\n")
		}
	}
	p, err := ReadPress("documented.yaml", []byte("name: x\ntitle: x\nsheet: {width: 320mm, height: 450mm, margins: {lead: 4mm, trail: 4mm, side: 4mm}}\nresolution: 600dpi\n"+
		"toners:\n"+toners.String()+"sets:\n  - {name: all, stations: ["+strings.Join(names, ", ")+"]}\n"+
		"register: {within: 0.1mm, between: 0.4mm}\npile: {per_pass: 260%, sum: 400%, area: 1mm2}\n"))
	if err != nil {
		t.Fatal(err)
	}
	a := map[string]Appearance{}
	for _, toner := range p.Toners {
		a[toner.Name] = toner.Appearance
	}
	if a["White"].OnBlack == nil || a["Silver"].Metal == nil || a["Silver"].Metal.Flop != 8.2 || a["Fluorescent Pink"].Glow == nil ||
		a["Fluorescent Pink"].Glow.Peak != 600 || a["Plum"].Spectra == nil || len(a["Plum"].Spectra.OnBlack) != 16 {
		t.Errorf("%+v", a)
	}
}
