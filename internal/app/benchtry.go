package app

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"laydown/internal/artwork/pdf"
	"laydown/internal/mend"
)

// MendTrial is what came of remedies tried on one page, quickly: nothing was painted, so nothing proves that they changed no more than they
// were to.
type MendTrial struct {
	Out      string      `json:"out,omitempty"` // "" when nothing changed: the artwork is as it was
	Page     int         `json:"page"`
	Changed  bool        `json:"changed"`
	Unproven bool        `json:"unproven"` // always true
	Steps    []TrialStep `json:"steps"`
	Notes    []string    `json:"notes"`
}

// TrialStep is one remedy of a trial.
type TrialStep struct {
	Use     string   `json:"use"`
	Changed bool     `json:"changed"`
	Notes   []string `json:"notes,omitempty"`
}

// unprovenNote stands with every trial.
const unprovenNote = "A quick trial of one page: nothing proves yet that nothing else changed. Mend the artwork to have it proven."

// TryMend applies remedies to one page and writes the file that comes of it, for a look before they are applied in earnest.
// A remedy that cannot be applied is a *CannotError, and no file is written.
func TryMend(ctx context.Context, s *Setup, file string, uses []mend.Use, page int, out string) (*MendTrial, error) {
	if err := singleOutput(file, out); err != nil {
		return nil, err
	}
	art, err := s.Open(file)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	return tryMend(ctx, s, art, art.mendReader(s, nil), uses, page, out)
}

// Try is TryMend of the artwork on the bench, whose pages need not be read again.
func (b *Bench) Try(ctx context.Context, uses []mend.Use, page int, out string) (*MendTrial, error) {
	return onBench(ctx, b, func(ctx context.Context) (*MendTrial, error) {
		if err := singleOutput(b.art.Path, out); err != nil {
			return nil, err
		}
		read := func(ctx context.Context, n int) (*mend.Page, error) {
			sh, err := b.sheet(ctx, n)
			if err != nil {
				return nil, err
			}
			return sh.mendPage(), nil
		}
		return tryMend(ctx, b.setup, b.art, read, uses, page, out)
	})
}

func tryMend(ctx context.Context, s *Setup, art *Artwork, read mend.Reader, uses []mend.Use, page int, out string) (t *MendTrial, err error) {
	if last := art.Doc.NumPages(); page < 1 || page > last {
		return nil, noPage(page, last)
	}
	dir, err := os.MkdirTemp(filepath.Dir(out), ".laydown-try-*")
	if err != nil {
		return nil, unwritable(out, err)
	}
	defer os.RemoveAll(dir)
	t = &MendTrial{Page: page, Unproven: true, Steps: []TrialStep{}, Notes: []string{unprovenNote}}
	uses = slices.Clone(uses)
	slices.SortStableFunc(uses, func(a, b mend.Use) int { return a.Remedy.Rank() - b.Remedy.Rank() })
	now := ""
	for i, u := range uses {
		if now != "" {
			next, err := s.Open(now)
			if err != nil {
				return nil, cannot(err, "report the file to the maintainers", "%s would make a file that cannot be read: %v", uses[i-1].Remedy.ID, err)
			}
			defer next.Close()
			art, read = next, next.mendReader(s, nil)
		}
		e, up, err := applied(ctx, s, art, read, u, []int{page})
		if err != nil {
			return nil, err
		}
		t.Steps = append(t.Steps, TrialStep{Use: u.String(), Changed: e.Changed(), Notes: e.Notes()})
		if !e.Changed() {
			continue
		}
		t.Changed = true
		now = filepath.Join(dir, fmt.Sprintf("%d.pdf", i))
		if err := writeFile(now, func(w io.Writer) error { _, err := up.WriteTo(w); return err }); err != nil {
			return nil, err
		}
	}
	if !t.Changed {
		return t, nil
	}
	if err := os.Rename(now, out); err != nil {
		return nil, unwritable(out, err)
	}
	t.Out = out
	return t, nil
}

// applied collects the changes of one remedy. The error is a *CannotError or ctx's.
func applied(ctx context.Context, s *Setup, art *Artwork, read mend.Reader, u mend.Use, pages []int) (*mend.Edit, *pdf.Update, error) {
	e := mend.NewEdit(art.Doc, *s.mendInput(), pages, read)
	var up *pdf.Update
	err := u.Remedy.Apply(ctx, e, u.Options)
	if err == nil {
		up, err = e.Update()
	}
	switch {
	case ctx.Err() != nil:
		return nil, nil, ctx.Err()
	case err != nil:
		return nil, nil, cannot(err, "", "%s cannot be applied: %v", u.Remedy.ID, err)
	}
	return e, up, nil
}
