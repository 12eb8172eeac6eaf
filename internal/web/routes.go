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
		{"GET /favicon.ico", noPicture},

		{"GET /api/state", call(s.state)},
		{"GET /api/events", call(s.events)},
		{"GET /api/presses", call(s.presses)},
		{"GET /api/stocks", call(s.stocks)},
		{"GET /api/rules", call(s.rules)},
		{"GET /api/remedies", call(s.remedies)},

		{"POST /api/artworks", call(s.upload)},
		{"POST /api/example", call(s.example)},
		{"GET /api/artworks/{id}", call(s.artwork)},
		{"PUT /api/artworks/{id}/setup", call(s.setSetup)},
		{"PUT /api/artworks/{id}/at", call(s.setAt)},
		{"DELETE /api/artworks/{id}", call(s.closeArtwork)},
		{"GET /api/artworks/{id}/file", call(s.file)},
		{"GET /api/artworks/{id}/findings", call(s.findings)},
		{"GET /api/artworks/{id}/proof", call(s.proof)},

		{"GET /api/artworks/{id}/pages/{page}", call(s.page)},
		{"GET /api/artworks/{id}/pages/{page}/thumb.png", call(s.thumb)},
		{"GET /api/artworks/{id}/pages/{page}/at", call(s.point)},
		{"GET /api/artworks/{id}/pages/{page}/row", call(s.row)},
		{"GET /api/artworks/{id}/pages/{page}/alike", call(s.likeness)},
		{"GET /api/artworks/{id}/pages/{page}/chosen", call(s.chosen)},
		{"GET /api/tiles/{id}/{rev}/{page}/{level}/{x}/{y}", call(s.tile)},

		{"POST /api/artworks/{id}/check", call(s.check)},
		{"POST /api/artworks/{id}/plan", call(s.plan)},
		{"POST /api/artworks/{id}/try", call(s.try)},
		{"DELETE /api/artworks/{id}/try", call(s.untry)},
		{"POST /api/artworks/{id}/mend", call(s.mend)},
		{"POST /api/artworks/{id}/make", call(s.make)},
		{"GET /api/jobs/{id}", call(s.job)},
		{"DELETE /api/jobs/{id}", call(s.stopJob)},
		{"GET /api/jobs/{id}/file", call(s.jobFile)},
		{"GET /api/jobs/{id}/report", call(s.jobReport)},

		{"POST /api/drafts", call(s.newDraft)},
		{"GET /api/drafts/{id}", call(s.getDraft)},
		{"PUT /api/drafts/{id}", call(s.setDraft)},
		{"GET /api/drafts/{id}/file", call(s.draftFile)},
		{"DELETE /api/drafts/{id}", call(s.deleteDraft)},
	}
}

// noPicture answers browsers that ask for a picture of a page which names none, such as a result opened by itself.
var noPicture = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
