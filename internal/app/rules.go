package app

import (
	"laydown/internal/check"
	"laydown/internal/finding"
)

// RuleInfo describes one check for the list of rules.
type RuleInfo struct {
	ID         finding.ID         `json:"id"`
	Group      check.Group        `json:"group"`
	Measures   string             `json:"measures"`
	Figures    []FigureInfo       `json:"figures"`
	Source     string             `json:"source"`
	Severities []finding.Severity `json:"severities"` // as built in, least first
	Remedies   []string           `json:"remedies"`
	Fixed      bool               `json:"fixed,omitempty"` // the severity cannot be changed
}

// FigureInfo is one number of a rule.
type FigureInfo struct {
	Key     string   `json:"key"`
	Unit    string   `json:"unit"`              // "" = a plain number
	Default *float64 `json:"default,omitempty"` // absent where the press gives it
	From    string   `json:"from,omitempty"`    // what goes before the default
	What    string   `json:"what"`
	Source  string   `json:"source"`
	Text    string   `json:"text"` // the default in words
}

// Rules lists the checks in the order they are made.
func Rules() []RuleInfo {
	out := make([]RuleInfo, len(check.Rules))
	for i, r := range check.Rules {
		info := RuleInfo{ID: r.ID, Group: r.Group, Measures: r.Measures, Figures: []FigureInfo{}, Source: r.Source,
			Severities: r.Severities, Remedies: append([]string{}, r.Remedies...), Fixed: r.Fixed}
		for _, f := range r.Figures {
			fi := FigureInfo{Key: f.Key, Unit: f.Unit, From: f.From, What: f.What, Source: f.Source, Text: f.Words()}
			if f.From == "" || f.Default != 0 {
				v := f.Default
				fi.Default = &v
			}
			info.Figures = append(info.Figures, fi)
		}
		out[i] = info
	}
	return out
}
