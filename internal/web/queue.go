package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"laydown/internal/app"
)

// Words for the state of a job.
const (
	jobWaiting = "waiting"
	jobRunning = "running"
	jobDone    = "done"
	jobFailed  = "failed"
	jobStopped = "stopped"
)

// job is work that takes long.
type job struct {
	ID      string `json:"id"`
	Artwork string `json:"artwork"`
	Rev     string `json:"rev,omitempty"` // the state it is of
	Kind    string `json:"kind"`
	State   string `json:"state"`
	What    string `json:"what,omitempty"` // is being done, with Done of Total
	Done    int    `json:"done"`
	Total   int    `json:"total"`
	Error   *fault `json:"error,omitempty"`
	Result  any    `json:"result,omitempty"`

	work  func(ctx context.Context, told app.Progress) (any, error)
	stop  context.CancelFunc
	ended chan struct{}
	told  time.Time // when progress was last told
	file  *outcome
}

// outcome is a file a job made.
type outcome struct {
	path   string
	report string // the page to be read in the browser; "" = none
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
}

// queue runs jobs, a few at a time, in the order they came.
type queue struct {
	parallel, length, kept int
	room                   int64 // bytes of files made that are kept, the newest at any rate
	tell                   func(job)

	mu      sync.Mutex
	closed  bool
	waiting []*job
	running int
	all     []*job // oldest first, ended ones included
	runners sync.WaitGroup
}

// progressPause is the least time between two events about one job.
const progressPause = 100 * time.Millisecond

// add queues work on no state in particular; nil when the queue is full.
func (q *queue) add(artwork, kind string, work func(context.Context, app.Progress) (any, error)) *job {
	return q.addOf(artwork, "", kind, work)
}

// addOf queues work on a state of an artwork; nil when the queue is full.
func (q *queue) addOf(artwork, rev, kind string, work func(context.Context, app.Progress) (any, error)) *job {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.closed || len(q.waiting) >= q.length {
		return nil
	}
	j := &job{ID: newID(), Artwork: artwork, Rev: rev, Kind: kind, State: jobWaiting, work: work, ended: make(chan struct{})}
	q.all = append(q.all, j)
	q.waiting = append(q.waiting, j)
	q.changed(j)
	q.next()
	return j
}

// done adds a job that needs no work any longer.
func (q *queue) done(artwork, kind string, result any) *job {
	q.mu.Lock()
	defer q.mu.Unlock()
	j := &job{ID: newID(), Artwork: artwork, Kind: kind, State: jobDone, Result: result, ended: make(chan struct{})}
	close(j.ended)
	q.all = append(q.all, j)
	q.changed(j)
	q.forgetOld()
	return j
}

// changed tells of a job; q.mu is held.
func (q *queue) changed(j *job) {
	c := *j
	c.Result = nil
	j.told = time.Now()
	q.tell(c)
}

// next starts what can be started; q.mu is held.
func (q *queue) next() {
	for q.running < q.parallel && len(q.waiting) > 0 && !q.closed {
		j := q.waiting[0]
		q.waiting = q.waiting[1:]
		ctx, stop := context.WithCancel(context.Background())
		j.stop, j.State = stop, jobRunning
		q.running++
		q.runners.Add(1)
		q.changed(j)
		go q.run(ctx, j)
	}
}

func (q *queue) run(ctx context.Context, j *job) {
	defer q.runners.Done()
	result, err := q.try(ctx, j)
	halted := ctx.Err() != nil
	q.mu.Lock()
	defer q.mu.Unlock()
	j.stop()
	switch {
	case err == nil:
		j.State, j.Result = jobDone, result
		j.file, _ = result.(*outcome)
		j.Done = j.Total
	case halted || errors.Is(err, context.Canceled):
		j.State = jobStopped
	default:
		j.State, j.Error = jobFailed, faultOf(err)
	}
	j.What, j.work = "", nil
	q.running--
	q.changed(j)
	q.forgetOld()
	q.next()
	close(j.ended) // last: who waits for it looks at what is left
}

// try does the work; a panic ends this job alone.
func (q *queue) try(ctx context.Context, j *job) (result any, err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("internal fault: %v\n%s", v, debug.Stack())
		}
	}()
	return j.work(ctx, func(what string, done, total int) {
		q.mu.Lock()
		defer q.mu.Unlock()
		j.What, j.Done, j.Total = what, done, total
		if time.Since(j.told) >= progressPause {
			q.changed(j)
		}
	})
}

// forgetOld lets go of ended jobs beyond those kept, and of files beyond the room for them; q.mu is held.
func (q *queue) forgetOld() {
	bytes := int64(0)
	for _, j := range slices.Backward(q.all) {
		if j.file == nil {
			continue
		}
		if bytes += j.file.Bytes; bytes > q.room && bytes > j.file.Bytes {
			j.remove()
			j.file = nil
		}
	}
	for over := len(q.all) - q.kept - len(q.waiting) - q.running; over > 0; over-- {
		i := slices.IndexFunc(q.all, func(j *job) bool { return j.ending() })
		if i < 0 {
			return
		}
		q.all[i].remove()
		q.all = slices.Delete(q.all, i, i+1)
	}
}

// ending tells whether the job is over.
func (j *job) ending() bool { return j.State != jobWaiting && j.State != jobRunning }

// remove removes the file the job made.
func (j *job) remove() {
	if j.file != nil {
		j.file.remove()
	}
}

func (o *outcome) remove() {
	_ = os.Remove(o.path)
	if o.report != "" {
		_ = os.Remove(o.report)
	}
}

// find is a copy of a job as it stands.
func (q *queue) find(id string) (job, bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, j := range q.all {
		if j.ID == id {
			return *j, true
		}
	}
	return job{}, false
}

// halt stops a job: one that waits at once, one that runs as soon as it can.
func (q *queue) halt(id string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, j := range q.all {
		if j.ID == id {
			q.end(j)
		}
	}
}

// end stops a job; q.mu is held.
func (q *queue) end(j *job) {
	switch j.State {
	case jobWaiting:
		q.waiting = slices.DeleteFunc(q.waiting, func(o *job) bool { return o == j })
		j.State, j.work = jobStopped, nil
		close(j.ended)
		q.changed(j)
	case jobRunning:
		j.stop()
	}
}

// drop stops the jobs of an artwork, waits for them and forgets them.
func (q *queue) drop(artwork string) {
	q.mu.Lock()
	var gone []*job
	for _, j := range q.all {
		if j.Artwork == artwork {
			q.end(j)
			gone = append(gone, j)
		}
	}
	q.mu.Unlock()
	for _, j := range gone {
		<-j.ended
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	q.all = slices.DeleteFunc(q.all, func(j *job) bool {
		if j.Artwork == artwork && j.ending() {
			j.remove()
			return true
		}
		return false
	})
}

// busy tells whether an artwork has a job that waits or runs.
func (q *queue) busy(artwork string) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return slices.ContainsFunc(q.all, func(j *job) bool { return j.Artwork == artwork && !j.ending() })
}

// list is all jobs as they stand, without their results.
func (q *queue) list() []job {
	q.mu.Lock()
	defer q.mu.Unlock()
	out := make([]job, 0, len(q.all))
	for _, j := range q.all {
		c := *j
		c.Result = nil
		out = append(out, c)
	}
	return out
}

// close stops all jobs and waits for them.
func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	for _, j := range q.all {
		q.end(j)
	}
	q.mu.Unlock()
	q.runners.Wait()
}

// queued answers that a job was taken, or that there is no room for it.
func (s *Server) queued(w http.ResponseWriter, j *job) error {
	if j == nil {
		return busy(w, fmt.Sprintf("%d jobs wait already", s.opt.MaxJobs))
	}
	now, _ := s.queue.find(j.ID)
	w.Header().Set("Location", "/api/jobs/"+j.ID)
	return answer(w, http.StatusAccepted, now)
}

func (s *Server) job(w http.ResponseWriter, r *http.Request) error {
	j, ok := s.queue.find(r.PathValue("id"))
	if !ok {
		return errNoJob
	}
	return answer(w, http.StatusOK, j)
}

var errNoJob = refuse(http.StatusNotFound, "there is no such job", "results are kept for a while only; ask for the work again")

func (s *Server) stopJob(w http.ResponseWriter, r *http.Request) error {
	j, ok := s.queue.find(r.PathValue("id"))
	if !ok {
		return errNoJob
	}
	s.queue.halt(j.ID)
	now, _ := s.queue.find(j.ID)
	return answer(w, http.StatusOK, now)
}

// jobFile answers the file a job made.
func (s *Server) jobFile(w http.ResponseWriter, r *http.Request) error {
	j, ok := s.queue.find(r.PathValue("id"))
	if !ok {
		return errNoJob
	}
	if j.file == nil {
		return refuse(http.StatusNotFound, "the job has made no file", "wait until it is done, or ask for another")
	}
	download(w, "application/zip", j.file.Name)
	return s.sendFile(w, r, j.file.path)
}

// reportPolicy lets a report show what it holds and do nothing: names in it come from artwork.
const reportPolicy = "sandbox; default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"

// jobReport answers the report a job made, to be read in the browser.
func (s *Server) jobReport(w http.ResponseWriter, r *http.Request) error {
	j, ok := s.queue.find(r.PathValue("id"))
	if !ok {
		return errNoJob
	}
	if j.file == nil || j.file.report == "" {
		return refuse(http.StatusNotFound, "the job has made no report", "wait until it is done, or ask for one")
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", reportPolicy)
	w.Header().Set("X-Frame-Options", "SAMEORIGIN")
	return s.sendFile(w, r, j.file.report)
}
