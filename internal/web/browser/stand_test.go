package browser

import (
	"bytes"
	"compress/zlib"
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
<style>body{margin:0}#sheet{display:block;width:100vw;height:100vh;--bench:#808080}</style></head>
<body><canvas id="sheet"></canvas><script type="module" src="/stand.js"></script></body></html>`

var standScript = sync.OnceValues(func() ([]byte, error) {
	r := api.Build(api.BuildOptions{EntryPoints: []string{"testdata/stand.ts"}, Bundle: true, Write: false, Format: api.FormatESModule,
		Target: api.ES2022, Outdir: "out", Sourcemap: api.SourceMapInline})
	if len(r.Errors) > 0 {
		return nil, errors.New(strings.Join(api.FormatMessages(r.Errors, api.FormatMessagesOptions{}), ""))
	}
	return r.OutputFiles[0].Contents, nil
})

// tileFunc gives the bytes of a tile; nil: nothing lies there.
type tileFunc func(r *http.Request, page, level, x, y int) ([]byte, error)

// serveStand serves the bare page, pages as JSON and tiles.
func serveStand(t testing.TB, page func(n int) (any, error), tile tileFunc) *httptest.Server {
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
	mux.HandleFunc("GET /page/{n}", func(w http.ResponseWriter, r *http.Request) {
		n, _ := strconv.Atoi(r.PathValue("n"))
		p, err := page(n)
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		json.NewEncoder(w).Encode(p)
	})
	mux.HandleFunc("GET /api/tiles/{id}/{rev}/{page}/{level}/{x}/{y}", func(w http.ResponseWriter, r *http.Request) {
		var n [4]int
		for i, name := range []string{"page", "level", "x", "y"} {
			n[i], _ = strconv.Atoi(r.PathValue(name))
		}
		b, err := tile(r, n[0], n[1], n[2], n[3])
		switch {
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
		w.Header().Set("Content-Encoding", "deflate")
		w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
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

func openTicket(t testing.TB, change func(*app.Setup)) *ticket {
	t.Helper()
	dir := t.TempDir()
	k := &ticket{file: filepath.Join(dir, "ticket.pdf")}
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, false); err != nil {
		t.Fatal(err)
	}
	job := filepath.Join(dir, "job.yaml")
	for file, data := range map[string][]byte{k.file: b.Bytes(), job: []byte(demo.JobYAML())} {
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var err error
	if k.setup, err = app.NewSetup(app.SetupOptions{Job: job}); err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(k.setup)
	}
	if k.bench, err = app.OpenBench(k.file, k.setup, app.NewBenchCache(0)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { k.bench.Close() })
	return k
}

// serve shows the ticket on the stand. What shows through from the other side is left out, as look --alone does.
func (k *ticket) serve(t testing.TB) *httptest.Server {
	return serveStand(t, func(n int) (any, error) { return k.bench.Page(t.Context(), n) },
		func(r *http.Request, page, level, x, y int) ([]byte, error) {
			p, err := k.bench.Page(r.Context(), page)
			if err != nil {
				return nil, err
			}
			view := app.LookView{}
			if off := r.URL.Query().Get("off"); off != "" {
				view = p.View(strings.Split(off, ","))
			}
			view.Alone = true
			view.Through = r.URL.Query().Get("through") != ""
			return k.bench.Tile(r.Context(), page, view, level, x, y)
		})
}
