package web

import (
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"html"
	"io"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"slices"
	"strings"
	"time"
)

// contentPolicy lets the page load from this server alone and nothing run that is written into it.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// guarded puts the guards before h: headers, host, origin, token.
func (s *Server) guarded(h http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		sayFault(w, refuse(http.StatusForbidden, "the request comes from another site", "use the page at the address the program printed"))
	}))
	h = cross.Handler(s.known(s.counted(h)))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", contentPolicy)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", "no-referrer")
		head.Set("Cross-Origin-Opener-Policy", "same-origin")
		head.Set("Cross-Origin-Resource-Policy", "same-origin")
		head.Set("Cross-Origin-Embedder-Policy", "require-corp")
		head.Set("X-Frame-Options", "DENY")
		head.Set("Cache-Control", "no-store")
		rc := http.NewResponseController(w)
		_ = rc.SetWriteDeadline(time.Now().Add(s.times.answer))
		if r.ContentLength != 0 {
			// What comes must come soon; who reads a long body sets another time.
			_ = rc.SetReadDeadline(time.Now().Add(s.times.json))
			if r.Method == http.MethodGet || r.Method == http.MethodHead || r.Method == http.MethodDelete {
				head.Set("Connection", "close")
				sayFault(w, refuse(http.StatusBadRequest, "a "+r.Method+" carries nothing", "leave out the body"))
				return
			}
		}
		if !s.hosted(r.Host) {
			head.Set("Connection", "close")
			sayFault(w, refuse(http.StatusMisdirectedRequest, "this server does not go by that name", "use the address the program printed, or name the host with --allow-host"))
			return
		}
		h.ServeHTTP(w, r)
	})
}

// counted refuses requests beyond as many as are worked on at a time.
func (s *Server) counted(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != eventsPath {
			select {
			case s.flights <- struct{}{}:
				defer func() { <-s.flights }()
			default:
				w.Header().Set("Retry-After", "1")
				sayFault(w, refuse(http.StatusServiceUnavailable, "too much is asked for at a time", "ask again in a while"))
				return
			}
		}
		defer func() {
			if v := recover(); v != nil && v != http.ErrAbortHandler {
				sayFault(w, faultOf(fmt.Errorf("internal fault: %v\n%s", v, debug.Stack())))
			} else if v != nil {
				panic(v)
			}
		}()
		h.ServeHTTP(w, r)
	})
}

// hosted tells whether the server may be called by this host, with or without port. A name that only points to the loopback
// is refused: a foreign page could be behind it (DNS rebinding).
func (s *Server) hosted(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if host == "localhost" || slices.Contains(s.opt.Hosts, host) {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.IsLoopback()
}

// cookieName holds the port, since cookies are shared by all ports of a host.
func cookieName(r *http.Request) string {
	if _, port, err := net.SplitHostPort(r.Host); err == nil {
		return "laydown-" + port
	}
	return "laydown"
}

// known asks for the token: in the Authorization header, in the cookie, or once in the address, which sets the cookie.
func (s *Server) known(h http.Handler) http.Handler {
	want := sha256.Sum256([]byte(s.opt.Token))
	right := func(token string) bool {
		got := sha256.Sum256([]byte(token))
		return subtle.ConstantTimeCompare(got[:], want[:]) == 1
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if key := r.URL.Query().Get("key"); key != "" && r.URL.Path == "/" && r.Method == http.MethodGet {
			if right(key) {
				http.SetCookie(w, &http.Cookie{Name: cookieName(r), Value: s.opt.Token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
				if site := r.Header.Get("Sec-Fetch-Site"); site == "cross-site" || site == "same-site" {
					// A strict cookie does not go along when another page leads here; from a page of our own it does.
					w.Header().Set("Content-Type", "text/html; charset=utf-8")
					_, _ = io.WriteString(w, leadOn("/"))
					return
				}
				http.Redirect(w, r, "/", http.StatusSeeOther)
				return
			}
			s.unknown(w, r)
			return
		}
		if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok && right(bearer) {
			h.ServeHTTP(w, r)
			return
		}
		if c, err := r.Cookie(cookieName(r)); err == nil && right(c.Value) {
			h.ServeHTTP(w, r)
			return
		}
		s.unknown(w, r)
	})
}

// leadOn is a page that leads on to another. It names an empty picture of itself, so that no browser asks for one.
func leadOn(to string) string {
	to = html.EscapeString(to)
	return `<!doctype html><html lang="en"><meta charset="utf-8"><title>laydown</title><link rel="icon" href="data:,"><meta http-equiv="refresh" content="0;url=` + to + `"><a href="` + to + `">Go on</a></html>` + "\n"
}

// unknown answers who shows no token, or a wrong one.
func (s *Server) unknown(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Connection", "close")
	const what, remedy = "this page belongs to whoever started the program", "open the address it printed, with its key"
	if strings.HasPrefix(r.URL.Path, "/api/") {
		w.Header().Set("WWW-Authenticate", "Bearer")
		sayFault(w, refuse(http.StatusUnauthorized, what, remedy))
		return
	}
	http.Error(w, "This page belongs to whoever started the program; "+remedy+".", http.StatusUnauthorized)
}
