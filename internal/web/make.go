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

// packed is the archive a handover leaves in the folder: it goes out as it is, since its bytes are what its check looks at.
const packed = "handover.zip"

// pack hands the job over: artwork of all passes, sheets, tickets, proof, report, definitions and a letter. What the checks say goes
// along in the letter, since the page has shown it.
func (m *making) pack() error {
	_, err := app.Handover(m.ctx, app.HandoverRequest{File: m.at.file, Setup: m.at.settled.setup, Out: filepath.Join(m.dir, packed), DPI: m.dpi, FailOn: failOn,
		WithFindings: true, Progress: m.told})
	return err
}

// archive puts what was made in one file, and returns its size.
func (m *making) archive(file string) (int64, error) {
	made := filepath.Join(m.dir, packed)
	st, err := os.Stat(made)
	if err != nil {
		return zipFolder(m.ctx, m.dir, file)
	}
	return st.Size(), os.Rename(made, file)
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
