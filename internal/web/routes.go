package web

import "net/http"

// route is one address of the server; pattern is http.ServeMux's.
type route struct {
	pattern string
	handle  http.Handler
}

// table lists all addresses; docs/api.md tells what each answers.
func (s *Server) table() []route {
	return []route{
		{"GET /{$}", s.assets.file("index.html")},
		{"GET /app.js", s.assets.file("app.js")},
		{"GET /app.css", s.assets.file("app.css")},
		{"GET /api/state", call(s.state)},
	}
}
