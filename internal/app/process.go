package app

import (
	"fmt"
	"os"
	"sync"

	"laydown/internal/artwork/colour"
	"laydown/internal/cgats"
	"laydown/internal/finding"
	"laydown/internal/look"
	"laydown/internal/press"
)

// How the process set looks. What was measured on the press decides; else the profile a page's colours are converted
// by, which describes a print of them; else nothing is known, and the toners are shown as single films.

// processes remembers the process sets a setup has worked out: pages share a few.
type processes struct {
	mu     sync.Mutex
	press  *look.Process // of the press's characterisation
	failed error         // to read it
	of     map[*colour.Profile]sampled
}

type sampled struct {
	process *look.Process
	err     error
}

// maxSampled profiles remembered: one or two for a sound file; a hostile one has a profile for every page.
const maxSampled = 4

// process finds how the process toners of page n look; nil when nothing tells. The error is that of a characterisation
// that cannot be used; a profile that cannot becomes a finding.
func (a *Artwork) process(s *Setup, n int, sink finding.Sink) (*look.Process, error) {
	if s.Press != nil && s.Press.Characterisation != "" {
		return s.characterised()
	}
	p, _ := a.agreed(s.printing(), a.pageDict(n))
	if p.Output == nil {
		return nil, nil
	}
	process, err := s.processes.sample(p.Output)
	if err != nil {
		sink.Add(noLookByProfile(p.Output, err, n))
		return nil, nil
	}
	return process, nil
}

// characterised reads the patches of the press, once.
func (s *Setup) characterised() (*look.Process, error) {
	c := &s.processes
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.press == nil && c.failed == nil {
		var err error
		if c.press, err = readCharacterisation(s.Press.Characterisation); err != nil {
			c.failed = cannot(err, "correct the key characterisation of the press, or leave it out",
				"the characterisation %s of press %s cannot be used: %v", s.Press.Characterisation, s.Press.Name, err)
		}
	}
	return c.press, c.failed
}

// readCharacterisation takes the first table of a file that has process tints; when none has, the first table's fault is told.
func readCharacterisation(path string) (*look.Process, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	file, err := cgats.Read(f)
	if err != nil {
		return nil, err
	}
	var first error
	for i := range file.Tables {
		set, err := file.Tables[i].Set()
		var p *look.Process
		if err == nil {
			p, err = look.ProcessFromSet(set, look.AllPatches)
		}
		if err == nil {
			return p, nil
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

// sample asks a profile for its colours, once.
func (c *processes) sample(profile *colour.Profile) (*look.Process, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for p, s := range c.of {
		if colour.SameProfile(p, profile) {
			return s.process, s.err
		}
	}
	var s sampled
	s.process, s.err = look.ProcessFromLab(func(t [4]float64) press.Lab { return profile.AbsoluteLab(t[:]) })
	if len(c.of) >= maxSampled {
		clear(c.of)
	}
	if c.of == nil {
		c.of = map[*colour.Profile]sampled{}
	}
	c.of[profile] = s
	return s.process, s.err
}

func noLookByProfile(p *colour.Profile, err error, page int) finding.Finding {
	name := p.Description()
	if name == "" {
		name = "without a name"
	}
	return finding.Finding{ID: "process-look-unknown", Severity: finding.Note,
		What:   fmt.Sprintf("The profile %q does not tell how process toners look: %v.", name, err),
		Why:    "Their overprints are shown as stacks of single toners, some two to four colour differences off in the mean.",
		Remedy: "Give the press definition the key characterisation with measured patches, or a profile made from prints.",
		Place:  finding.Place{Page: page}}
}
