package web

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"time"

	"laydown/internal/app"
	"laydown/internal/press"
)

// making is something being made in a folder, to be handed out as one file.
type making struct {
	ctx   context.Context
	at    seen
	dpi   float64
	told  app.Progress
	named string // pages, as asked for
	pages []int
	dir   string
}

// makers fill the folder, by kind.
var makers = map[string]func(*making) error{
	"report":   (*making).report,
	"plates":   (*making).plates,
	"pictures": (*making).pictures,
	"package":  (*making).pack,
}

func (m *making) report() error {
	_, err := app.Prepare(m.ctx, app.PrepareRequest{File: m.at.file, Setup: m.at.settled.setup, Out: m.dir, Pages: m.named, DPI: m.dpi, FailOn: failOn, Progress: m.told})
	return err
}

func (m *making) plates() error {
	_, err := app.WritePlates(m.ctx, app.PlatesRequest{File: m.at.file, Setup: m.at.settled.setup, Out: m.dir, Pages: m.named, DPI: m.dpi, Box: app.BoxWork, Progress: m.told})
	return err
}

// pictures shows each page: the sheet as measured and under a lamp, and how much toner lies where.
func (m *making) pictures() error {
	for i, p := range m.pages {
		m.told("page", i, len(m.pages))
		req := app.LookRequest{File: m.at.file, Setup: m.at.settled.setup, Page: p, DPI: m.dpi, Box: app.BoxWork,
			Out: m.name("page-%d.png", p), Amounts: m.name("page-%d-amounts.png", p)}
		if _, err := app.WriteLook(m.ctx, req); err != nil {
			return err
		}
		req.Out, req.Amounts, req.View.Lit = m.name("page-%d-lit.png", p), "", true
		if _, err := app.WriteLook(m.ctx, req); err != nil {
			return err
		}
	}
	return nil
}

func (m *making) name(format string, page int) string {
	return filepath.Join(m.dir, fmt.Sprintf(format, page))
}

// pack puts together all that somebody else needs to run the job: artwork, definitions, job, report with plates and pictures.
func (m *making) pack() error {
	if err := m.report(); err != nil {
		return err
	}
	if err := copyFile(m.at.file, filepath.Join(m.dir, "artwork.pdf")); err != nil {
		return err
	}
	s := m.at.settled
	job := &press.Job{Artwork: "artwork.pdf"}
	if s.setup.Job != nil {
		c := *s.setup.Job
		job = &c
		job.Artwork = "artwork.pdf"
	}
	pressText := s.press
	if p := s.setup.Press; p != nil {
		c := *p
		named := false
		for _, f := range []struct {
			as string
			in *string
		}{{"profile", &c.Profile}, {"characterisation", &c.Characterisation}} {
			if *f.in == "" {
				continue
			}
			// Its text names a file that is found on this machine alone: it goes along, under a name of its own.
			name := f.as + filepath.Ext(*f.in)
			if err := copyFile(*f.in, filepath.Join(m.dir, name)); err != nil {
				return err
			}
			*f.in, named = name, true
		}
		if named {
			b, err := press.Marshal(&c)
			if err != nil {
				return err
			}
			pressText = string(b)
		}
	}
	for _, d := range []struct {
		name, text string
		v          any
		there      bool
		in         *string
	}{{"press.yaml", pressText, s.setup.Press, s.setup.Press != nil, &job.Press}, {"stock.yaml", s.stock, s.setup.Stock, s.setup.Stock != nil, &job.Stock}} {
		if !d.there {
			continue
		}
		if d.text == "" {
			b, err := press.Marshal(d.v)
			if err != nil {
				return err
			}
			d.text = string(b)
		}
		if err := os.WriteFile(filepath.Join(m.dir, d.name), []byte(d.text), 0o600); err != nil {
			return err
		}
		*d.in = "./" + d.name
	}
	if job.Press == "" || job.Stock == "" {
		return nil // a job names both
	}
	b, err := press.Marshal(job)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(m.dir, "job.yaml"), b, 0o600)
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if _, err = io.Copy(out, in); err != nil {
		out.Close()
		return err
	}
	return out.Close()
}

// zipDate stands on every file of an archive, so that the same work makes the same bytes; the format knows no earlier year.
var zipDate = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// zipFolder writes the files of a folder into an archive, by name, and returns its size.
func zipFolder(ctx context.Context, dir, file string) (int64, error) {
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return 0, err
	}
	z := zip.NewWriter(f)
	src := os.DirFS(dir)
	err = fs.WalkDir(src, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		h := &zip.FileHeader{Name: p, Method: zip.Deflate, Modified: zipDate}
		if path.Ext(p) == ".png" {
			h.Method = zip.Store // smaller it does not get
		}
		w, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		in, err := src.Open(p)
		if err != nil {
			return err
		}
		defer in.Close()
		_, err = io.Copy(w, in)
		return err
	})
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		f.Close()
		return 0, err
	}
	st, err := f.Stat()
	if err != nil {
		f.Close()
		return 0, err
	}
	return st.Size(), f.Close()
}
