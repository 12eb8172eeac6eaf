package app

import (
	"fmt"
	"slices"

	"laydown/internal/press"
)

// Cautions that come from what the stock and the piece are, besides those the definitions hold. They are usual advice of the
// trade, common practice without a source, and each leaves the last word to whoever can know.

// lastWord ends every list of cautions.
const lastWord = "These are usual cautions only: the press maker's and the suppliers' data sheets, local rules and a licensed professional have the last word."

// cautions lists what the definitions warn of and what follows from the stock, the zones and the use of the piece; empty when
// there is nothing to warn of.
func cautions(s *Setup, used []string) []string { return cautionsOn(s.Stock, s, used) }

// cautionsOn are the cautions on a stock that is not the setup's own.
func cautionsOn(stock *press.Stock, s *Setup, used []string) (out []string) {
	if stock != nil {
		out = append(out, stock.Cautions...)
		out = append(out, stockCautions(stock)...)
	}
	if s.Press != nil {
		out = append(out, s.Press.Cautions...)
		for i := range s.Press.Toners {
			t := &s.Press.Toners[i]
			if slices.Contains(used, t.Name) {
				for _, c := range t.Cautions {
					out = append(out, t.Name+": "+c)
				}
			}
		}
	}
	if s.Job != nil {
		out = append(out, zoneCautions(zoneKinds(s.Job))...)
		out = append(out, useCautions(s.Job.Use)...)
	}
	if len(out) > 0 {
		out = append(out, lastWord)
	}
	return out
}

func stockCautions(k *press.Stock) (out []string) {
	switch k.Surface {
	case press.SurfaceMetallised:
		out = append(out, "Metallised stock may conduct: toner then transfers unevenly, and a discharge can harm the press. Run it only if the press maker names this stock as fit.")
	case press.SurfaceFilm:
		out = append(out, "Film must stand the heat of the fuser, often 150 to 200 °C: unfit film melts in the press. Its data sheet and the press maker decide.",
			"Film gathers static: separate the sheets and let them rest before they are cut.")
	}
	if k.Weight > 300 || k.Weight < 100 {
		out = append(out, fmt.Sprintf("Stock of %v curls or jams more easily than middling weights; the press maker's list of weights decides.", k.Weight))
	}
	return out
}

// zoneKinds are the kinds of zones of a job, and of what its sheets are made into.
func zoneKinds(j *press.Job) (kinds []string) {
	for _, z := range j.Zones {
		kinds = append(kinds, z.Kind)
	}
	if w := j.Sheets; w != nil {
		if w.Fold != nil || w.Booklet != nil || w.Envelope != nil {
			kinds = append(kinds, press.ZoneFold)
		}
		if w.Envelope != nil {
			kinds = append(kinds, press.ZoneGlue)
		}
	}
	return kinds
}

// zoneCautions are one for each kind of zone.
func zoneCautions(kinds []string) (out []string) {
	words := map[string]string{
		press.ZoneFold:        "Toner cracks where it is folded: crease first, fold with the grain, and try a printed sheet; the finisher decides.",
		press.ZoneGlue:        "Glue holds badly on toner, and fuser oil keeps it off bare stock too: try it on a printed sheet; the glue's data sheet decides.",
		press.ZoneWriteOn:     "Pens and stamps slip on toner, most of all on clear: try the pen on a printed sheet.",
		press.ZonePerforation: "Perforation tears toner at its edges: try a printed sheet; the finisher decides.",
	}
	for _, k := range kinds {
		if w := words[k]; w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

func useCautions(uses []string) (out []string) {
	for _, use := range uses {
		switch use {
		case press.UseFood:
			out = append(out, "Toner is not made for contact with food. Keep a barrier between, and have the suppliers of toner and stock declare in writing that they are fit; the law of the place decides.")
		case press.UseToy:
			out = append(out, "Toys have rules of their own on what may come off in a child's mouth. Have the suppliers of toner and stock declare in writing that they are fit; the law of the place decides.")
		case press.UseWindow:
			out = append(out, "The window of an envelope softens in the fuser and can stick in the press. Print before the window is glued in, or ask for envelopes made for the heat; the press maker decides.")
		case press.UseGummed:
			out = append(out, "The glue of envelopes and labels softens in the fuser: sheets stick and glue gets into the press. Use stock made for toner presses; its data sheet decides.")
		}
	}
	return out
}
