package app

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/displist"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover/artwork"
	"laydown/internal/instrument"
	"laydown/internal/plan"
	"laydown/internal/plates/plate"
	"laydown/internal/plates/separate"
)

// PassesRequest says which artwork is split into its passes.
type PassesRequest struct {
	File  string
	Setup *Setup // with a press
	Out   string // folder
	// Passes are those of a plan; nil = the best one is made.
	Passes   []StackPass
	DPI      float64 // of the proof; 0 = DefaultDPI
	Progress Progress
	Timer    *instrument.Timer
}

// PassesOutcome tells which files were written and what proves them.
type PassesOutcome struct {
	File   string     `json:"file"`
	Press  string     `json:"press"`
	DPI    float64    `json:"dpi"` // of the proof, less on very large pages
	Pages  int        `json:"pages"`
	Passes []PassFile `json:"passes"`
	// Findings are faults of the artwork's own that leave something out of the plates, and so out of the passes.
	Findings []finding.Finding `json:"findings"`
}

// PassFile is the artwork of one pass.
type PassFile struct {
	Number int      `json:"number"` // from 1, the first through the press
	Set    string   `json:"set"`
	Toners []string `json:"toners"`         // first laid first
	File   string   `json:"file,omitempty"` // in Out; "" when it was refused
	// Pages tells what is laid on each page; nil where every page that uses them is laid all toners.
	Pages []PageToners `json:"pages,omitempty"`
	// Empty are pages the pass lays nothing on; they stay, so that pages count alike in all files.
	Empty []int `json:"empty_pages,omitempty"`
	// Empties are special toners the file names though the pass lays none of them: their plates are empty. It takes one where a shape
	// of another pass counts in a transparency group.
	Empties []string `json:"empty_plates,omitempty"`
	// Same tells that the plates of the pass, separated from this file, are those of the whole, and the others empty.
	Same bool `json:"same"`
	// Rounded counts the pixels of all plates that are off by one step of 255: images that were converted, and blending worked out
	// in another depth.
	Rounded int `json:"rounded_pixels"`
	// Refused says why no file was written.
	Refused []finding.Finding `json:"refused,omitempty"`
}

// PageToners is what a pass lays on a page.
type PageToners struct {
	Page   int      `json:"page"`
	Toners []string `json:"toners"` // first laid first
}

// Refused reports whether a pass has no file.
func (o *PassesOutcome) Refused() bool {
	return slices.ContainsFunc(o.Passes, func(p PassFile) bool { return p.File == "" })
}

// WritePasses writes a PDF for each pass, after separating it and comparing its plates with those of the whole. A pass that would
// print otherwise is refused. The error is a *CannotError, or ctx's.
func WritePasses(ctx context.Context, req PassesRequest) (*PassesOutcome, error) {
	if req.Setup.Press == nil {
		return nil, cannot(nil, "name one with --press or --job", "passes are those of a press, and none was given")
	}
	if req.DPI == 0 {
		req.DPI = DefaultDPI
	}
	art, err := req.Setup.Open(req.File)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	s := &passSplitter{req: req, art: art, out: &PassesOutcome{File: art.Name(), Press: req.Setup.Press.Name, DPI: req.DPI,
		Pages: art.Doc.NumPages(), Passes: []PassFile{}, Findings: []finding.Finding{}}}
	if err := s.run(ctx); err != nil {
		s.results.undo()
		return nil, err
	}
	return s.out, nil
}

// passSplitter writes the passes of one request.
type passSplitter struct {
	req     PassesRequest
	art     *Artwork
	results results
	passes  []StackPass
	out     *PassesOutcome
}

func (s *passSplitter) run(ctx context.Context) error {
	if err := s.results.folder(s.req.Out); err != nil {
		return err
	}
	s.passes = s.req.Passes
	if s.passes == nil {
		var err error
		s.passes, err = s.art.planned(ctx, s.req.Setup, nil, s.req.Progress, s.req.Timer)
		var e *plan.Impossible
		if errors.As(err, &e) {
			return cannot(e, e.Remedy, "it cannot be printed as wished: %s", e.What)
		}
		if err != nil {
			return err
		}
	}
	if len(s.passes) == 0 {
		return cannot(nil, "check the artwork with `laydown check`", "%s has no toner on it, so there is no pass to write", s.out.File)
	}
	list := make([]artwork.Pass, len(s.passes))
	for i := range s.passes {
		p := &s.passes[i]
		list[i] = artwork.Pass{Toners: p.Toners, On: p.Lays}
		f := PassFile{Number: i + 1, Set: p.Set.Name, Toners: p.Toners, Same: true}
		if !p.alike(s.out.Pages) {
			for n := 1; n <= s.out.Pages; n++ {
				f.Pages = append(f.Pages, PageToners{n, slices.Concat([]string{}, p.Lays(n))})
			}
		}
		s.out.Passes = append(s.out.Passes, f)
	}
	stop := s.req.Timer.Start("split into passes")
	files, err := artwork.SplitPages(ctx, s.art.Doc, s.read, list)
	stop()
	if err != nil {
		return err
	}
	return s.prove(ctx, files)
}

// read reads a page for splitting.
func (s *passSplitter) read(ctx context.Context, n int) (*artwork.Page, error) {
	sh, err := s.art.Read(ctx, s.req.Setup, n, ReadOptions{Timer: s.req.Timer})
	if err != nil {
		return nil, err
	}
	return &artwork.Page{List: sh.List, Target: sh.Target}, nil
}

// prove separates every file beside the whole, and puts those that are right in their place.
func (s *passSplitter) prove(ctx context.Context, files []*artwork.File) error {
	dir, err := os.MkdirTemp(s.req.Out, ".passes-*")
	if err != nil {
		return unwritable(s.req.Out, err)
	}
	defer os.RemoveAll(dir)
	arts := make([]*Artwork, len(files))
	for i, f := range files {
		p := &s.out.Passes[i]
		p.Empty, p.Refused = f.Empty, f.Refused
		if len(f.Refused) > 0 {
			p.Same = false
			continue
		}
		path := filepath.Join(dir, passName(p))
		if err := writeFile(path, func(w io.Writer) error { _, err := f.Update.WriteFull(w); return err }); err != nil {
			return err
		}
		if arts[i], err = s.req.Setup.Open(path); err != nil {
			return cannot(err, "report the file to the maintainers", "the file of pass %d could not be read again: %v", p.Number, err)
		}
		defer arts[i].Close()
		if n := arts[i].Doc.NumPages(); n != s.out.Pages {
			return cannot(nil, "save the artwork again with another program first", "the file of pass %d would have %d pages instead of %d", p.Number, n, s.out.Pages)
		}
	}
	for n := 1; n <= s.out.Pages; n++ {
		s.req.Progress.tell("proof of page", n-1, s.out.Pages)
		if err := s.provePage(ctx, n, arts); err != nil {
			return err
		}
	}
	s.req.Progress.tell("proof of page", s.out.Pages, s.out.Pages)
	finding.Sort(s.out.Findings)
	for i := range s.out.Passes {
		p := &s.out.Passes[i]
		if len(p.Refused) > 0 {
			continue
		}
		to := filepath.Join(s.req.Out, passName(p))
		if err := singleOutput(s.req.File, to); err != nil {
			return err
		}
		if err := os.Rename(filepath.Join(dir, passName(p)), to); err != nil {
			return unwritable(to, err)
		}
		s.results.add(to)
		p.File = passName(p)
	}
	return nil
}

// provePage compares one page of every file with the whole.
func (s *passSplitter) provePage(ctx context.Context, n int, arts []*Artwork) error {
	whole, err := s.art.Read(ctx, s.req.Setup, n, ReadOptions{Timer: s.req.Timer})
	if err != nil {
		return err
	}
	region := BoxMedia.Region(&whole.List.Page)
	st, err := whole.stack(ctx, region, s.req.DPI, s.req.Timer)
	if err != nil {
		return err
	}
	s.out.DPI = min(s.out.DPI, st.DPI)
	s.out.Findings = append(s.out.Findings, paintedOtherwise(whole.Findings.Sorted())...)
	for i, a := range arts {
		if a == nil {
			continue
		}
		p := &s.out.Passes[i]
		sh, err := a.Read(ctx, s.req.Setup, n, ReadOptions{Timer: s.req.Timer})
		if err != nil {
			return err
		}
		// The file has the names of the press: what the job assigns is done.
		if sh.Target, err = separate.NewTarget(s.req.Setup.Press, nil, sh.Target.Converter); err != nil {
			return cannot(err, "", "%v", err)
		}
		for _, named := range sh.List.Names {
			if k, ok := sh.Target.Names[named.Name]; ok && k >= len(colourant.ProcessNames) && !slices.Contains(p.Toners, named.Name) && !slices.Contains(p.Empties, named.Name) {
				p.Empties = append(p.Empties, named.Name)
			}
		}
		if !samePage(&whole.List.Page, &sh.List.Page) {
			p.refuse(n, nil, nil, "the boxes of the page would change")
			continue
		}
		mine, err := sh.stack(ctx, region, s.req.DPI, s.req.Timer)
		if err != nil {
			return err
		}
		p.compare(n, s.passes[i].Lays(n), st, mine, &whole.List.Page, region, namesAll(sh.List.Items))
	}
	return nil
}

func samePage(a, b *displist.Page) bool {
	return a.Media == b.Media && a.Crop == b.Crop && a.Trim == b.Trim && a.Bleed == b.Bleed && a.Art == b.Art && a.UserUnit == b.UserUnit && a.Rotate == b.Rotate
}

// compare holds the plates of a pass against those of the whole. Marks in All lie on every plate, in every file.
func (p *PassFile) compare(n int, toners []string, whole, mine *plate.Stack, page *displist.Page, region geom.Rect, all bool) {
	for i, c := range whole.Set.All() {
		a, b := whole.Plane(i), mine.Plane(i)
		what := "%s would differ on %d pixels from the plate of the whole, by up to %.1f %%"
		if !slices.Contains(toners, c.Name) {
			if all {
				continue
			}
			a, what = nil, "%s, which the pass does not lay there, would have toner on %d pixels, up to %.1f %%"
		}
		pixels, worst, box := 0, 0, image.Rectangle{}
		for k := range whole.Width * whole.Height {
			if d := int(tintAt(a, k)) - int(tintAt(b, k)); d == 1 || d == -1 {
				p.Rounded++
			} else if d != 0 {
				pixels++
				worst = max(worst, d, -d)
				x, y := k%whole.Width, k/whole.Width
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
		if pixels > 0 {
			px := 25.4 / whole.DPI
			p.refuse(n, []string{c.Name}, &finding.BoxMM{X: round2((region.X0-page.Trim.X0)/geom.PointsPerMM + float64(box.Min.X)*px),
				Y: round2((region.Y0-page.Trim.Y0)/geom.PointsPerMM + float64(box.Min.Y)*px),
				W: round2(float64(box.Dx()) * px), H: round2(float64(box.Dy()) * px)}, fmt.Sprintf(what, c.Name, pixels, float64(worst)/2.55))
		}
	}
}

func tintAt(plane []byte, i int) byte {
	if plane == nil {
		return 0
	}
	return plane[i]
}

func (p *PassFile) refuse(page int, names []string, box *finding.BoxMM, what string) {
	p.Same = false
	p.Refused = append(p.Refused, finding.Finding{ID: "pass-differs", Severity: finding.Error, Class: finding.Unsupported,
		What:   fmt.Sprintf("The file of pass %d is refused: on page %d %s.", p.Number, page, what),
		Why:    "Printed pass by pass, the sheet would differ from the plates that were checked.",
		Remedy: "Expand the transparency of what lies there in the design program, or print from the whole artwork.",
		Place:  finding.Place{Page: page, Box: box, Colourants: names}})
}

// namesAll reports whether something is painted in the colour All.
func namesAll(items []displist.Item) bool {
	for i := range items {
		space, _, cell := items[i].Colours()
		if sep, ok := space.(*colour.Separation); ok && sep.Name == "All" {
			return true
		}
		if cell != nil && namesAll(cell.Items) {
			return true
		}
	}
	return false
}

// passName is the name of the file of a pass: its number and toners.
func passName(p *PassFile) string {
	words := []string{}
	toners := slices.Clone(p.Toners)
	process := 0
	for _, t := range toners {
		if slices.Contains(colourant.ProcessNames[:], t) {
			process++
		}
	}
	said := false
	for _, t := range toners {
		if process > 1 && slices.Contains(colourant.ProcessNames[:], t) {
			if !said {
				said = true
				words = append(words, "process")
			}
			continue
		}
		word := strings.Map(func(r rune) rune {
			switch {
			case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
				return r
			case r >= 'A' && r <= 'Z':
				return r + 'a' - 'A'
			}
			return '-'
		}, t)
		words = append(words, strings.Trim(word, "-"))
	}
	name := strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), "-")
	if len(name) > 80 {
		name = strings.Trim(name[:80], "-")
	}
	return strings.TrimSuffix(fmt.Sprintf("pass-%d-%s", p.Number, name), "-") + ".pdf"
}
