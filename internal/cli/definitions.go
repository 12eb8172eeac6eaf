package cli

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"

	"laydown/internal/app"
	"laydown/internal/press"
)

type pressCmd struct {
	List    pressListCmd    `cmd:"" help:"List the shipped presses."`
	Show    pressShowCmd    `cmd:"" help:"Show a press: its sets, toners and limits."`
	Book    pressBookCmd    `cmd:"" help:"Picture book: every toner, tint and pair of a press on its stocks."`
	Starter pressStarterCmd `cmd:"" help:"Every colourant and mix of a press as a PDF to be placed in a design program."`
	Schema  pressSchemaCmd  `cmd:"" help:"Write the JSON Schema of press files, for editors."`
}

type pressListCmd struct{}

func (pressListCmd) Run(e *env) error {
	list, err := app.Presses()
	if err != nil {
		return err
	}
	if e.json {
		return writeDefinitions(e, list)
	}
	for _, p := range list {
		fmt.Fprintf(e.out, "%-16s %s\n", p.Name, p.Title)
		for _, s := range p.Sets {
			fmt.Fprintf(e.out, "%16s set %s: %s\n", "", s.Name, strings.Join(s.Stations, ", "))
		}
	}
	return nil
}

type pressBookCmd struct {
	Name  string   `arg:"" help:"A shipped name or a YAML file."`
	Out   string   `required:"" placeholder:"DIR" help:"Folder for the pages (PNG) and the list of them."`
	Stock []string `sep:"none" placeholder:"NAME" help:"Stock: a shipped name or a YAML file; may be given several times. Left out: all shipped ones."`
}

func (c *pressBookCmd) Run(e *env) error {
	bar, end := e.progress()
	b, err := app.WriteLookBook(e.ctx, app.LookBookRequest{Press: c.Name, Stocks: c.Stock, Out: c.Out, Progress: bar})
	end()
	if err != nil {
		return err
	}
	if e.json {
		return e.writeJSON(b)
	}
	for _, p := range b.Pages {
		fmt.Fprintf(e.out, "%s: %s\n", p.File, p.Stock)
	}
	return nil
}

type showArg struct {
	Name string `arg:"" help:"A shipped name or a YAML file."`
	YAML bool   `name:"yaml" help:"Write the YAML text, to start an own definition from."`
}

type pressShowCmd struct{ showArg }

func (c *pressShowCmd) Run(e *env) error {
	p, err := app.FindPress(c.Name)
	if err != nil {
		return err
	}
	if c.YAML {
		return e.writeYAML(c.Name, p, press.ShippedPress)
	}
	if e.json {
		return e.writeDefinition(p)
	}
	w := e.out
	fmt.Fprintf(w, "%s: %s\n", p.Name, p.Title)
	if p.Notes != "" {
		fmt.Fprintf(w, "%s\n", wrap(p.Notes, 0))
	}
	fmt.Fprintf(w, "\nsheet %g × %g mm, %g dpi; register %g mm within a pass, %g mm between passes\n", float64(p.Sheet.Width),
		float64(p.Sheet.Height), float64(p.Resolution), float64(p.Register.Within), float64(p.Register.Between))
	fmt.Fprintf(w, "pile: %g %% per pass, %g %% in sum, averaged over %g mm²\n\n", float64(p.Pile.PerPass), float64(p.Pile.Sum), float64(p.Pile.Area))
	for _, s := range p.Sets {
		fmt.Fprintf(w, "set %s, first laid first: %s\n", s.Name, strings.Join(s.Stations, ", "))
	}
	fmt.Fprintf(w, "\n%-18s %-13s %-12s %-10s %s\n", "name in artwork", "kind", "tints", "advised", "thinnest line / reversed / type")
	for i := range p.Toners {
		t := &p.Toners[i]
		least, most, adv := t.Tint.Held()
		tints, advised := fmt.Sprintf("%g to %g %%", float64(least), float64(most)), ""
		if !t.Tint.Tints() {
			tints = "solid only"
		}
		if adv > 0 {
			advised = fmt.Sprintf("%g %%", float64(adv))
		}
		f := t.FinestHeld()
		fmt.Fprintf(w, "%-18s %-13s %-12s %-10s %.2f / %.2f / %.1f mm%s\n", t.Name, t.Kind, tints, advised,
			float64(f.Line), float64(f.Reversed), float64(f.Type), mustText(t))
	}
	for _, m := range p.Mixes {
		var parts []string
		for _, x := range m.Parts {
			parts = append(parts, fmt.Sprintf("%s %g %%", x.Toner, float64(x.Tint)))
		}
		fmt.Fprintf(w, "%-18s mix of %s\n", m.Name, strings.Join(parts, " and "))
	}
	printCautions(e, p.Cautions)
	for i := range p.Toners {
		for _, c := range p.Toners[i].Cautions {
			fmt.Fprintf(w, "caution, %s: %s\n", p.Toners[i].Name, wrap(c, 4))
		}
	}
	return nil
}

func mustText(t *press.Toner) string {
	if t.MustOverprint {
		return "; must overprint"
	}
	return ""
}

func printCautions(e *env, cautions []string) {
	for i, c := range cautions {
		if i == 0 {
			fmt.Fprintln(e.out)
		}
		fmt.Fprintf(e.out, "caution: %s\n", wrap(c, 4))
	}
}

// writeYAML writes a shipped definition with its comments, or the definition read from a file.
func (e *env) writeYAML(name string, v any, shipped func(string) ([]byte, bool)) error {
	b, ok := shipped(name)
	if !ok {
		var err error
		if b, err = press.Marshal(v); err != nil {
			return err
		}
	}
	_, err := e.out.Write(b)
	return err
}

// writeDefinition writes a definition as JSON with the keys, values and units of its YAML form, so
// that the JSON Schema holds for it.
func (e *env) writeDefinition(v any) error {
	b, err := definitionJSON(v)
	if err != nil {
		return err
	}
	return e.writeJSON(b)
}

func writeDefinitions[T any](e *env, list []T) error {
	out := make([]json.RawMessage, len(list))
	for i, v := range list {
		var err error
		if out[i], err = definitionJSON(v); err != nil {
			return err
		}
	}
	return e.writeJSON(out)
}

func definitionJSON(v any) (json.RawMessage, error) {
	b, err := press.Marshal(v)
	if err != nil {
		return nil, err
	}
	return yaml.YAMLToJSON(b)
}

type pressSchemaCmd struct{}

func (pressSchemaCmd) Run(e *env) error { return e.writeSchema("press") }

type stockCmd struct {
	List   stockListCmd   `cmd:"" help:"List the shipped stocks."`
	Show   stockShowCmd   `cmd:"" help:"Show a stock."`
	Schema stockSchemaCmd `cmd:"" help:"Write the JSON Schema of stock files, for editors."`
}

type stockListCmd struct{}

func (stockListCmd) Run(e *env) error {
	list, err := app.Stocks()
	if err != nil {
		return err
	}
	if e.json {
		return writeDefinitions(e, list)
	}
	for _, s := range list {
		fmt.Fprintf(e.out, "%-24s %-28s %-11s %4g g/m²  Lab %g %g %g\n", s.Name, s.Title, s.Surface, float64(s.Weight), s.Front[0], s.Front[1], s.Front[2])
	}
	return nil
}

type stockShowCmd struct{ showArg }

func (c *stockShowCmd) Run(e *env) error {
	s, err := app.FindStock(c.Name)
	if err != nil {
		return err
	}
	if c.YAML {
		return e.writeYAML(c.Name, s, press.ShippedStock)
	}
	if e.json {
		return e.writeDefinition(s)
	}
	fmt.Fprintf(e.out, "%s: %s, %s, %g g/m²", s.Name, s.Title, s.Surface, float64(s.Weight))
	if s.Thickness > 0 {
		fmt.Fprintf(e.out, ", %.2f mm thick", float64(s.Thickness))
	}
	fmt.Fprintf(e.out, "\ncolour Lab %g %g %g", s.Front[0], s.Front[1], s.Front[2])
	if s.Back != nil {
		fmt.Fprintf(e.out, ", back %g %g %g", s.Back[0], s.Back[1], s.Back[2])
	}
	fmt.Fprintln(e.out)
	for _, sh := range s.Sheets {
		fmt.Fprintf(e.out, "sheet %g × %g mm\n", float64(sh.Width), float64(sh.Height))
	}
	if s.Hits > 0 {
		fmt.Fprintf(e.out, "stands %s through the press\n", plural(s.Hits, "trip"))
	}
	printCautions(e, s.Cautions)
	return nil
}

type stockSchemaCmd struct{}

func (stockSchemaCmd) Run(e *env) error { return e.writeSchema("stock") }

// writeSchema writes the JSON Schema of a kind of definition.
func (e *env) writeSchema(kind string) error {
	b, err := press.Schema(kind)
	if err != nil {
		return err
	}
	_, err = e.out.Write(b)
	return err
}
