// Package web serves the page on which artwork is looked at, checked and mended, and what the page asks for: documents with
// their versions, tiles, jobs, events (docs/api.md). It speaks to the steps through app alone.
//
// The server is for one person on one machine: it listens on the loopback, answers to no foreign host name or origin, and asks
// for the token of this run. Files that come are kept in a private folder and go with the server.
package web

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"

	"laydown/internal/app"
	"laydown/internal/web/ui"
)

// Options of a server. The zero value serves the page that travels with the program to the loopback.
type Options struct {
	Hosts []string // names besides those of the loopback by which the server may be called
	Token string   // every request must show; "" = one is made
	Dir   string   // sources of the page, bundled anew for every request; "" = those in the program
	Temp  string   // where the private folder is made; "" = the system's folder for temporary files

	MaxUpload    int64         // bytes of a file; 0 = DefaultUpload
	MaxArtworks  int           // open at a time
	MaxVersions  int           // of an artwork
	MaxJobs      int           // that wait
	MaxListeners int           // open event streams
	MaxRequests  int           // worked on at a time, event streams not counted
	Parallel     int           // jobs that run at a time
	CacheBytes   int64         // of painted plates; 0 = app.BenchCacheBytes
	Idle         time.Duration // after which an artwork nobody asks for is closed
}

// DefaultUpload is the largest file taken unless told otherwise.
const DefaultUpload = 512 << 20

func (o *Options) fill() {
	if o.Token == "" {
		b := make([]byte, 24)
		_, _ = rand.Read(b) // never fails
		o.Token = base64.RawURLEncoding.EncodeToString(b)
	}
	for _, d := range []struct {
		v  *int
		or int
	}{{&o.MaxArtworks, 16}, {&o.MaxVersions, 64}, {&o.MaxJobs, 32}, {&o.MaxListeners, 24}, {&o.MaxRequests, 96}, {&o.Parallel, 2}} {
		if *d.v <= 0 {
			*d.v = d.or
		}
	}
	if o.MaxUpload <= 0 {
		o.MaxUpload = DefaultUpload
	}
	if o.Idle <= 0 {
		o.Idle = 24 * time.Hour
	}
}

// Bounds that are no options.
const (
	maxUploads  = 4       // on their way at a time
	jobsKept    = 40      // with their results
	madeKept    = 4 << 30 // bytes of files made
	idlePause   = 5 * time.Minute
	maxConns    = 256
	headerBytes = 32 << 10
)

// Server answers the page.
type Server struct {
	opt     Options
	assets  *assets
	folder  *folder
	routes  []route
	guard   http.Handler
	hub     hub
	queue   *queue
	benches benches
	uploads chan struct{}
	flights chan struct{} // requests worked on
	closing chan struct{}
	closed  sync.Once
	times   times
	dpi     float64 // of checks, proofs and what is made

	// settling is held from finding out what words mean until artworks have it, so that no older meaning comes last.
	settling sync.Mutex

	mu       sync.Mutex
	artworks map[string]*artwork
	order    []string // of opening
	coming   int      // artworks about to be opened
	drafts   []*draft
	drafted  int
}

// New bundles the page and makes a server with its private folder. The error names the place in the sources of the page that is
// at fault. The caller must Close the server.
func New(o Options) (*Server, error) {
	o.fill()
	var src fs.FS = ui.Files
	if o.Dir != "" {
		src = os.DirFS(o.Dir)
	}
	s := &Server{opt: o, dpi: app.DefaultDPI, times: usualTimes, artworks: map[string]*artwork{}, uploads: make(chan struct{}, maxUploads), flights: make(chan struct{}, o.MaxRequests), closing: make(chan struct{})}
	s.benches.cache = app.NewBenchCache(o.CacheBytes)
	s.queue = &queue{parallel: o.Parallel, length: o.MaxJobs, kept: jobsKept, room: madeKept, tell: func(j job) { s.hub.tell("job", j) }}
	var err error
	if s.assets, err = newAssets(src, o.Dir != ""); err != nil {
		return nil, err
	}
	if s.folder, err = newFolder(o.Temp); err != nil {
		return nil, err
	}
	s.routes = s.table()
	mux := http.NewServeMux()
	for _, r := range s.routes {
		mux.Handle(r.pattern, r.handle)
	}
	mux.Handle("/", call(s.unknownAddress(mux)))
	s.guard = s.guarded(mux)
	go s.tidy()
	return s, nil
}

// tidy closes artworks nobody asks for.
func (s *Server) tidy() {
	t := time.NewTicker(idlePause)
	defer t.Stop()
	for {
		select {
		case now := <-t.C:
			s.idle(now)
		case <-s.closing:
			return
		}
	}
}

// Handler answers requests, guards included.
func (s *Server) Handler() http.Handler { return s.guard }

// Token is what requests must show.
func (s *Server) Token() string { return s.opt.Token }

// Address is what a person opens, for a server that listens at addr.
func (s *Server) Address(addr net.Addr) string {
	host := addr.String()
	if t, ok := addr.(*net.TCPAddr); ok && !t.IP.IsLoopback() {
		name := "localhost"
		if len(s.opt.Hosts) > 0 {
			name = s.opt.Hosts[0] // the number is not a name the server answers to
		}
		host = net.JoinHostPort(name, fmt.Sprint(t.Port))
	}
	return fmt.Sprintf("http://%s/?key=%s", host, s.opt.Token)
}

// Times a client may take. Uploads, downloads and event streams set their own.
const (
	headerTime   = 10 * time.Second
	idleTime     = 2 * time.Minute
	shutdownTime = 5 * time.Second
)

// Serve answers on l until ctx ends; event streams and jobs then end at once, other answers have a few seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := &http.Server{Handler: s.guard, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: headerBytes}
	down := make(chan struct{})
	ended := context.AfterFunc(ctx, func() {
		defer close(down)
		s.end()
		late, cancel := context.WithTimeout(context.Background(), shutdownTime)
		defer cancel()
		if h.Shutdown(late) != nil {
			h.Close()
		}
	})
	err := h.Serve(newLimited(l, maxConns))
	if !errors.Is(err, http.ErrServerClosed) {
		ended()
		return err
	}
	<-down
	return nil
}

// end stops what goes on by itself.
func (s *Server) end() {
	s.closed.Do(func() {
		close(s.closing)
		s.hub.close()
		s.queue.close()
	})
}

// Close stops what is under way and removes the private folder with all files in it.
func (s *Server) Close() error {
	s.end()
	s.benches.drop(func(*openBench) bool { return true })
	return s.folder.close()
}

// stateAnswer is what the page begins with.
type stateAnswer struct {
	Version  string           `json:"version"`
	Limits   limitsAnswer     `json:"limits"`
	Artworks []*artworkAnswer `json:"artworks"`
	Drafts   []*draft         `json:"drafts"`
	Jobs     []job            `json:"jobs"`
}

type limitsAnswer struct {
	Upload   int64 `json:"upload_bytes"`
	Artworks int   `json:"artworks"`
	Versions int   `json:"versions"`
	Drafts   int   `json:"drafts"`
	Waiting  int   `json:"jobs_waiting"`
}

func (s *Server) stateNow() *stateAnswer {
	out := &stateAnswer{Version: app.Version(), Artworks: []*artworkAnswer{}, Drafts: s.draftList(), Jobs: s.queue.list(),
		Limits: limitsAnswer{s.opt.MaxUpload, s.opt.MaxArtworks, s.opt.MaxVersions, maxDrafts, s.opt.MaxJobs}}
	for _, a := range s.open() {
		out.Artworks = append(out.Artworks, a.answer())
	}
	return out
}

func (s *Server) state(w http.ResponseWriter, _ *http.Request) error {
	return answer(w, http.StatusOK, s.stateNow())
}

// unknownAddress answers what no route does; mux knows the routes.
func (s *Server) unknownAddress(mux *http.ServeMux) func(http.ResponseWriter, *http.Request) error {
	return func(w http.ResponseWriter, r *http.Request) error {
		var takes []string
		for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
			if _, pattern := mux.Handler(&http.Request{Method: m, URL: r.URL, Host: r.Host}); pattern != "/" && pattern != "" {
				takes = append(takes, m)
			}
		}
		if takes != nil {
			w.Header().Set("Allow", strings.Join(takes, ", "))
			return refuse(http.StatusMethodNotAllowed, "this address takes no "+r.Method, "it takes "+strings.Join(takes, " and "))
		}
		return refuse(http.StatusNotFound, "there is nothing at this address", "docs/api.md lists what can be asked for")
	}
}
