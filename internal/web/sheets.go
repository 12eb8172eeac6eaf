package web

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"

	"laydown/internal/app"
	"laydown/internal/press"
)

// asked tells which state of which artwork a request means.
func (s *Server) asked(r *http.Request, rev string) (*artwork, seen, error) {
	a, err := s.find(r)
	if err != nil {
		return nil, seen{}, err
	}
	at, err := a.find(rev)
	return a, at, err
}

// number reads a whole number of the address.
func number(r *http.Request, name string) (int, error) {
	n, err := strconv.Atoi(r.PathValue(name))
	if err != nil {
		return 0, refuse(http.StatusNotFound, fmt.Sprintf("%q is no number", r.PathValue(name)), "docs/api.md lists what can be asked for")
	}
	return n, nil
}

// cachedForEver is for what is true as long as its address is.
const cachedForEver = "private, max-age=31536000, immutable"

// page tells of a page what a viewer needs.
func (s *Server) page(w http.ResponseWriter, r *http.Request) error {
	n, err := number(r, "page")
	if err != nil {
		return err
	}
	a, at, err := s.asked(r, r.URL.Query().Get("rev"))
	if err != nil {
		return err
	}
	p, err := onBench(r.Context(), s, a, at, func(b *app.Bench) (*app.BenchPage, error) { return b.Page(r.Context(), n) })
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, struct {
		Rev string `json:"rev"`
		*app.BenchPage
	}{at.rev, p})
}

// view reads how a page is looked at; off names toners to leave out, each in a parameter of its own.
func view(r *http.Request, p *app.BenchPage) (app.LookView, error) {
	q := r.URL.Query()
	v := p.View(q["off"])
	switch t := q.Get("through"); t {
	case "", "0":
	case "1":
		if !p.Film {
			return v, refuse(http.StatusUnprocessableEntity, "nobody sees through this stock", "leave out through")
		}
		v.Through = true
	default:
		return v, refuse(http.StatusBadRequest, fmt.Sprintf("through is 0 or 1, not %q", t), "")
	}
	if text := q.Get("backing"); text != "" {
		var lab press.Lab
		parts := strings.Split(text, ",")
		bad := len(parts) != len(lab)
		for i := 0; i < len(lab) && !bad; i++ {
			f, err := strconv.ParseFloat(parts[i], 64)
			lab[i], bad = f, err != nil || !(f >= -128 && f <= 128)
		}
		if bad || lab[0] < 0 || lab[0] > 100 {
			return v, refuse(http.StatusBadRequest, fmt.Sprintf("backing is a colour in Lab, not %q", text), "write it as 95,0,-2")
		}
		v.Backing = &lab
	}
	return v, nil
}

// tile answers a tile of maps. Its address holds the state it shows, so that it stays true for ever.
func (s *Server) tile(w http.ResponseWriter, r *http.Request) error {
	var at [4]int
	for i, name := range []string{"page", "level", "x", "y"} {
		var err error
		if at[i], err = number(r, name); err != nil {
			return err
		}
	}
	a, state, err := s.asked(r, r.PathValue("rev"))
	if err != nil {
		return err
	}
	ctx := r.Context()
	data, err := onBench(ctx, s, a, state, func(b *app.Bench) ([]byte, error) {
		p, err := b.Page(ctx, at[0])
		if err != nil {
			return nil, err
		}
		v, err := view(r, p)
		if err != nil {
			return nil, err
		}
		return b.Tile(ctx, at[0], v, at[1], at[2], at[3])
	})
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", cachedForEver)
	if data == nil {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		if data, err = gzipped(data); err != nil {
			return err
		}
		w.Header().Set("Content-Encoding", "gzip")
	}
	w.Header().Set("Vary", "Accept-Encoding")
	sendBytes(w, http.StatusOK, "application/octet-stream", data)
	return nil
}

// packers are made when first asked for, and kept.
var packers = sync.Pool{New: func() any {
	w, err := gzip.NewWriterLevel(nil, 1)
	if err != nil {
		panic(err) // the level is one there is
	}
	return w
}}

func gzipped(data []byte) ([]byte, error) {
	var b bytes.Buffer
	w := packers.Get().(*gzip.Writer)
	defer packers.Put(w)
	w.Reset(&b)
	if _, err := w.Write(data); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
