package press

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

const planetarium = `# An evening at a planetarium.
artwork: artwork/ticket.pdf
press: two-set
stock: midnight-blue-board
finished: {width: 148mm, height: 105mm}
bleed: 3mm
quantity: 250
price_breaks: [250, 500, 1000]
use: [food]
sides: 2
assign:
  Spot Gold: Gold
  "moon: pale": Pale Gold
wishes:
  underlay:
    - toner: White
      under: [process, Gold]
      choke: 0.1mm
  clear:
    - {toner: Clear, over: [comet tails]}
layers:
  print: [front]
  skip: [notes, die line]
`

func writeJob(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "job.yaml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestJobFilesLieBesideIt(t *testing.T) {
	file := writeJob(t, planetarium)
	j, err := LoadJob(file)
	if err != nil {
		t.Fatal(err)
	}
	if want := filepath.Join(filepath.Dir(file), "artwork", "ticket.pdf"); j.Artwork != want {
		t.Errorf("artwork is %s, want %s", j.Artwork, want)
	}
	if j.Press != "two-set" || j.Stock != "midnight-blue-board" {
		t.Errorf("shipped names became %s, %s", j.Press, j.Stock)
	}
	if j.Assign["moon: pale"] != "Pale Gold" || j.Wishes.Underlay[0].Choke != 0.1 || j.Layers.Skip[1] != "die line" {
		t.Errorf("read %+v", j)
	}
	p, s, err := j.Find()
	if err != nil || p.Name != "two-set" || s.Name != "midnight-blue-board" {
		t.Errorf("%v %v %v", p, s, err)
	}
}

func TestJobFindsDefinitionsBesideIt(t *testing.T) {
	file := writeJob(t, strings.Replace(planetarium, "press: two-set", "press: ./own.yaml", 1))
	text, _ := ShippedPress("two-set")
	if err := os.WriteFile(filepath.Join(filepath.Dir(file), "own.yaml"), text, 0o600); err != nil {
		t.Fatal(err)
	}
	j, err := LoadJob(file)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := j.Find(); err != nil {
		t.Error(err)
	}
}

func TestJobComesBackEqual(t *testing.T) {
	j, err := ReadJob("job.yaml", []byte(planetarium))
	if err != nil {
		t.Fatal(err)
	}
	text, err := Marshal(j)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadJob("again", text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if d := cmp.Diff(j, back, cmpopts.IgnoreUnexported(Job{})); d != "" {
		t.Errorf("%s\n%s", d, text)
	}
}

func TestJobMadeInCodeIsChecked(t *testing.T) {
	j := &Job{Artwork: "a.pdf", Press: "two-set", Stock: "kraft", Assign: map[string]string{"x": "Bronze"}}
	if _, _, err := j.Find(); err == nil || !strings.Contains(err.Error(), `"Bronze"`) {
		t.Errorf("%v", err)
	}
	j.Assign = nil
	if _, _, err := j.Find(); err != nil {
		t.Error(err)
	}
	j.Stock = "krafd"
	if _, _, err := j.Find(); err == nil || !strings.Contains(err.Error(), `did you mean "kraft"`) {
		t.Errorf("%v", err)
	}
}

func TestMissingJobIsAnError(t *testing.T) {
	if _, err := LoadJob(filepath.Join(t.TempDir(), "none.yaml")); !os.IsNotExist(err) {
		t.Errorf("%v", err)
	}
}
