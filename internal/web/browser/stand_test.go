package browser

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/evanw/esbuild/pkg/api"

	"laydown/internal/app"
	"laydown/internal/demo"
)

// The stand is a bare page with the viewer and nothing else, so that what is measured is the viewer's.

const standPage = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>stand</title><link rel="icon" href="data:,">
<style>body{margin:0}#sheet{display:block;width:100vw;height:100vh;--bench:#808080}
#edge{position:absolute;left:0;bottom:0;width:100vw;height:150px;display:none;color:#222;background-color:#b8b8b8}</style></head>
<body><canvas id="sheet"></canvas><canvas id="edge"></canvas><script type="module" src="/stand.js"></script></body></html>`

var standScript = sync.OnceValues(func() ([]byte, error) {
	r := api.Build(api.BuildOptions{EntryPoints: []string{"testdata/stand.ts"}, Bundle: true, Write: false, Format: api.FormatESModule,
		Target: api.ES2022, Outdir: "out", Sourcemap: api.SourceMapInline})
	if len(r.Errors) > 0 {
		return nil, errors.New(strings.Join(api.FormatMessages(r.Errors, api.FormatMessagesOptions{}), ""))
	}
	return r.OutputFiles[0].Contents, nil
})

// refusal is an error that is answered with its status.
type refusal int

func (r refusal) Error() string { return http.StatusText(int(r)) }

// tileFunc gives the bytes of a tile; nil: nothing lies there.
type tileFunc func(r *http.Request, page, level, x, y int) ([]byte, error)

// serveStand serves the bare page, pages as JSON and tiles.
func serveStand(t testing.TB, page func(n int) (any, error), row func(n int, y, x0, x1 float64, steps int) (any, error), tile tileFunc) *httptest.Server {
	t.Helper()
	script, err := standScript()
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprint(w, standPage)
	})
	mux.HandleFunc("GET /stand.js", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
		w.Write(script)
	})
	tell := func(w http.ResponseWriter, v any, err error) {
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		json.NewEncoder(w).Encode(v)
	}
	mux.HandleFunc("GET /page/{n}", func(w http.ResponseWriter, r *http.Request) {
		n, _ := strconv.Atoi(r.PathValue("n"))
		p, err := page(n)
		tell(w, p, err)
	})
	mux.HandleFunc("GET /page/{n}/row", func(w http.ResponseWriter, r *http.Request) {
		n, _ := strconv.Atoi(r.PathValue("n"))
		number := func(name string) float64 { v, _ := strconv.ParseFloat(r.FormValue(name), 64); return v }
		v, err := row(n, number("y"), number("x0"), number("x1"), int(number("n")))
		tell(w, v, err)
	})
	mux.HandleFunc("GET /api/tiles/{id}/{rev}/{page}/{level}/{x}/{y}", func(w http.ResponseWriter, r *http.Request) {
		var n [4]int
		for i, name := range []string{"page", "level", "x", "y"} {
			n[i], _ = strconv.Atoi(r.PathValue(name))
		}
		b, err := tile(r, n[0], n[1], n[2], n[3])
		var refused refusal
		switch {
		case errors.As(err, &refused):
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(int(refused))
			fmt.Fprint(w, `{"error":{"what":"refused"}}`)
			return
		case r.Context().Err() != nil:
			return
		case err != nil:
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		case b == nil:
			w.WriteHeader(http.StatusNoContent)
			return
		}
		w.Header().Set("Content-Type", "application/octet-stream")
		w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
		if len(b) == 12*(1+256*256) { // noise: nothing to gain
			w.Write(b)
			return
		}
		w.Header().Set("Content-Encoding", "deflate")
		z, _ := zlib.NewWriterLevel(w, zlib.BestSpeed)
		z.Write(b)
		z.Close()
	})
	s := httptest.NewServer(mux)
	t.Cleanup(s.Close)
	return s
}

// ticket is the example job, open on a bench and as a file.
type ticket struct {
	file  string
	setup *app.Setup
	bench *app.Bench
}

// shared is the ticket as its job has it, open for all tests.
var shared = sync.OnceValues(func() (*ticket, error) {
	dir, err := os.MkdirTemp("", "ticket")
	if err != nil {
		return nil, err
	}
	closers = append(closers, func() { os.RemoveAll(dir) })
	return newTicket(dir, nil)
})

// closers run after the last test.
var closers []func()

// openTicket opens the ticket, with another setup if it is changed.
func openTicket(t testing.TB, change func(*app.Setup)) *ticket {
	t.Helper()
	k, err := shared()
	if change != nil {
		k, err = newTicket(t.TempDir(), change)
	}
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		t.Cleanup(func() { k.bench.Close() })
	}
	return k
}

func newTicket(dir string, change func(*app.Setup)) (*ticket, error) {
	k := &ticket{file: filepath.Join(dir, "ticket.pdf")}
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, false); err != nil {
		return nil, err
	}
	job := filepath.Join(dir, "job.yaml")
	for file, data := range map[string][]byte{k.file: b.Bytes(), job: []byte(demo.JobYAML())} {
		if err := os.WriteFile(file, data, 0o644); err != nil {
			return nil, err
		}
	}
	var err error
	if k.setup, err = app.NewSetup(app.SetupOptions{Job: job}); err != nil {
		return nil, err
	}
	if change != nil {
		change(k.setup)
	}
	k.bench, err = app.OpenBench(k.file, k.setup, app.NewBenchCache(0))
	return k, err
}

// serve shows the ticket on the stand. What shows through from the other side is left out, as look --alone does.
func (k *ticket) serve(t testing.TB) *httptest.Server {
	t.Helper()
	return serveStand(t, func(n int) (any, error) { return k.bench.Page(context.Background(), n) },
		func(n int, y, x0, x1 float64, steps int) (any, error) {
			return k.bench.Row(context.Background(), n, y, x0, x1, steps)
		},
		func(r *http.Request, page, level, x, y int) ([]byte, error) {
			p, err := k.bench.Page(r.Context(), page)
			if err != nil {
				return nil, err
			}
			view := app.LookView{}
			if off := r.URL.Query()["off"]; len(off) > 0 {
				view = p.View(off)
			}
			view.Alone = true
			view.Through = r.URL.Query().Get("through") != ""
			return k.bench.Tile(r.Context(), page, view, level, x, y)
		})
}
