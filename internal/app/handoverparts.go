package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"laydown/internal/artwork/interp"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/geom"
	"laydown/internal/handover"
	"laydown/internal/handover/sheets"
	"laydown/internal/handover/ticket"
	"laydown/internal/plan/sheet"
	"laydown/internal/press"
)

// split writes the artwork of each pass, proven to print what the whole does. Where one is refused, the whole is printed.
func (h *handing) split(ctx context.Context) error {
	h.locked()
	if len(h.steps) == 0 {
		return nil
	}
	dir := filepath.Join(h.dir, "artwork")
	o, err := WritePasses(ctx, PassesRequest{File: h.req.File, Setup: h.s, Out: dir, Passes: h.passes(), DPI: shareDPI(h.req.DPI, h.total), Progress: h.req.Progress, Timer: h.req.Timer})
	if err != nil {
		return err
	}
	if o.Refused() {
		for _, p := range o.Passes {
			for _, f := range p.Refused {
				h.out.add(f)
			}
		}
		h.apart = "The artwork of single passes could not be written so that it prints the same. Please take what each pass prints from " + h.whole.Name + " by the names of its colourants."
		return nil
	}
	for i, p := range o.Passes {
		f := handover.File{Name: "artwork/" + p.File, Role: handover.RoleArtwork, About: fmt.Sprintf("what pass %d prints: %s", p.Number, strings.Join(p.Toners, ", ")), Path: filepath.Join(dir, p.File)}
		if len(p.Empties) > 0 {
			f.About += "; it names " + strings.Join(p.Empties, ", ") + " besides, which it prints nothing of"
		}
		h.steps[i].content = f
		h.add(f)
	}
	return nil
}

// locked tells of artwork that opens with a password only, as its passes do.
func (h *handing) locked() {
	if h.s.Password == "" {
		return
	}
	a, err := Open(h.req.File)
	if err == nil {
		a.Close()
	}
	if errors.Is(err, ErrPassword) {
		h.out.add(finding.Finding{ID: "handover-locked", Severity: finding.Warning, What: "The artwork opens with a password only, and so do the files of its passes.",
			Why:    "Without the password the provider can look at none of them. The sheets open without it.",
			Remedy: "Save the artwork without a password, or tell the provider the password by another way than the archive goes."})
	}
}

func (h *handing) passes() (out []StackPass) {
	for _, st := range h.steps {
		out = append(out, st.pass)
	}
	return out
}

// passSetup is the setup for the file of a pass, which has the names of the press: what the job assigns is done.
func (h *handing) passSetup(st *step) *Setup {
	s := &Setup{Press: h.s.Press, Stock: h.s.Stock, Job: h.s.Job, Label: h.name(), Password: h.s.Password, checks: h.s.checks, conv: h.s.conv, profile: h.s.profile}
	if st.content.Name == h.whole.Name {
		return s
	}
	if h.s.Job != nil {
		job := *h.s.Job
		job.Assign = nil
		s.Job = &job
	}
	return s
}

// impose lays the artwork of each pass on sheets. Where nothing fits, the letter says so and the provider lays out.
func (h *handing) impose(ctx context.Context) error {
	for i, st := range h.steps {
		if i > 0 && st.content.Name == h.steps[0].content.Name {
			st.sheets, st.imposed = h.steps[0].sheets, h.steps[0].imposed
			continue
		}
		path := filepath.Join(h.dir, fmt.Sprintf("sheets-%d.pdf", i+1))
		only := i + 1
		if st.content.Name == h.whole.Name {
			only = 0
		}
		o, err := Sheets(ctx, SheetsRequest{File: st.content.Path, Setup: h.passSetup(st), Out: path, Passes: h.passes(), Only: only, Title: h.name(), FailOn: h.req.FailOn, Progress: h.req.Progress, Timer: h.req.Timer})
		if err != nil {
			if ctx.Err() != nil {
				return err
			}
			h.out.add(finding.Finding{ID: "sheets-not-made", Severity: finding.Warning, What: fmt.Sprintf("The pages could not be laid on sheets: %v.", err),
				Why: "The provider has to lay them out.", Remedy: "Correct the key sheets of the job, or hand over with what the checks say."})
			return nil
		}
		for _, f := range o.Findings {
			if !slices.ContainsFunc(h.out.Findings, func(g finding.Finding) bool { return g.ID == f.ID && g.Place.Page == f.Place.Page }) {
				h.out.add(f)
			}
		}
		name := "sheets/" + strings.TrimPrefix(st.content.Name, "artwork/")
		about := fmt.Sprintf("pass %d laid on sheets with marks, ready to print", i+1)
		if st.content.Name == h.whole.Name {
			name, about = "sheets/sheets.pdf", "the pages laid on sheets with marks"
		}
		st.sheets, st.imposed = o, &handover.File{Name: name, Role: handover.RoleSheets, About: about, Path: path}
		h.add(*st.imposed)
	}
	return nil
}

// prove writes the document the customer looks at and signs.
func (h *handing) prove(ctx context.Context) error {
	path := filepath.Join(h.dir, "proof.pdf")
	r, err := WriteProof(ctx, ProofRequest{File: h.req.File, Setup: h.s, JobName: h.name(), Out: path, FailOn: h.req.FailOn,
		DPI: h.req.DPI, Made: h.req.Date, Progress: h.req.Progress, Timer: h.req.Timer})
	if err != nil {
		return err
	}
	h.proof = "proof.pdf"
	about := "how the pages will look, to be signed by the customer"
	if len(r.Shown) > 0 {
		about += fmt.Sprintf("; %d of them in full, all of them small", len(r.Shown))
	}
	h.add(handover.File{Name: h.proof, Role: handover.RoleProof, About: about, Path: path})
	return nil
}

// definitions writes press, stock and job so that they read back from the unpacked archive, with the files they name.
func (h *handing) definitions() error {
	p := *h.s.Press
	for _, f := range []struct {
		path        *string
		name, about string
	}{{&p.Profile, "profile.icc", "output profile of the press"}, {&p.Characterisation, "characterisation.txt", "measured patches of the press"}} {
		if *f.path == "" {
			continue
		}
		if st, err := os.Stat(*f.path); err != nil || st.IsDir() {
			continue // a name among the system's profiles
		}
		h.add(handover.File{Name: "definitions/" + f.name, Role: handover.RoleDefinition, About: f.about, Path: *f.path})
		*f.path = f.name
	}
	job := press.Job{}
	if h.s.Job != nil {
		job = *h.s.Job
	}
	job.Artwork, job.Press, job.Stock = "../"+h.whole.Name, "./press.yaml", "./stock.yaml"
	for _, d := range []struct {
		name, about string
		v           any
	}{{"press", "the press as the job was made for it", &p}, {"stock", "the stock", h.s.Stock}, {"job", "the job: size, quantity, wishes", &job}} {
		b, err := press.Marshal(d.v)
		if err != nil {
			return err
		}
		h.add(handover.File{Name: "definitions/" + d.name + ".yaml", Role: handover.RoleDefinition, About: d.about, Data: b})
	}
	return nil
}

// tickets writes a job ticket a pass, and the measured colour of special toners that have spectra.
func (h *handing) tickets() error {
	born := h.born
	if !h.req.Date.IsZero() {
		born = h.req.Date
	}
	base, err := h.ticket()
	if err != nil {
		return err
	}
	base.Time = born
	var all []string
	for _, c := range base.Colours {
		all = append(all, c.Name)
	}
	names := ticket.FileNames(all)
	for i := range base.Colours {
		c := &base.Colours[i]
		t, ok := h.s.Press.Toner(c.Name)
		if !ok || t.Kind == colourant.Process || t.Appearance.Spectra == nil {
			continue
		}
		a := t.Appearance.Spectra
		m := ticket.Measured{Name: t.Name, Kind: t.Kind.String(), From: float64(a.From), Step: float64(a.Step), Time: born,
			Spectra: []ticket.Spectrum{{Ground: "a white stock of Lab 95 0 -2", White: true, Values: a.OnWhite}}}
		if len(a.OnBlack) > 0 {
			m.Spectra = append(m.Spectra, ticket.Spectrum{Ground: "a black stock of Lab 17 0 1", Values: a.OnBlack})
		}
		var b bytes.Buffer
		if err := m.WriteCxF(&b); err != nil {
			return err
		}
		f := handover.File{Name: "colour/" + names[c.Name] + ".cxf", Role: handover.RoleColour, About: "measured colour of " + t.Name + " (CxF3)", Data: b.Bytes()}
		h.add(f)
		c.CxF = &ticket.File{URL: "../" + f.Name}
	}
	for i, st := range h.steps {
		t := *base
		t.Pass, t.Set = i+1, st.pass.Set.Name
		content := &st.content
		t.Pages = [2]int{1, h.total}
		if st.imposed != nil {
			content, t.Imposed = st.imposed, true
			t.Pages[1] = st.sheets.Written.Sides
		}
		f, err := named(content, "application/pdf")
		if err != nil {
			return err
		}
		t.Content = *f
		for _, s := range st.sides {
			t.Sides = append(t.Sides, ticket.Side{Back: s.Side == press.Back.String(), Order: s.Toners})
		}
		h.onSheets(&t, i+1, st.sheets)
		if t.Surface, err = h.surfaces(i+1, st); err != nil {
			return err
		}
		t.Remarks = []string{fmt.Sprintf("Pass %d of %d: the set “%s” must be in the press. See letter.html.", i+1, len(h.steps), st.pass.Set.Name)}
		var b bytes.Buffer
		if err := t.Write(&b); err != nil {
			return err
		}
		st.ticket = fmt.Sprintf("ticket/pass-%d.xjdf", i+1)
		h.add(handover.File{Name: st.ticket, Role: handover.RoleTicket, About: fmt.Sprintf("job ticket of pass %d (XJDF 2.2)", i+1), Data: b.Bytes()})
	}
	return nil
}

// named is a file as a ticket names it.
func named(f *handover.File, mime string) (*ticket.File, error) {
	s, err := f.Sum()
	if err != nil {
		return nil, err
	}
	return &ticket.File{URL: "../" + f.Name, Type: mime, Size: s.Size, MD5: s.MD5, SHA256: s.SHA256}, nil
}

// ticket is what the tickets of all passes have alike.
func (h *handing) ticket() (*ticket.Ticket, error) {
	k := h.s.Stock
	t := &ticket.Ticket{Job: h.name(), Passes: len(h.steps), Version: Version(),
		Product: ticket.Product{Amount: h.quantity(), Pages: h.total},
		Stock: ticket.Stock{Title: k.Title, Name: k.Name, Surface: k.Surface, Gloss: k.Gloss, Weight: float64(k.Weight), Thickness: float64(k.Thickness),
			Opacity: float64(k.Opacity), Front: k.Colour(press.Front), Back: k.Colour(press.Back)}}
	if j := h.s.Job; j != nil {
		t.Product.Bleed = float64(j.Bleed)
		t.Product.Foot = j.Sheets != nil && j.Sheets.Backs == press.BacksFoot
		for name, to := range j.Assign {
			t.Aliases = append(t.Aliases, ticket.Alias{Name: name, Colour: to})
		}
		slices.SortFunc(t.Aliases, func(a, b ticket.Alias) int { return strings.Compare(a.Name, b.Name) })
	}
	if size := h.finished(); size != nil {
		t.Product.Finished = [2]float64{float64(size.Width), float64(size.Height)}
	}
	for _, st := range h.steps {
		for _, s := range st.sides {
			on := &t.Product.Front
			if s.Side == press.Back.String() {
				on = &t.Product.Back
			}
			for _, name := range s.Toners {
				if !slices.Contains(*on, name) {
					*on = append(*on, name)
				}
			}
		}
		for _, name := range st.pass.Toners {
			if !slices.ContainsFunc(t.Colours, func(c ticket.Colour) bool { return c.Name == name }) {
				t.Colours = append(t.Colours, h.colour(name))
			}
		}
	}
	if h.total <= fewPages {
		for _, f := range h.files {
			if f.Role == handover.RolePicture {
				look, err := named(&f, "image/png")
				if err != nil {
					return nil, err
				}
				t.Looks = append(t.Looks, *look)
			}
		}
	}
	return t, nil
}

// finished is the trimmed size, as the job or the sheets tell it; nil = not known.
func (h *handing) finished() *press.Size {
	if h.s.Job != nil && h.s.Job.Finished != nil {
		return h.s.Job.Finished
	}
	if len(h.steps) > 0 && h.steps[0].sheets != nil {
		p := h.steps[0].sheets.Piece
		return &press.Size{Width: press.Length(p.W), Height: press.Length(p.H)}
	}
	return nil
}

func (h *handing) colour(name string) ticket.Colour {
	c := ticket.Colour{Name: name, Kind: ticket.KindSpot}
	t, ok := h.s.Press.Toner(name)
	if !ok {
		return c
	}
	c.Kind = t.Kind.String()
	cmyk := [4]float64{}
	for i, v := range t.StandIn {
		cmyk[i] = float64(v)
	}
	c.CMYK = &cmyk
	if h.s.Job != nil {
		for _, u := range h.s.Job.Wishes.Underlay {
			c.Under = c.Under || u.Toner == name
		}
	}
	return c
}

// onSheets fills in sheet, grain and how many sheets go in and come out: what a later pass spoils has to come out of this one.
func (h *handing) onSheets(t *ticket.Ticket, number int, o *SheetsOutcome) {
	if o == nil {
		return
	}
	y := o.Yield
	t.Sheet, t.Grain = [2]float64{y.Sheet.W, y.Sheet.H}, string(y.Sheet.Grain)
	if p := o.Passes[number-1]; p.Out > 0 {
		t.Good, t.Waste = p.Out, p.In-p.Out
	}
}

// maxSurfaces told in a ticket; more have their pages in the imposed file alone.
const maxSurfaces = 64

// workStyles are the words of XJDF for the schemes of sheets.
var workStyles = map[sheet.Scheme]string{sheet.OneSided: "Simplex", sheet.SheetWise: "WorkAndBack", sheet.WorkAndTurn: "WorkAndTurn", sheet.WorkAndTumble: "WorkAndTumble"}

// surfaces tells how pages lie on the sheets of a pass.
func (h *handing) surfaces(number int, st *step) (out []ticket.Surface, err error) {
	if st.sheets == nil || st.sheets.plan == nil || 2*st.sheets.plan.Count > maxSurfaces {
		return nil, nil
	}
	art, err := (&Setup{Password: h.s.Password}).Open(st.content.Path)
	if err != nil {
		return nil, err
	}
	defer art.Close()
	p := st.sheets.plan
	for i := range p.Count {
		sh := p.Sheet(i)
		for k, side := range []*sheet.Side{&sh.Front, sh.Back} {
			if side == nil {
				continue
			}
			s := ticket.Surface{Sheet: sh.Number, Back: k == 1, Style: workStyles[sh.Scheme], Size: [2]float64{sh.W * geom.PointsPerMM, sh.H * geom.PointsPerMM}}
			switch {
			case st.sheets.Records != nil:
				s.Run = sh.Run
			case h.quantity() > 0:
				s.Run = st.sheets.came[i][number-1]
			}
			for _, pl := range side.Placements {
				placed, err := art.placed(&pl, sh.H)
				if err != nil {
					return nil, err
				}
				s.Placed = append(s.Placed, *placed)
			}
			out = append(out, s)
		}
	}
	return out, nil
}

// placed is a page on a surface, in points from its lower left corner.
func (a *Artwork) placed(pl *sheet.Placement, sheetH float64) (*ticket.Placed, error) {
	src, err := a.Doc.Page(pl.Page)
	if err != nil {
		return nil, noPage(pl.Page, a.Doc.NumPages())
	}
	toList := interp.PageMatrix(src)
	box := src.CropBox
	if src.TrimBox != nil {
		box = *src.TrimBox
	}
	trim := toList.Bounds(geom.RectOf(box[0], box[1], box[2], box[3]))
	six := func(m geom.Matrix) [6]float64 { return [6]float64{m.A, m.B, m.C, m.D, m.E, m.F} }
	// The trim's own space has its origin at the lower left corner, y up.
	fromTrim := geom.Matrix{A: 1, D: -1, E: trim.X0, F: trim.Y1}
	const pt = geom.PointsPerMM
	return &ticket.Placed{Page: pl.Page, CTM: six(sheets.OnSheet(toList, trim, *pl, sheetH)), TrimCTM: six(sheets.OnSheet(fromTrim, trim, *pl, sheetH)),
		Trim: [2]float64{trim.W(), trim.H()}, Clip: [4]float64{pl.Clip.X * pt, (sheetH - pl.Clip.Y - pl.Clip.H) * pt, (pl.Clip.X + pl.Clip.W) * pt, (sheetH - pl.Clip.Y) * pt}}, nil
}
