package app

import (
	"laydown/internal/artwork/colour"
	"laydown/internal/check"
	"laydown/internal/press"
)

// TextSetup asks for a setup from names and texts, of somebody who may not name files of this machine.
type TextSetup struct {
	Press, Stock string // names on the shelf or shipped; "" = those of the job, or none
	Job          string // YAML text; "" = none. What it calls the artwork is left alone
	Shelf        *press.Shelf
	Password     string // of the artwork
	Label        string // as Setup.Label
}

// Find makes the setup. Faults of the job text are press.Errors; names not found *press.NotFoundError.
func (t TextSetup) Find() (*Setup, error) {
	s := &Setup{Password: t.Password, Label: t.Label}
	var err error
	if t.Press != "" {
		if s.Press, err = t.Shelf.Press(t.Press); err != nil {
			return nil, err
		}
	}
	if t.Stock != "" {
		if s.Stock, err = t.Shelf.Stock(t.Stock); err != nil {
			return nil, err
		}
	}
	if t.Job != "" {
		job, err := press.ReadJob("job", []byte(t.Job))
		if err != nil {
			return nil, err
		}
		if t.Press != "" {
			job.Press = t.Press
		}
		if t.Stock != "" {
			job.Stock = t.Stock
		}
		s.Job = job
		if s.Press, s.Stock, err = job.FindOn(t.Shelf); err != nil {
			return nil, err
		}
	}
	return s, s.ready()
}

// ready works out what follows from the definitions.
func (s *Setup) ready() (err error) {
	if s.checks, err = check.Settle(s.Press, s.Stock, s.Job); err != nil {
		return &CannotError{What: err.Error(), Err: err}
	}
	if s.Press != nil && s.Press.Profile != "" {
		if s.profile, err = loadProfile(s.Press); err != nil {
			return err
		}
	}
	s.conv = colour.NewConverterFor(s.printing())
	return nil
}

// ReadPressText reads a press from a text, as press.ReadPressText, and settles its rules.
func ReadPressText(name, text string, given map[string]string) (*press.Press, error) {
	p, err := press.ReadPressText(name, []byte(text), given)
	if err == nil {
		_, err = check.Settle(p, nil, nil)
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

// ReadStockText reads a stock from a text and settles its rules.
func ReadStockText(name, text string) (*press.Stock, error) {
	k, err := press.ReadStock(name, []byte(text))
	if err == nil {
		_, err = check.Settle(nil, k, nil)
	}
	if err != nil {
		return nil, err
	}
	return k, nil
}
