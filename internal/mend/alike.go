package mend

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/geom"
)

// Likeness is what an item paints, and how what paints alike is chosen.
type Likeness struct {
	Kind   string // as the option kind has it
	Paints string // what it paints with, in words
	Items  []int  // of the page, itself among them: those of its kind that paint with the same
	// Options are the choices of a selection that hold for the item, each by itself.
	Options Options
	// Choose are the options that choose Items and nothing else of the page; nil when these are too many to be named one by one.
	Choose Options
}

// Alike tells which items of a page paint as item i does: in the same colour, the same image or the same pattern. A group
// and what does not print have no likeness; ok is then false.
func Alike(p *Page, in Input, i int) (l *Likeness, ok bool) {
	if i < 0 || i >= len(p.List.Items) {
		return nil, false
	}
	it := &p.List.Items[i]
	if it.Hidden || it.Kind == displist.BeginGroup {
		return nil, false
	}
	l = &Likeness{Kind: kindOf(it), Options: Options{"kind": kindOf(it), "page": strconv.Itoa(p.List.Page.Number), "item": strconv.Itoa(i)}}
	for k := range p.List.Items {
		if samePaint(it, &p.List.Items[k]) {
			l.Items = append(l.Items, k)
		}
	}
	if it.Layer != nil && it.Layer.Name != "" {
		l.Options["layer"] = it.Layer.Name
	}
	if f := it.Origin.Forms; f != nil && f.Name != "" {
		l.Options["form"] = f.Name
	}
	l.Paints = l.colours(it)
	l.choose(p, in)
	return l, true
}

// colours tells what an item paints with, and notes the options it can be chosen by.
func (l *Likeness) colours(it *displist.Item) string {
	inks := inksOf(it)
	if len(inks) == 0 {
		return "no colour of its own"
	}
	if len(inks) > 1 {
		return "a pattern of several colours"
	}
	k := inks[0]
	if ns := colour.Names(k.space); len(ns) > 0 {
		l.Options["colourant"] = ns[0]
		if k.comps == nil {
			return strings.Join(ns, ", ")
		}
		var parts []string
		for c, n := range ns {
			parts = append(parts, fmt.Sprintf("%s %s %%", n, percentText(k.comps[c])))
		}
		return strings.Join(parts, ", ")
	}
	word, n := familyWord(k.space)
	switch {
	case word == "" && k.comps == nil:
		return "colours of a measured space"
	case word == "":
		return "a colour of a measured space"
	case k.comps == nil || !flat(it) || len(k.comps) != n:
		return word + " colours"
	}
	text := word
	for _, v := range k.comps {
		text += " " + percentText(v)
	}
	l.Options["colour"] = text
	return text
}

// familyWord is the word of the option colour for a space, with its components; "" when there is none.
func familyWord(s colour.Space) (string, int) {
	switch colourFamily(s) {
	case colour.FamilyCMYK:
		return "cmyk", 4
	case colour.FamilyRGB:
		return "rgb", 3
	case colour.FamilyGray:
		return "gray", 1
	}
	return "", 0
}

func percentText(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/100, 'f', -1, 64) }

// samePaint reports whether two items are of one kind and paint with the same.
func samePaint(a, b *displist.Item) bool {
	if b.Hidden || a.Kind != b.Kind || kindOf(a) != kindOf(b) {
		return false
	}
	if flat(a) != flat(b) {
		return false
	}
	if !flat(a) {
		switch {
		case a.Kind == displist.Image:
			return a.Image != nil && b.Image != nil && a.Image.Image == b.Image.Image
		case a.Kind == displist.Shade:
			return a.Shading == b.Shading
		}
		return a.Paint.Tiling == b.Paint.Tiling && a.Paint.Shading == b.Paint.Shading
	}
	ka, kb := inksOf(a), inksOf(b)
	if len(ka) != 1 || len(kb) != 1 {
		return false
	}
	x, y := ka[0], kb[0]
	if x.space != y.space && (colourFamily(x.space) != colourFamily(y.space) || !slices.Equal(colour.Names(x.space), colour.Names(y.space))) || len(x.comps) != len(y.comps) {
		return false
	}
	for c, v := range x.comps {
		if math.Abs(v-y.comps[c]) > sameColour {
			return false
		}
	}
	return true
}

// mostNumbers of items are written into options.
const mostNumbers = 20_000

// choose finds the options that choose the items: by what they paint, else by their numbers.
func (l *Likeness) choose(p *Page, in Input) {
	for _, by := range []string{"colour", "colourant"} {
		v, ok := l.Options[by]
		if !ok {
			continue
		}
		o := Options{by: v, "kind": l.Kind}
		if items, err := Select(p, in, o); err == nil && slices.Equal(items, l.Items) {
			l.Choose = o
			return
		}
	}
	if len(l.Items) > mostNumbers {
		return
	}
	var numbers []string
	for _, i := range l.Items {
		numbers = append(numbers, strconv.Itoa(i))
	}
	l.Choose = Options{"item": strings.Join(numbers, "|"), "page": l.Options["page"]}
}

// Select lists the items of a page that the options of to-toner choose.
func Select(p *Page, in Input, o Options) ([]int, error) {
	s, err := selectionOf(o, in, 1)
	if err != nil {
		return nil, err
	}
	if s.empty() {
		return nil, fmt.Errorf("say which objects: by colour, colourant, layer, kind, form, region, page or item")
	}
	var items []int
	for i := range p.List.Items {
		if s.has(p, i) {
			items = append(items, i)
		}
	}
	return items, nil
}

// Box holds every mark of item i, in list space.
func (p *Page) Box(i int) geom.Rect { return p.box(i) }
