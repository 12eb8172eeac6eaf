package report

import (
	"laydown/internal/plan"
)

// Plan is how the job goes through the press, for a person: the section after the pages.
type Plan struct {
	Notes      []string
	Wishes     []string
	Impossible string // why it cannot be printed as wished; "" = it can
	Remedy     string
	Name       string // of the first plan
	Work       []Work
	SetChanges int
	Why        []string
	Within     float64 // mm
	Between    float64
	Register   []string
	KnockOuts  []string
	Piles      []string
	Ways       []Way
	Reckoning  *plan.Reckoning
	UpWords    string
}

// Work is one pass in the order of the work.
type Work struct {
	Number  int
	Set     string
	Change  bool   // the set was changed for it
	Pages   string // that it prints, with the same toners
	Several bool   // pages
	OfPage  int    // which pass of each of them it is
	Toners  string
}

// Way is one plan among others.
type Way struct {
	Name    string
	Passes  int
	Changes int
	Minutes string
	Cost    string
	Piece   string
	Look    string // "" for the first
}
