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
	made   map[colour.Printing]*colour.Converter
	reader *colour.Reader
}

// maxConverters remembered: one or two for a sound file; a hostile one has a profile for every page.
const maxConverters = 16

// converter finds what page n is converted by, and tells what a person should know about it.
func (a *Artwork) converter(s *Setup, n int, sink finding.Sink) (*colour.Converter, *colour.Profile) {
	cmyk, rgb := colour.ChooseOutput(a.outputIntents(n))
	p := s.printing()
	switch {
	case cmyk == nil:
	case p.Output == nil:
		p.Output = cmyk.Profile
	case !colour.SameProfile(p.Output, cmyk.Profile):
		sink.Add(preparedForAnother(cmyk, p.Output))
	}
	if rgb != nil && p.Output != nil {
		p.RGB = rgb.Profile
	}
	if p == s.printing() {
		return s.conv, s.profile
	}
	a.conversions.mu.Lock()
	defer a.conversions.mu.Unlock()
	c := a.conversions.made[p]
	if c == nil {
		c = colour.NewConverterFor(p)
		if len(a.conversions.made) >= maxConverters {
			clear(a.conversions.made)
		}
		if a.conversions.made == nil {
			a.conversions.made = map[colour.Printing]*colour.Converter{}
		}
		a.conversions.made[p] = c
	}
	return c, p.Output
}

func (a *Artwork) outputIntents(n int) []colour.OutputIntent {
	a.conversions.mu.Lock()
	if a.conversions.reader == nil {
		a.conversions.reader = colour.NewReader(a.Doc, a.Findings)
	}
	r := a.conversions.reader
	a.conversions.mu.Unlock()
	var dict pdf.Dict
	if pg, err := a.Doc.Page(n); err == nil {
		dict = pg.Dict
	}
	return r.OutputIntents(dict)
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
	if !c.Naive() || !usesProfiles(list.Items, map[*displist.Tiling]bool{}) {
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
