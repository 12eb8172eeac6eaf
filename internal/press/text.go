package press

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Texts come from somebody who may not name files of this machine: over the network, from a page.

// ReadPressText reads a press from a text; name stands for it in errors. Files the text names must be among those of given,
// which maps names as written to files; else a profile is found by its bare name among the system's, and anything else is
// an error with its place.
func ReadPressText(name string, data []byte, given map[string]string) (*Press, error) {
	p, err := ReadPress(name, data)
	if err != nil {
		return nil, err
	}
	s := &source{file: name, lines: p.src.lines, at: p.src.at}
	if file, ok := given[p.Characterisation]; ok {
		p.Characterisation = file
	} else if p.Characterisation != "" {
		s.errorAt("characterisation", "start the program with the press file, or leave the key out", "a text cannot name the file %q", p.Characterisation)
	}
	if file, ok := given[p.Profile]; ok {
		p.Profile = file
	} else if p.Profile != "" {
		if file, err = systemProfile(p.Profile); err != nil {
			s.errorAt("profile", "write the bare name of a profile the system has, or start the program with the press file",
				"no profile of the system is named %q", p.Profile)
		}
		p.Profile = file
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	return p, nil
}

// systemProfile finds a profile among those of the system by its bare name alone.
func systemProfile(name string) (string, error) {
	if name != filepath.Base(name) || strings.ContainsAny(name, `/\*?[`) {
		return "", fs.ErrInvalid
	}
	for _, dir := range profileDirs() {
		for _, pattern := range []string{"", "*"} {
			if found := lookIn(filepath.Join(dir, pattern), name); found != "" {
				return found, nil
			}
		}
	}
	return "", os.ErrNotExist
}

// Shelf holds presses and stocks by name, besides the shipped ones. A nil Shelf holds none.
type Shelf struct {
	Presses map[string]*Press
	Stocks  map[string]*Stock
}

// Press finds a press on the shelf or a shipped one; no name is taken for a file.
func (s *Shelf) Press(name string) (*Press, error) {
	if s != nil && s.Presses[name] != nil {
		return s.Presses[name], nil
	}
	if b, ok := ShippedPress(name); ok {
		return ReadPress(name+yamlExt, b)
	}
	return nil, notOnShelf("press", name, PressNames())
}

// Stock finds a stock on the shelf or a shipped one; no name is taken for a file.
func (s *Shelf) Stock(name string) (*Stock, error) {
	if s != nil && s.Stocks[name] != nil {
		return s.Stocks[name], nil
	}
	if b, ok := ShippedStock(name); ok {
		return ReadStock(name+yamlExt, b)
	}
	return nil, notOnShelf("stock", name, StockNames())
}

func notOnShelf(what, name string, names []string) error {
	return &NotFoundError{What: what, Name: name, Remedy: didYouMean(name, names)}
}
