package app

import (
	"fmt"
	"os"
	"sync"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/press"
)

// What process colours are converted through. The press's own output profile decides. Where it has none, the
// output intent of the artwork does: DeviceCMYK is then what its profile says, and so its numbers can stay.
// Where both are there, DeviceCMYK stays as numbers of the press's process set, and a finding tells
// if they were meant for another condition. With neither, conversion is plain arithmetic.

// loadProfile reads the output profile of a press.
func loadProfile(p *press.Press) (*colour.Profile, error) {
	const remedy = "correct the key profile of the press, or leave it out"
	file, err := press.FindProfile(p.Profile)
	var data []byte
	if err == nil {
		data, err = os.ReadFile(file)
	}
	var profile *colour.Profile
	if err == nil {
		profile, err = colour.ParseProfile(data)
	}
	if err == nil && (profile.Components() != 4 || !profile.CanPrint()) {
		err = fmt.Errorf("it is no output profile for CMYK")
	}
	if err != nil {
		return nil, cannot(err, remedy, "the profile %s of press %s cannot be used: %v", p.Profile, p.Name, err)
	}
	return profile, nil
}

// printing is what a press alone converts by.
func (s *Setup) printing() colour.Printing {
	p := colour.Printing{Output: s.profile}
	if s.Press != nil {
		p.KeepBlack = s.Press.BlackPoint == press.BlackKeep
	}
	return p
}

// conversions remembers the converters of an artwork, one for each combination of profiles its pages
// ask for, so that pages share what a converter has worked out.
type conversions struct {
	mu     sync.Mutex
	made   map[conversion]*colour.Converter
	reader *colour.Reader
}

// conversion tells converters apart: by their profiles, or as that of the file's output intents, which may not have been read.
type conversion struct {
	colour.Printing
	file bool
}

// maxConverters remembered: one or two for a sound file; a hostile one has a profile for every page.
const maxConverters = 16

func (c *conversions) find(key conversion, fresh func() *colour.Converter) *colour.Converter {
	c.mu.Lock()
	defer c.mu.Unlock()
	conv := c.made[key]
	if conv == nil {
		conv = fresh()
		if len(c.made) >= maxConverters {
			clear(c.made)
		}
		if c.made == nil {
			c.made = map[conversion]*colour.Converter{}
		}
		c.made[key] = conv
	}
	return conv
}

// converter finds what page n is converted by, and tells what a person should know about it. Output intents of the file
// are read when first a colour depends on them; at once where there is something to tell, or where a page has its own.
func (a *Artwork) converter(s *Setup, n int, sink finding.Sink) *colour.Converter {
	page, any := a.outputIntents().Declared(a.pageDict(n))
	if !any {
		return s.conv
	}
	own := s.printing()
	if own.Output == nil && !page {
		return a.conversions.find(conversion{Printing: own, file: true}, func() *colour.Converter {
			return colour.NewConverterLater(func() colour.Printing {
				p, _ := a.agreed(own, nil)
				return p
			})
		})
	}
	p, cmyk := a.agreed(own, a.pageDict(n))
	if cmyk != nil && own.Output != nil && !colour.SameProfile(own.Output, cmyk.Profile) {
		sink.Add(preparedForAnother(cmyk, own.Output))
	}
	if p == own {
		return s.conv
	}
	return a.conversions.find(conversion{Printing: p}, func() *colour.Converter { return colour.NewConverterFor(p) })
}

// agreed is what the output intents that hold for a page make of p, and the one for CMYK.
func (a *Artwork) agreed(p colour.Printing, page pdf.Dict) (colour.Printing, *colour.OutputIntent) {
	cmyk, rgb := colour.ChooseOutput(a.outputIntents().OutputIntents(page))
	if p.Output == nil && cmyk != nil {
		p.Output = cmyk.Profile
	}
	if rgb != nil && p.Output != nil {
		p.RGB = rgb.Profile
	}
	return p, cmyk
}

// outputIntents is the reader of the file's output intents, which remembers their profiles.
func (a *Artwork) outputIntents() *colour.Reader {
	a.conversions.mu.Lock()
	defer a.conversions.mu.Unlock()
	if a.conversions.reader == nil {
		a.conversions.reader = colour.NewReader(a.Doc, a.Findings)
	}
	return a.conversions.reader
}

// pageDict is the dictionary of page n, nil when it cannot be read.
func (a *Artwork) pageDict(n int) pdf.Dict {
	pg, err := a.Doc.Page(n)
	if err != nil {
		return nil
	}
	return pg.Dict
}

func preparedForAnother(intent *colour.OutputIntent, own *colour.Profile) finding.Finding {
	name, ours := intent.Name(), own.Description()
	if name == "" {
		name = "another printing condition"
	}
	if ours == "" {
		ours = "its own profile"
	}
	return finding.Finding{ID: "output-intent-differs", Severity: finding.Note,
		What:   fmt.Sprintf("The artwork was prepared for %q; the press prints by %q.", name, ours),
		Why:    "Its CMYK colours go to the toners as the numbers they are, so they look different from a proof made for that condition.",
		Remedy: "Export the artwork for the press's own condition, or have a proof made on the press."}
}

// tellNaive adds a finding when colours of the page were converted without profiles.
func tellNaive(c *colour.Converter, list *displist.List, sink finding.Sink) {
	if !usesProfiles(list.Items, map[*displist.Tiling]bool{}) || !c.Naive() {
		return
	}
	sink.Add(finding.Finding{ID: "process-conversion-naive", Severity: finding.Note,
		What:   "The page has RGB, Lab or ICC colours, but neither press nor file has a CMYK output profile.",
		Why:    "They became process toner by plain arithmetic, so hues and shadows of these plates are not those of the print.",
		Remedy: "Give the press definition the key profile with the CMYK profile of the press, or export the artwork with an output intent.",
		Place:  finding.Place{Page: list.Page.Number}})
}

// usesProfiles reports whether something that prints has a colour that profiles would convert.
func usesProfiles(items []displist.Item, seen map[*displist.Tiling]bool) bool {
	for i := range items {
		it := &items[i]
		if it.Hidden {
			continue
		}
		if s := it.Paint.Space; s != nil && colour.NeedsProfile(s) {
			return true
		}
		if it.Image != nil && it.Image.Image != nil && it.Image.Image.Space != nil && colour.NeedsProfile(it.Image.Image.Space) {
			return true
		}
		for _, sh := range []*displist.Shading{it.Shading, it.Paint.Shading} {
			if sh != nil && sh.Space != nil && colour.NeedsProfile(sh.Space) {
				return true
			}
		}
		if t := it.Paint.Tiling; t != nil && !seen[t] {
			seen[t] = true
			if usesProfiles(t.Items, seen) {
				return true
			}
		}
	}
	return false
}
