package web

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/app"
	"laydown/internal/handover"
	"laydown/internal/pdfbuild"
)

func TestCheck_is_remembered(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 100
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	get(t, at+"/findings", 404)
	j := work(t, h.URL, "/api/artworks/"+id+"/check", "")
	if field(t, j, "state") != "done" || field(t, j, "result.file") != "card.pdf" || !strings.Contains(j, "tint-outside-range") {
		t.Errorf("%s", j)
	}
	a := get(t, at, 200)
	if field(t, a, "checked.rev") != field(t, a, "rev") || field(t, a, "checked.warnings") == "0" {
		t.Errorf("%s", a)
	}
	get(t, at+"/findings?rev="+field(t, a, "rev"), 200)
	if again := post(t, at+"/check", "{}", 202); field(t, again, "state") != "done" {
		t.Errorf("it was checked again: %s", again)
	}
}

func TestCheck_is_of_the_state_asked_for(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 100
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	before := field(t, get(t, at, 200), "rev")
	put(t, at+"/setup", `{"press":"two-set","stock":"black-board","job":""}`, 200)
	work(t, h.URL, "/api/artworks/"+id+"/check?rev="+before, "")
	get(t, at+"/findings?rev="+before, 200)
	get(t, at+"/findings", 404)
	post(t, at+"/check?rev=v9-none", "{}", 410)
}

func TestFault_of_a_page_too_large_names_no_flag(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 1e6
	j := work(t, h.URL, "/api/artworks/"+open(t, h.URL)+"/make", `{"kind":"plates"}`)
	if r := field(t, j, "error.remedy"); strings.Contains(r, "--") {
		t.Errorf("%s", r)
	}
}

func TestPlan_tells_the_passes(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	j := work(t, h.URL, "/api/artworks/"+id+"/plan", `{"quantity":40}`)
	if field(t, j, "state") != "done" || !strings.Contains(j, `"quantity":40`) || !strings.Contains(j, `"of_page":1`) {
		t.Errorf("%.500s", j)
	}
	post(t, at+"/plan", `{"quantity":-1}`, 422)
	post(t, at+"/plan?rev=v9-none", `{}`, 410)
}

func TestMend_makes_a_version_and_leaves_the_one_before(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 100
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	first := field(t, get(t, at, 200), "rev")
	j := work(t, h.URL, "/api/artworks/"+id+"/mend", `{"do":["clip-tints:toner=Silver,to=advised"],"title":"stronger silver"}`)
	if field(t, j, "state") != "done" || field(t, j, "result.version") != "2" || field(t, j, "result.out") != "card-2.pdf" {
		t.Fatalf("%s", j)
	}
	a := get(t, at, 200)
	if field(t, a, "at") != "2" || !strings.Contains(a, `"title":"stronger silver"`) || field(t, a, "rev") != field(t, j, "result.rev") {
		t.Errorf("%s", a)
	}
	if field(t, a, "checked.rev") != field(t, a, "rev") {
		t.Errorf("what the mend's own check said is not known: %s", a)
	}
	if p := get(t, at+"/proof", 200); !strings.Contains(j, strings.TrimSpace(p)) {
		t.Errorf("the proof kept is %.300s", p)
	}
	get(t, at+"/proof?rev="+first, 404)
	if get(t, at+"/file?version=1", 200) != card() {
		t.Error("the first version is another file")
	}
	if f := get(t, at+"/file", 200); !strings.HasPrefix(f, card()) || f == card() {
		t.Error("the mended file is no update of the first")
	}
	if a = put(t, at+"/at", `{"n":1}`, 200); field(t, a, "rev") != first {
		t.Errorf("undone it is %s", a)
	}
	if a = put(t, at+"/at", `{"n":2}`, 200); field(t, a, "rev") != field(t, j, "result.rev") {
		t.Errorf("redone it is %s", a)
	}
}

func TestMend_that_changes_nothing_makes_no_version(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 100
	id := open(t, h.URL)
	j := work(t, h.URL, "/api/artworks/"+id+"/mend", `{"do":["clip-tints:toner=Gold,to=advised"]}`)
	if field(t, j, "state") != "done" || field(t, j, "result.version") != "0" {
		t.Errorf("%s", j)
	}
	if a := get(t, h.URL+"/api/artworks/"+id, 200); field(t, a, "at") != "1" {
		t.Errorf("%s", a)
	}
}

func TestMend_refuses_what_is_no_remedy(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	many := `{"do":[` + strings.Repeat(`"clip-tints",`, 200) + `"clip-tints"]}`
	for _, body := range []string{`{}`, `{"do":["nothing"]}`, `{"do":["clip-tints:no=1"]}`, `{"do":["clip-tints:toner"]}`, `{"do":[""]}`, many} {
		post(t, h.URL+"/api/artworks/"+id+"/mend", body, 422)
	}
}

func TestMake_packages_have_plain_names_and_the_same_bytes(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 100
	f := pdfbuild.New()
	f.Page(100, 100, "/ColorSpace << /S "+pdfbuild.Spot("..#2F..#2Fevil#20#3Cb#3E", 0, 0, 0, .4)+" >>", "/S cs 1 scn 20 20 60 60 re f")
	id := field(t, upload(t, h.URL+"/api/artworks?name=../x/odd%20name.pdf&stock=black-board&press=two-set", string(f.Bytes()), 201), "id")
	for kind, want := range map[string][]string{
		"package":  {"artwork/whole.pdf", "definitions/job.yaml", "definitions/press.yaml", "definitions/stock.yaml", "letter.html", "manifest.json", "proof.pdf", "report.html", "ticket/pass-1.xjdf"},
		"plates":   {"plates.json"},
		"pictures": {"page-1-lit.png", "page-1.png"},
		"report":   {"report.html"},
	} {
		var sums [2][sha256.Size]byte
		for i := range sums {
			j := work(t, h.URL, "/api/artworks/"+id+"/make", `{"kind":"`+kind+`"}`)
			if field(t, j, "state") != "done" || field(t, j, "result.name") != "odd name-"+kind+".zip" {
				t.Fatalf("%s: %s", kind, j)
			}
			data := get(t, h.URL+"/api/jobs/"+field(t, j, "id")+"/file", 200)
			sums[i] = sha256.Sum256([]byte(data))
			z, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
			if err != nil {
				t.Fatal(err)
			}
			var names []string
			for _, f := range z.File {
				names = append(names, f.Name)
				if strings.Contains(f.Name, "..") || strings.ContainsAny(f.Name, "\\<>: ") || filepath.IsAbs(f.Name) {
					t.Errorf("%s holds %q", kind, f.Name)
				}
			}
			for _, w := range want {
				if !slices.Contains(names, w) {
					t.Errorf("%s holds %v, no %s", kind, names, w)
				}
			}
			if !slices.IsSorted(names) && kind != "package" {
				t.Logf("%v", names)
			}
		}
		if sums[0] != sums[1] {
			t.Errorf("%s made twice has other bytes", kind)
		}
	}
	for _, body := range []string{`{"kind":"everything"}`, `{"kind":"plates","pages":"2"}`, `{"kind":"plates","pages":"x"}`} {
		post(t, h.URL+"/api/artworks/"+id+"/make", body, 422)
	}
}

func TestMake_package_can_be_run_as_it_is(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 50
	id := open(t, h.URL)
	put(t, h.URL+"/api/artworks/"+id+"/setup", `{"press":"","stock":"black-board","job":"artwork: x.pdf\npress: two-set\nstock: white-matt\nquantity: 12\n"}`, 200)
	j := work(t, h.URL, "/api/artworks/"+id+"/make", `{"kind":"package"}`)
	data := get(t, h.URL+"/api/jobs/"+field(t, j, "id")+"/file", 200)
	z, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if c, err := handover.Check(strings.NewReader(data), int64(len(data))); err != nil || !c.OK() {
		t.Errorf("it does not pass its check: %v %v", err, c)
	}
	dir := t.TempDir()
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := io.Copy(&b, r); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, filepath.FromSlash(f.Name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(file), 0o700), os.WriteFile(file, b.Bytes(), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	setup, err := app.NewSetup(app.SetupOptions{Job: filepath.Join(dir, "definitions", "job.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	if setup.Press.Name != "two-set" || setup.Stock.Name != "black-board" || setup.Job.Quantity != 12 {
		t.Errorf("press %s, stock %s, quantity %d", setup.Press.Name, setup.Stock.Name, setup.Job.Quantity)
	}
	if a, err := setup.Open(setup.Job.Artwork); err != nil {
		t.Error(err)
	} else {
		a.Close()
	}
}

func TestMake_report_is_shown_shut_off(t *testing.T) {
	s, h := serve(t, Options{})
	s.dpi = 50
	id := open(t, h.URL)
	j := work(t, h.URL, "/api/artworks/"+id+"/make", `{"kind":"report"}`)
	res, err := http.DefaultClient.Do(request(t, "GET", h.URL+"/api/jobs/"+field(t, j, "id")+"/report", ""))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	csp := res.Header.Get("Content-Security-Policy")
	if !strings.HasPrefix(csp, "sandbox;") || strings.Contains(csp, "script") || strings.Contains(csp, "allow-") {
		t.Errorf("the policy is %q", csp)
	}
	if kind := res.Header.Get("Content-Type"); kind != "text/html; charset=utf-8" {
		t.Errorf("it is %s", kind)
	}
}

// blocked queues a job that waits until it is stopped.
func blocked(q *queue, artwork string) *job {
	return q.add(artwork, "check", func(ctx context.Context, _ app.Progress) (any, error) {
		<-ctx.Done()
		return nil, ctx.Err()
	})
}

func TestQueue_is_bounded_and_jobs_can_be_stopped(t *testing.T) {
	s, h := serve(t, Options{Parallel: 1, MaxJobs: 2})
	id := open(t, h.URL)
	running := blocked(s.queue, "other")
	eventually(t, "a job runs", func() bool { j, _ := s.queue.find(running.ID); return j.State == jobRunning })
	waiting := field(t, post(t, h.URL+"/api/artworks/"+id+"/check", "{}", 202), "id")
	second := field(t, post(t, h.URL+"/api/artworks/"+id+"/make", `{"kind":"report"}`, 202), "id")
	post(t, h.URL+"/api/artworks/"+id+"/make", `{"kind":"plates"}`, 429)
	for _, j := range []string{waiting, running.ID} {
		ask(t, "DELETE", h.URL+"/api/jobs/"+j, "", 200)
		if got := await(t, s, j); got.State != jobStopped || got.Error != nil {
			t.Errorf("stopped it is %s %v", got.State, got.Error)
		}
	}
	get(t, h.URL+"/api/jobs/"+waiting+"/file", 404)
	ask(t, "DELETE", h.URL+"/api/jobs/"+second, "", 200)
	await(t, s, second)
	ask(t, "DELETE", h.URL+"/api/jobs/none", "", 404)
}

func TestQueue_a_panic_ends_one_job_alone(t *testing.T) {
	s, _ := serve(t, Options{Parallel: 1})
	bad := s.queue.add("", "check", func(context.Context, app.Progress) (any, error) { panic("ouch") })
	good := s.queue.add("", "check", func(context.Context, app.Progress) (any, error) { return 1, nil })
	if j := await(t, s, bad.ID); j.State != jobFailed || j.Error == nil || !strings.Contains(j.Error.What, "ouch") {
		t.Errorf("%s %v", j.State, j.Error)
	}
	if j := await(t, s, good.ID); j.State != jobDone || j.Result != 1 {
		t.Errorf("%s %v", j.State, j.Result)
	}
}

func TestQueue_keeps_results_for_a_while_only(t *testing.T) {
	q := &queue{parallel: 1, length: 10, kept: 3, room: 1 << 20, tell: func(job) {}}
	dir := t.TempDir()
	var ids []string
	for i := range 6 {
		path := filepath.Join(dir, fmt.Sprint(i))
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		j := q.add("a", "make", func(context.Context, app.Progress) (any, error) { return &outcome{path: path}, nil })
		<-j.ended
		ids = append(ids, j.ID)
	}
	for i, id := range ids {
		_, known := q.find(id)
		_, err := os.Stat(filepath.Join(dir, fmt.Sprint(i)))
		if want := i >= 3; known != want || (err == nil) != want {
			t.Errorf("job %d: known %v, its file %v", i, known, err)
		}
	}
	q.close()
}

func TestQueue_keeps_files_while_there_is_room(t *testing.T) {
	q := &queue{parallel: 1, length: 10, kept: 10, room: 100, tell: func(job) {}}
	dir := t.TempDir()
	for i, bytes := range []int64{40, 50, 30, 200, 40} {
		path := filepath.Join(dir, fmt.Sprint(i))
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		<-q.add("a", "make", func(context.Context, app.Progress) (any, error) { return &outcome{path: path, Bytes: bytes}, nil }).ended
		var left string
		for k := range 5 {
			if _, err := os.Stat(filepath.Join(dir, fmt.Sprint(k))); err == nil {
				left += fmt.Sprint(k)
			}
		}
		// 40+50 fit, with 30 more the first goes, 200 stays as the newest and alone, then goes itself.
		if want := []string{"0", "01", "12", "3", "4"}[i]; left != want {
			t.Errorf("after file %d are left %s, want %s", i, left, want)
		}
	}
	q.close()
}

func TestQueue_closing_an_artwork_stops_its_jobs(t *testing.T) {
	s, h := serve(t, Options{Parallel: 1})
	id := open(t, h.URL)
	running, waiting, other := blocked(s.queue, id), blocked(s.queue, id), blocked(s.queue, "other")
	ask(t, "DELETE", h.URL+"/api/artworks/"+id, "", 204)
	for _, j := range []*job{running, waiting} {
		if _, known := s.queue.find(j.ID); known {
			t.Error("a job of the artwork is still known")
		}
	}
	if j, _ := s.queue.find(other.ID); j.ending() {
		t.Errorf("the job of another is %s", j.State)
	}
}

func TestFault_tells_no_paths_of_the_disc_and_keeps_the_stack_apart(t *testing.T) {
	s, _ := serve(t, Options{})
	path := filepath.Join(s.folder.path, "x", "first.pdf")
	for _, err := range []error{
		&os.PathError{Op: "open", Path: path, Err: errors.New("odd")},
		fmt.Errorf("odd: %s: no room\ngoroutine 1: %s", path, path),
		&app.CannotError{What: path + " cannot be written: no room"},
	} {
		f := faultOf(err)
		if all := f.What + f.Remedy + f.Detail; strings.Contains(all, s.folder.path) || strings.Contains(f.What, "goroutine") || f.What == "" {
			t.Errorf("%v becomes %q, %q", err, f.What, f.Detail)
		}
	}
}
