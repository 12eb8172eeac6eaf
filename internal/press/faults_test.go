package press

import (
	"errors"
	"strings"
	"testing"

	"laydown/internal/golden"
)

// Each case spoils a sound definition in one place; the golden file shows what the person is told.
func TestFaultsAreTold(t *testing.T) {
	two, _ := ShippedPress("two-set")
	kraft, _ := ShippedStock("kraft")
	const job = `artwork: artwork/ticket.pdf
press: two-set
stock: midnight-blue-board
finished: {width: 148mm, height: 105mm}
bleed: 3mm
quantity: 250
assign:
  Spot Gold: Gold
wishes:
  underlay:
    - {toner: White, under: [process], choke: 0.1mm}
  clear:
    - {toner: Clear, over: [seal]}
`
	kinds := map[string]struct {
		text string
		read func(data []byte) error
	}{
		"press": {string(two), func(b []byte) error { _, err := ReadPress("press.yaml", b); return err }},
		"stock": {string(kraft), func(b []byte) error { _, err := ReadStock("stock.yaml", b); return err }},
		"job": {job, func(b []byte) error {
			j, err := ReadJob("job.yaml", b)
			if err == nil {
				_, _, err = j.Find()
			}
			return err
		}},
	}
	for name, k := range kinds {
		if err := k.read([]byte(k.text)); err != nil {
			t.Fatalf("the sound %s is refused: %v", name, err)
		}
	}
	for _, c := range []struct{ name, kind, old, new string }{
		{"is a misspelt key pointed at", "press", "resolution:", "resolutoin:"},
		{"is a misspelt key deep in a list pointed at", "press", "    kind: metallic\n    stand_in: [20%", "    sort: metallic\n    stand_in: [20%"},
		{"is a key nobody knows told with those known", "stock", "surface:", "wibble: 3\nsurface:"},
		{"is a length without unit told with a hint", "press", "width: 330mm", "width: 330"},
		{"is a unit of the wrong sort told with a hint", "press", "600dpi", "600gsm"},
		{"is a percentage without sign told with a hint", "press", "advised: 70%", "advised: 70"},
		{"is a missing key told", "press", "resolution: 600dpi\n", ""},
		{"is a missing key of a toner told", "press", "    mass: 10gsm\n", ""},
		{"is a key without value told", "stock", "front: [62, 8, 24]", "front:"},
		{"is a key written twice told", "stock", "weight: 250gsm", "weight: 250gsm\nweight: 260gsm"},
		{"is a list where one value belongs told", "stock", "title: Kraft paper", "title: [Kraft, paper]"},
		{"is a value where a list belongs told", "press", "stations: [White, Silver, Gold, Clear]", "stations: White"},
		{"is a value where keys belong told", "press", "register: {within: 0.1mm, between: 0.4mm}", "register: 0.1mm"},
		{"is a Lab of two numbers told", "stock", "[62, 8, 24]", "[62, 8]"},
		{"is a stand-in of three shares told", "press", "[0%, 0%, 0%, 45%]", "[0%, 0%, 45%]"},
		{"is a Lab that is no number told", "stock", "[62, 8, 24]", "[62, warm, 24]"},
		{"is a Lab out of range told", "stock", "[62, 8, 24]", "[620, 8, 240]"},
		{"is broken YAML told", "press", "stations: [White", "stations: [White]]"},
		{"is a tab told", "stock", "weight:", "\tweight:"},
		{"is a toner a set does not find told", "press", "[White, Silver, Gold, Clear]", "[White, Sliver, Gold, Clear]"},
		{"is an alias in a set told", "press", "[White, Silver, Gold, Clear]", "[White, Spot Silver, Silver, Gold, Clear]"},
		{"are two toners of one name told", "press", "- name: Gold\n", "- name: Silver\n"},
		{"is a mix that takes the name of a toner told", "press", "- name: Pale Gold", "- name: Gold"},
		{"is an alias that is another toner told", "press", "aliases: [Gold 1,", "aliases: [Silver,"},
		{"is a reserved name told", "press", "- name: Silver\n", "- name: All\n"},
		{"is a mix of an unknown toner told", "press", "{toner: Gold, tint: 40%}", "{toner: Bronze, tint: 40%}"},
		{"is a mix part of no tint told", "press", "{toner: Gold, tint: 40%}", "{toner: Gold, tint: 0%}"},
		{"is a toner no set carries told", "press", "[White, Silver, Gold, Clear]", "[White, Silver, Gold]"},
		{"is a toner twice in a set told", "press", "[White, Silver, Gold, Clear]", "[White, Silver, Gold, Clear, White]"},
		{"is an unknown kind told", "press", "kind: opaque white", "kind: white"},
		{"is a special that claims to be process told", "press", "kind: opaque white", "kind: process"},
		{"is a tint above full told", "press", "{least: 30%, advised: 70%}", "{least: 30%, advised: 170%}"},
		{"are a least and a most swapped told", "press", "{least: 30%, advised: 70%}", "{least: 90%, most: 30%}"},
		{"is an advised tint outside the range told", "press", "{least: 30%, advised: 70%}", "{least: 30%, advised: 20%}"},
		{"is a sheet of no size told", "press", "width: 330mm", "width: 0mm"},
		{"are margins that leave nothing told", "press", "side: 4mm", "side: 170mm"},
		{"is a register better between passes told", "press", "between: 0.4mm", "between: 0.04mm"},
		{"is a pile in sum below one pass told", "press", "sum: 400%", "sum: 200%"},
		{"are prices without a currency told", "press", "  currency: EUR\n", "  currency: ''\n"},
		{"is an hour of negative price told", "press", "hour: 65", "hour: -65"},
		{"is a feed of no sheets told", "press", "sheets_per_hour: 1600", "sheets_per_hour: 0"},
		{"is a set-up of negative minutes told", "press", "set_up_minutes: 6", "set_up_minutes: -6"},
		{"is a waste of all sheets told", "press", "waste: {sheets: 10, share: 3%}", "waste: {sheets: 10, share: 100%}"},
		{"are negative waste sheets told", "press", "waste: {sheets: 10, share: 3%}", "waste: {sheets: -1, share: 3%}"},
		{"is a stock price without a currency told", "stock", "price: {currency: EUR", "price: {currency: ''"},
		{"is a misspelt use told", "job", "quantity: 250", "use: [food, widnow]"},
		{"are price breaks that fall told", "job", "quantity: 250", "price_breaks: [250, 500, 500]"},
		{"is a price break of nothing told", "job", "quantity: 250", "price_breaks: [0, 500]"},
		{"is an invisible stand-in told", "press", "stand_in: [25%, 0%, 0%, 10%]", "stand_in: [0%, 0%, 0%, 0%]"},
		{"is a white darker on white than on black told", "press", "opacity: 62%", "on_black: [98, 0, 0]"},
		{"are a colour and spectra told", "press", "{on_white: [58, 0, -1], gloss: satin}", "{on_white: [58, 0, -1], spectra: {from: 400nm, step: 20nm, on_white: [" + grey(16) + "]}}"},
		{"is a spectrum in percent told", "press", "{on_white: [58, 0, -1], gloss: satin}", "{spectra: {from: 400nm, step: 20nm, on_white: [" + grey(15) + ", 42.5]}}"},
		{"is a spectrum that ends early told", "press", "{on_white: [58, 0, -1], gloss: satin}", "{spectra: {from: 400nm, step: 10nm, on_white: [" + grey(16) + "]}}"},
		{"is a metal that is white told", "press", "opacity: 62%", "metal: {flop: 8}"},
		{"is a flop of nothing told", "press", "{on_white: [58, 0, -1], gloss: satin}", "{metal: {flop: 0}}"},
		{"is a glow in the ultraviolet told", "press", "opacity: 62%", "glow: {peak: 300nm}"},
		{"is a stock spectrum without a step told", "stock", "weight:", "spectra: {from: 380nm, step: 0nm, front: [" + grey(36) + "]}\nweight:"},
		{"is an unknown surface told", "stock", "surface: uncoated", "surface: uncoted"},
		{"is an unknown gloss told", "press", "appearance: {gloss: gloss}", "appearance: {gloss: glossy}"},
		{"is an impossible weight told", "stock", "250gsm", "2.5gsm"},
		{"is an unknown press of a job told", "job", "press: two-set", "press: two-sets"},
		{"is a wish for an unknown toner told", "job", "toner: White", "toner: Withe"},
		{"is an assignment to an unknown toner told", "job", "Spot Gold: Gold", "Spot Gold: Golden"},
		{"is a wish under nothing told", "job", "under: [process]", "under: []"},
		{"is a job without artwork told", "job", "artwork: artwork/ticket.pdf", "artwork: ''"},
		{"are three sides told", "job", "quantity: 250", "sides: 3"},
		{"is a fraction of a piece told", "job", "quantity: 250", "quantity: 2.5"},
		{"is merging of keys told", "job", "finished: {width: 148mm, height: 105mm}", "finished: &f {width: 148mm, height: 105mm}\nlayers: {<<: *f}"},
		{"is an alias without an anchor told", "job", "bleed: 3mm", "bleed: *b"},
		{"is a second document told", "stock", "weight:", "---\nweight:"},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := kinds[c.kind]
			if strings.Count(k.text, c.old) == 0 {
				t.Fatalf("%q is not in the sound %s", c.old, c.kind)
			}
			text := strings.Replace(k.text, c.old, c.new, 1)
			err := k.read([]byte(text))
			if err == nil {
				t.Fatal("accepted")
			}
			golden.Text(t, "faults/"+strings.ReplaceAll(c.name, " ", "-")+".txt", err.Error()+"\n")
		})
	}
}

// grey lists n equal reflectances.
func grey(n int) string { return strings.Repeat("0.5, ", n-1) + "0.5" }

func TestAllFaultsAreToldAtOnce(t *testing.T) {
	text, _ := ShippedPress("two-set")
	s := strings.Replace(string(text), "330mm", "330", 1)
	s = strings.Replace(s, "600dpi", "fine", 1)
	s = strings.Replace(s, "margins", "margin", 1)
	_, err := ReadPress("p.yaml", []byte(s))
	var es Errors
	if !errors.As(err, &es) || len(es) != 3 {
		t.Fatalf("%v", err)
	}
	for i := 1; i < len(es); i++ {
		if es[i].Line < es[i-1].Line {
			t.Errorf("line %d after %d", es[i].Line, es[i-1].Line)
		}
	}
	var e *Error
	if !errors.As(err, &e) || e.File != "p.yaml" || e.Line == 0 || e.Remedy == "" {
		t.Errorf("first fault is %+v", e)
	}
}

func TestAnchorsStandForTheirValue(t *testing.T) {
	text, _ := ShippedStock("kraft")
	s := strings.Replace(string(text), "front: [62, 8, 24]", "front: &both [62, 8, 24]\nback: *both", 1)
	k, err := ReadStock("k.yaml", []byte(s))
	if err != nil {
		t.Fatal(err)
	}
	if k.Back == nil || *k.Back != k.Front {
		t.Errorf("back is %v", k.Back)
	}
}
