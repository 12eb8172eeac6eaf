// Package web serves the page on which artwork is looked at, checked and mended, and what the page asks for: documents with
// their versions, tiles, jobs, events (docs/api.md). It speaks to the steps through app alone.
//
// The server is for one person on one machine: it listens on the loopback, answers to no foreign host name or origin, and asks
// for the token of this run.
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
	"time"

	"laydown/internal/app"
	"laydown/internal/web/ui"
)

// Options of a server. The zero value serves the page that travels with the program to the loopback.
type Options struct {
	// Hosts are names besides those of the loopback by which the server may be called.
	Hosts []string
	// Token every request must show; "" = one is made.
	Token string
	// Dir is a folder with the sources of the page, bundled anew for every request; "" = those in the program.
	Dir string
}

// Server answers the page.
type Server struct {
	opt    Options
	assets *assets
	routes []route
	guard  http.Handler
}

// New bundles the page and makes a server. The error names the place in the sources of the page that is at fault.
func New(o Options) (*Server, error) {
	if o.Token == "" {
		b := make([]byte, 24)
		_, _ = rand.Read(b) // never fails
		o.Token = base64.RawURLEncoding.EncodeToString(b)
	}
	var src fs.FS = ui.Files
	if o.Dir != "" {
		src = os.DirFS(o.Dir)
	}
	s := &Server{opt: o}
	var err error
	if s.assets, err = newAssets(src, o.Dir != ""); err != nil {
		return nil, err
	}
	s.routes = s.table()
	mux := http.NewServeMux()
	for _, r := range s.routes {
		mux.Handle(r.pattern, r.handle)
	}
	s.guard = s.guarded(mux)
	return s, nil
}

// Handler answers requests, guards included.
func (s *Server) Handler() http.Handler { return s.guard }

// Token is what requests must show.
func (s *Server) Token() string { return s.opt.Token }

// Address is what a person opens, for a server that listens at addr.
func (s *Server) Address(addr net.Addr) string {
	return fmt.Sprintf("http://%s/?key=%s", addr, s.opt.Token)
}

// Times a client may take. Long uploads and event streams set their own deadlines.
const (
	headerTime   = 10 * time.Second
	idleTime     = 2 * time.Minute
	shutdownTime = 5 * time.Second
	headerBytes  = 32 << 10
)

// Serve answers on l until ctx ends, then lets running answers finish for a few seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := &http.Server{Handler: s.guard, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: headerBytes}
	ended := context.AfterFunc(ctx, func() {
		late, cancel := context.WithTimeout(context.Background(), shutdownTime)
		defer cancel()
		if h.Shutdown(late) != nil {
			h.Close()
		}
	})
	defer ended()
	if err := h.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Close releases what the server holds.
func (s *Server) Close() error { return nil }

// state is what the page asks for first.
func (s *Server) state(w http.ResponseWriter, _ *http.Request) error {
	return answer(w, http.StatusOK, map[string]any{"version": app.Version()})
}
