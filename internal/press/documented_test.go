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

// The keys of docs/plan.md are read as they stand there, on a shipped press and stock and in a job.
func TestDocumentedPlanKeysAreRead(t *testing.T) {
	text, err := os.ReadFile("../../docs/plan.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllSubmatch(text, -1)
	if len(blocks) != 3 {
		t.Fatalf("%d examples in the page, want those of a press, a stock and a job", len(blocks))
	}
	without := func(kept []byte, keys string) string {
		return regexp.MustCompile("(?m)^("+keys+"):.*\n(  .*\n)*").ReplaceAllString(string(kept), "")
	}
	two, _ := ShippedPress("two-set")
	p, err := ReadPress("press.yaml", []byte(without(two, "price|speed|waste")+string(blocks[0][1])))
	if err != nil || *p.Price.Hour != 65 || *p.Speed.SheetsPerHour != 1600 || *p.Speed.SetUpMinutes != 6 || *p.Speed.SetChangeMinutes != 25 || *p.Waste.Sheets != 10 || *p.Waste.Share != 3 {
		t.Errorf("%v %+v", err, p)
	}
	kraft, _ := ShippedStock("kraft")
	k, err := ReadStock("stock.yaml", []byte(without(kraft, "price")+string(blocks[1][1])))
	if err != nil || k.Price.Currency != "EUR" || k.Price.Sheet != 0.38 {
		t.Errorf("%v %+v", err, k)
	}
	j, err := ReadJob("job.yaml", []byte("artwork: a.pdf\npress: two-set\nstock: kraft\n"+string(blocks[2][1])))
	if err != nil || j.Quantity != 500 || len(j.Breaks) != 3 || len(j.Use) != 2 {
		t.Errorf("%v %+v", err, j)
	}
}
