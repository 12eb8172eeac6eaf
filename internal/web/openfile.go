package web

import (
	"io"
	"os"
	"path/filepath"

	"laydown/internal/app"
	"laydown/internal/press"
)

// OpenRequest names what the program was started with. Unlike what the page asks for, names may be files of this machine.
type OpenRequest struct {
	File              string // "" = the artwork the job names
	Press, Stock, Job string
	Password          string
}

// OpenFile opens a copy of an artwork file. Presses and stocks in files of their own become drafts. The error is as those of the
// commands: an *app.CannotError or faults of definitions.
func (s *Server) OpenFile(r OpenRequest) error {
	setup, err := app.NewSetup(app.SetupOptions{Press: r.Press, Stock: r.Stock, Job: r.Job, Password: r.Password})
	if err != nil {
		return err
	}
	var words setupWords
	if setup.Job != nil {
		if r.Press == "" {
			r.Press = setup.Job.Press
		}
		if r.Stock == "" {
			r.Stock = setup.Job.Stock
		}
		if r.File == "" {
			r.File = setup.Job.Artwork
		}
		text, err := os.ReadFile(r.Job)
		if err != nil {
			return err
		}
		words.Job = string(text)
	}
	if words.Press, err = s.named(kindPress, r.Press, setup); err != nil {
		return err
	}
	if words.Stock, err = s.named(kindStock, r.Stock, setup); err != nil {
		return err
	}
	art, err := setup.Open(r.File) // tells what is wrong with the name it was given
	if err != nil {
		return err
	}
	defer art.Close()
	a, err := s.accept(incoming{name: filepath.Base(r.File), words: words, password: r.Password}, func(w io.Writer) error {
		f, err := os.Open(r.File)
		if err != nil {
			return err
		}
		defer f.Close()
		_, err = io.Copy(w, f)
		return err
	})
	if err == nil {
		s.tellArtwork(a)
	}
	return err
}

// named is what the page calls a press or stock: the name of a shipped one, or the id of the draft made of a file.
func (s *Server) named(kind, name string, setup *app.Setup) (string, error) {
	shipped := press.ShippedPress
	if kind == kindStock {
		shipped = press.ShippedStock
	}
	if _, ok := shipped(name); ok || name == "" {
		return name, nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return "", err
	}
	d := draft{Kind: kind, given: map[string]string{}}
	if kind == kindPress {
		// What the file names beside it stays reachable, by the same words.
		if as, err := press.ReadPress(name, text); err == nil {
			d.given[as.Profile], d.given[as.Characterisation] = setup.Press.Profile, setup.Press.Characterisation
			delete(d.given, "")
		}
	}
	made, err := s.addDraft(d, string(text))
	if err != nil {
		return "", err
	}
	return made.ID, nil
}

// Door writes a page into the private folder that leads to the server, and returns its path: an address with its token that is
// given to another program could be read by every user of the machine.
func (s *Server) Door(address string) (string, error) {
	path := filepath.Join(s.folder.path, "open.html")
	return path, os.WriteFile(path, []byte(leadOn(address)), 0o600)
}
