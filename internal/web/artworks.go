package web

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"laydown/internal/app"
)

// find finds an artwork by its id, and marks it as used.
func (s *Server) find(r *http.Request) (*artwork, error) {
	s.mu.Lock()
	a := s.artworks[r.PathValue("id")]
	s.mu.Unlock()
	if a == nil {
		return nil, errGone
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.touched = time.Now()
	return a, nil
}

// open is all artworks in the order of opening.
func (s *Server) open() []*artwork {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make([]*artwork, 0, len(s.order))
	for _, id := range s.order {
		out = append(out, s.artworks[id])
	}
	return out
}

// tellArtwork tells every page what has become of an artwork, and answers the same. Of one that was closed nothing is told any more.
func (s *Server) tellArtwork(a *artwork) *artworkAnswer {
	a.telling.Lock()
	defer a.telling.Unlock()
	a.mu.Lock()
	gone := a.gone
	a.mu.Unlock()
	v := a.answer()
	if !gone {
		s.hub.tell("artwork", v)
	}
	return v
}

// upload takes a file.
func (s *Server) upload(w http.ResponseWriter, r *http.Request) (err error) {
	kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
	switch strings.ToLower(strings.TrimSpace(kind)) {
	case "application/pdf", "application/octet-stream":
	default:
		return refuse(http.StatusUnsupportedMediaType, "artwork is sent as application/pdf", "send the file itself, nothing round it")
	}
	tooLarge := refuse(http.StatusRequestEntityTooLarge, fmt.Sprintf("the file is larger than %s", size(s.opt.MaxUpload)), "start the program with a larger --max-upload, or split the document")
	if r.ContentLength > s.opt.MaxUpload {
		return tooLarge
	}
	q := r.URL.Query()
	words := setupWords{Press: q.Get("press"), Stock: q.Get("stock")}
	in := incoming{name: q.Get("name"), words: words}
	if in.password, err = url.PathUnescape(r.Header.Get("Artwork-Password")); err != nil {
		return refuse(http.StatusBadRequest, "the password cannot be understood", "write it percent-encoded in UTF-8")
	}
	if _, err := s.settle(in.words, "", ""); err != nil {
		return err
	}
	select {
	case s.uploads <- struct{}{}:
		defer func() { <-s.uploads }()
	default:
		return busy(w, "several files are on their way already")
	}
	body := &patient{r: http.MaxBytesReader(w, r.Body, s.opt.MaxUpload), rc: http.NewResponseController(w),
		chunk: s.times.chunk, until: time.Now().Add(s.times.upload)}
	a, err := s.accept(in, func(f io.Writer) error {
		_, err := io.Copy(f, body)
		var most *http.MaxBytesError
		switch {
		case errors.As(err, &most):
			return tooLarge
		case err != nil && body.failed != nil:
			return refuse(http.StatusBadRequest, "the file did not come whole", "send it again")
		}
		return err
	})
	if err != nil {
		return err
	}
	body.rest()
	return s.created(w, a)
}

func (s *Server) created(w http.ResponseWriter, a *artwork) error {
	w.Header().Set("Location", "/api/artworks/"+a.id)
	return answer(w, http.StatusCreated, s.tellArtwork(a))
}

// example opens the example of the program.
func (s *Server) example(w http.ResponseWriter, r *http.Request) error {
	var q struct {
		Faulty bool `json:"faulty"`
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	pdf, job, err := app.Example(q.Faulty)
	if err != nil {
		return err
	}
	name := "ticket.pdf"
	if q.Faulty {
		name = "ticket-faulty.pdf"
	}
	a, err := s.accept(incoming{name: name, words: setupWords{Job: job}}, func(f io.Writer) error {
		_, err := f.Write(pdf)
		return err
	})
	if err != nil {
		return err
	}
	return s.created(w, a)
}

// incoming is a file about to be opened.
type incoming struct {
	name     string
	words    setupWords
	password string
}

// accept writes a file into a folder of its own, opens it to see that it can be read, and adds it.
func (s *Server) accept(in incoming, write func(io.Writer) error) (_ *artwork, err error) {
	a := &artwork{id: newID(), name: label(in.name), password: in.password, touched: time.Now(), at: 1}
	now, err := s.settle(in.words, a.name, in.password)
	if err != nil {
		return nil, err
	}
	if err := s.reserve(); err != nil {
		return nil, err
	}
	defer s.release()
	a.dir = filepath.Join(s.folder.path, a.id)
	if err := os.Mkdir(a.dir, 0o700); err != nil {
		return nil, unkept(err)
	}
	defer func() {
		if err != nil {
			_ = os.RemoveAll(a.dir)
		}
	}()
	v := &version{Title: "as it came", Steps: []string{}, Made: time.Now().UTC().Truncate(time.Second), file: filepath.Join(a.dir, "first.pdf")}
	f, err := os.OpenFile(v.file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, unkept(err)
	}
	err = write(f)
	if v.Bytes, _ = f.Seek(0, io.SeekCurrent); err == nil {
		err = f.Close()
	} else {
		f.Close()
	}
	if err != nil {
		return nil, unkept(err)
	}
	art, err := now.setup.Open(v.file)
	switch {
	case errors.Is(err, app.ErrPassword) && in.password == "":
		return nil, &fault{status: http.StatusUnprocessableEntity, Code: "password", What: a.name + " asks for a password", Remedy: "give it, or save the artwork without one"}
	case errors.Is(err, app.ErrPassword):
		return nil, &fault{status: http.StatusUnprocessableEntity, Code: "password", What: "the password does not open " + a.name, Remedy: "check capitals and spaces, or save the artwork without one"}
	case err != nil:
		return nil, err
	}
	a.pages = art.Doc.NumPages()
	if err := art.Close(); err != nil {
		return nil, err
	}
	a.add(v)
	s.settling.Lock()
	defer s.settling.Unlock()
	if again, err := s.settle(in.words, a.name, in.password); err == nil {
		now = again // a draft may have changed while the file came
	}
	a.take(now)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.artworks[a.id] = a
	s.order = append(s.order, a.id)
	return a, nil
}

// reserve keeps a place for an artwork, until release.
func (s *Server) reserve() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.artworks)+s.coming >= s.opt.MaxArtworks {
		return refuse(http.StatusConflict, fmt.Sprintf("%d artworks are open, which is as many as can be", len(s.artworks)+s.coming), "close one of them")
	}
	s.coming++
	return nil
}

func (s *Server) release() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.coming--
}

// unkept tells why a file could not be kept.
func unkept(err error) error {
	var f *fault
	switch {
	case errors.As(err, &f):
		return err
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return refuse(http.StatusInsufficientStorage, "there is no room left for files", "close artworks, or free space in the folder for temporary files")
	}
	return err
}

func size(n int64) string {
	if n >= 1<<20 {
		return strconv.FormatInt(n>>20, 10) + " MB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

func (s *Server) artwork(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, a.answer())
}

// setSetup changes what the artwork is looked at with.
func (s *Server) setSetup(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	var words setupWords
	if err := readJSON(w, r, &words); err != nil {
		return err
	}
	s.settling.Lock()
	now, err := s.settle(words, a.name, a.password)
	if err != nil {
		s.settling.Unlock()
		return err
	}
	a.mu.Lock()
	old := a.take(now)
	a.mu.Unlock()
	s.settling.Unlock()
	s.bury(a, old...)
	return answer(w, http.StatusOK, s.tellArtwork(a))
}

// setAt goes to a version: back, or forward again.
func (s *Server) setAt(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	var q struct {
		N int `json:"n"`
	}
	if err := readJSON(w, r, &q); err != nil {
		return err
	}
	a.mu.Lock()
	known := a.version(q.N) != nil
	var old *trial
	if known && a.at != q.N {
		a.at = q.N
		old = a.try(nil)
	}
	a.mu.Unlock()
	s.bury(a, old)
	if !known {
		return noVersion(q.N)
	}
	return answer(w, http.StatusOK, s.tellArtwork(a))
}

func noVersion(n int) error {
	return refuse(http.StatusNotFound, fmt.Sprintf("the artwork has no version %d", n), "ask for the artwork again")
}

// closeArtwork forgets an artwork and removes its files.
func (s *Server) closeArtwork(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	s.forget(a)
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func (s *Server) forget(a *artwork) {
	s.mu.Lock()
	known := s.artworks[a.id] == a
	delete(s.artworks, a.id)
	for i, id := range s.order {
		if id == a.id {
			s.order = append(s.order[:i:i], s.order[i+1:]...)
			break
		}
	}
	s.mu.Unlock()
	if !known {
		return
	}
	a.mu.Lock()
	a.gone = true
	a.mu.Unlock()
	s.queue.drop(a.id)
	s.benches.drop(func(o *openBench) bool { return o.artwork == a.id })
	_ = os.RemoveAll(a.dir)
	a.telling.Lock()
	defer a.telling.Unlock()
	s.hub.tell("gone", map[string]string{"id": a.id})
}

// file answers the PDF of a version.
func (s *Server) file(w http.ResponseWriter, r *http.Request) error {
	a, err := s.find(r)
	if err != nil {
		return err
	}
	a.mu.Lock()
	n := a.at
	if q := r.URL.Query().Get("version"); q != "" {
		n, _ = strconv.Atoi(q) // 0 is no version either
	}
	v := a.version(n)
	a.mu.Unlock()
	if v == nil {
		return noVersion(n)
	}
	download(w, "application/pdf", a.called(n))
	return s.sendFile(w, r, v.file)
}

// sendFile answers a file, as fast as the client takes it.
func (s *Server) sendFile(w http.ResponseWriter, r *http.Request, path string) error {
	f, err := os.Open(path)
	if err != nil {
		w.Header().Del("Content-Disposition")
		return errGone
	}
	defer f.Close()
	http.ServeContent(&steady{w, http.NewResponseController(w), s.times.chunk}, r, "", time.Time{}, f)
	return nil
}

// idle forgets artworks nobody has asked for in a long time.
func (s *Server) idle(now time.Time) {
	for _, a := range s.open() {
		a.mu.Lock()
		old := now.Sub(a.touched) > s.opt.Idle
		a.mu.Unlock()
		if old && !s.queue.busy(a.id) {
			s.forget(a)
		}
	}
}
