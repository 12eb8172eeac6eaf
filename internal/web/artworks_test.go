package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

func TestUpload_opens_a_file(t *testing.T) {
	_, h := serve(t, Options{})
	a := upload(t, h.URL+"/api/artworks?name=card.pdf&press=two-set&stock=midnight-blue-board", card(), 201)
	for k, want := range map[string]string{"name": "card.pdf", "pages": "1", "at": "1", "bytes": fmt.Sprint(len(card())), "setup.uses.press": "two-set", "setup.uses.stock": "midnight-blue-board"} {
		if got := field(t, a, k); got != want {
			t.Errorf("%s is %s, want %s", k, got, want)
		}
	}
	if got := get(t, h.URL+"/api/artworks/"+field(t, a, "id"), 200); got != a {
		t.Errorf("asked again it is %s, not %s", got, a)
	}
	if got := get(t, h.URL+"/api/artworks/"+field(t, a, "id")+"/file", 200); got != card() {
		t.Error("the file that came back is another one")
	}
}

func TestUpload_refuses_what_is_no_artwork(t *testing.T) {
	s, h := serve(t, Options{MaxUpload: 1 << 20})
	for _, c := range []struct {
		name, data, kind string
		want             int
		says             string
	}{
		{"a picture", "\x89PNG\r\n\x1a\n" + strings.Repeat("x", 5000), "application/pdf", 422, "picture.pdf is not a PDF file"},
		{"nothing", "", "application/pdf", 422, "is empty"},
		{"noise", strings.Repeat("%PDF-1.7 1 0 obj << ", 2000), "application/octet-stream", 422, ""},
		{"cut off", card()[:200], "application/pdf", 422, ""},
		{"a form", "--b\r\n", "multipart/form-data; boundary=b", 415, ""},
		{"no kind", card(), "", 415, ""},
		{"too large", strings.Repeat("x", 1<<20+1), "application/pdf", 413, "larger than 1 MB"},
	} {
		code, body := do(t, request(t, "POST", h.URL+"/api/artworks?name=picture", c.data, "Content-Type", c.kind))
		if code != c.want || !strings.Contains(body, c.says) {
			t.Errorf("%s: %d %s", c.name, code, body)
		}
		if strings.Contains(body, s.folder.path) {
			t.Errorf("%s: the answer tells where files are kept: %s", c.name, body)
		}
	}
	if list, err := os.ReadDir(s.folder.path); err != nil || len(list) != 1 {
		t.Errorf("beside the lock something was left: %v %v", list, err)
	}
}

// endless is a body that never ends, and counts what was taken.
type endless struct{ taken atomic.Int64 }

func (e *endless) Read(b []byte) (int, error) {
	if e.taken.Load() > 2<<30 {
		return 0, io.EOF
	}
	e.taken.Add(int64(len(b)))
	return len(b), nil
}

func TestUpload_of_2_GB_is_refused_at_the_limit(t *testing.T) {
	s, at := live(t, Options{MaxUpload: 1 << 20})
	for _, length := range []int64{-1, 2 << 30} {
		body := &endless{}
		req, err := http.NewRequest("POST", at+"/api/artworks?name=huge.pdf", body)
		if err != nil {
			t.Fatal(err)
		}
		req.ContentLength = length
		req.Header.Set("Authorization", "Bearer "+testToken)
		req.Header.Set("Content-Type", "application/pdf")
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusRequestEntityTooLarge {
			t.Errorf("answered %d", res.StatusCode)
		}
		// The limit, and what the two ends of a connection buffer: some MB.
		if n := body.taken.Load(); n > 64<<20 {
			t.Errorf("%d MB were taken", n>>20)
		}
	}
	if list, err := os.ReadDir(s.folder.path); err != nil || len(list) != 1 {
		t.Errorf("something was left: %v %v", list, err)
	}
}

func TestUpload_that_breaks_off_leaves_nothing(t *testing.T) {
	s, at := live(t, Options{})
	r, w := io.Pipe()
	req, err := http.NewRequest("POST", at+"/api/artworks?name=half.pdf", r)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+testToken)
	req.Header.Set("Content-Type", "application/pdf")
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		if res, err := http.DefaultClient.Do(req); err == nil {
			res.Body.Close()
			if res.StatusCode < 400 {
				t.Errorf("answered %d", res.StatusCode)
			}
		}
	}()
	fmt.Fprint(w, card()[:100])
	eventually(t, "the file is being written", func() bool { list, _ := os.ReadDir(s.folder.path); return len(list) == 2 })
	w.CloseWithError(io.ErrUnexpectedEOF)
	<-ended
	eventually(t, "nothing is left", func() bool { list, _ := os.ReadDir(s.folder.path); return len(list) == 1 })
}

// eventually waits for what another goroutine does.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !is(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("in vain: " + what)
		}
	}
}

func TestLabel_is_never_a_path(t *testing.T) {
	for in, want := range map[string]string{
		"ticket.pdf": "ticket.pdf", "../../etc/passwd": "passwd.pdf", `C:\work\Karte 1.PDF`: "Karte 1.pdf", "": "artwork.pdf", "..": "artwork.pdf", "/": "artwork.pdf",
		".hidden.pdf": "hidden.pdf", "a\x00b\n\tc.pdf": "ab c.pdf", "ti\u202efdp.exe": "tifdp.exe.pdf", "na\u0308me.pdf": "näme.pdf", "\xff\xfe.pdf": "pdf.pdf", "\u200e": "artwork.pdf",
		"con<script>.pdf": "conscript.pdf", "a.pdf.pdf": "a.pdf.pdf", "夜.pdf": "夜.pdf", "a ‎ b.pdf": "a b.pdf", strings.Repeat("x", 500): strings.Repeat("x", maxLabel) + ".pdf",
	} {
		if got := label(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func TestUpload_name_is_no_path(t *testing.T) {
	s, h := serve(t, Options{})
	a := upload(t, h.URL+"/api/artworks?name=..%2F..%2Fevil%0d%0aSet-Cookie:x%22.pdf", card(), 201)
	if got := field(t, a, "name"); got != "evil Set-Cookiex.pdf" {
		t.Errorf("the name is %q", got)
	}
	if list, _ := filepath.Glob(filepath.Join(s.opt.Temp, "*")); len(list) != 1 || list[0] != s.folder.path {
		t.Errorf("files were made beside the private folder: %v", list)
	}
	req := request(t, "GET", h.URL+"/api/artworks/"+field(t, a, "id")+"/file", "")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if how, p, err := mime.ParseMediaType(res.Header.Get("Content-Disposition")); err != nil || how != "attachment" || p["filename"] != "evil Set-Cookiex.pdf" {
		t.Errorf("it is to be kept as %s (%v)", res.Header.Get("Content-Disposition"), err)
	}
}

func TestFolder_is_private_and_goes_with_the_server(t *testing.T) {
	s, err := New(Options{Temp: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	st, err := os.Stat(s.folder.path)
	if err != nil || st.Mode().Perm() != 0o700 {
		t.Fatalf("%v %v", st.Mode(), err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(s.folder.path); !os.IsNotExist(err) {
		t.Errorf("the folder is still there: %v", err)
	}
}

func TestFolder_sweeps_those_of_servers_that_are_no_more(t *testing.T) {
	temp := t.TempDir()
	alive, err := newFolder(temp)
	if err != nil {
		t.Fatal(err)
	}
	defer alive.close()
	dead, err := newFolder(temp)
	if err != nil {
		t.Fatal(err)
	}
	dead.lock.Close() // as when its process was killed
	odd := filepath.Join(temp, folderPattern+"open-to-all")
	other := filepath.Join(temp, "something-else")
	for dir, mode := range map[string]os.FileMode{odd: 0o755, other: 0o700, filepath.Join(temp, folderPattern+"unlocked"): 0o700} {
		if err := os.Mkdir(dir, mode); err != nil {
			t.Fatal(err)
		}
		if dir != filepath.Join(temp, folderPattern+"unlocked") {
			if err := os.WriteFile(filepath.Join(dir, lockName), nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	link := filepath.Join(temp, folderPattern+"link")
	if err := os.Symlink(other, link); err != nil {
		t.Fatal(err)
	}
	sweep(temp)
	for path, want := range map[string]bool{alive.path: true, dead.path: false, odd: true, other: true, link: true, filepath.Join(temp, folderPattern+"unlocked"): true} {
		if _, err := os.Lstat(path); (err == nil) != want {
			t.Errorf("%s is there: %v, want %v", filepath.Base(path), err == nil, want)
		}
	}
}

func TestArtworks_are_only_so_many(t *testing.T) {
	_, h := serve(t, Options{MaxArtworks: 2})
	first := open(t, h.URL)
	open(t, h.URL)
	upload(t, h.URL+"/api/artworks?name=third.pdf", card(), 409)
	ask(t, "DELETE", h.URL+"/api/artworks/"+first, "", 204)
	open(t, h.URL)
}

func TestArtwork_that_is_closed_is_gone_with_its_files(t *testing.T) {
	s, h := serve(t, Options{})
	id := open(t, h.URL)
	rev := field(t, get(t, h.URL+"/api/artworks/"+id, 200), "rev")
	get(t, h.URL+"/api/artworks/"+id+"/pages/1", 200)
	ask(t, "DELETE", h.URL+"/api/artworks/"+id, "", 204)
	for _, path := range []string{"/api/artworks/" + id, "/api/artworks/" + id + "/file", "/api/artworks/" + id + "/pages/1", "/api/tiles/" + id + "/" + rev + "/1/0/0/0"} {
		get(t, h.URL+path, 404)
	}
	ask(t, "DELETE", h.URL+"/api/artworks/"+id, "", 404)
	if _, err := os.Stat(filepath.Join(s.folder.path, id)); !os.IsNotExist(err) {
		t.Errorf("its files are still there: %v", err)
	}
}

func TestArtwork_nobody_asks_for_is_closed(t *testing.T) {
	s, h := serve(t, Options{Idle: time.Hour})
	id := open(t, h.URL)
	s.idle(time.Now().Add(59 * time.Minute))
	get(t, h.URL+"/api/artworks/"+id, 200)
	s.idle(time.Now().Add(61 * time.Minute))
	get(t, h.URL+"/api/artworks/"+id, 404)
}

func TestArtwork_that_is_closed_is_told_of_no_more(t *testing.T) {
	s, h := serve(t, Options{})
	open(t, h.URL)
	a := s.open()[0]
	l := s.hub.listen(1)
	s.forget(a)
	s.tellArtwork(a)
	last := ""
	for len(l.events) > 0 {
		last = string(<-l.events)
	}
	if !strings.HasPrefix(last, "event: gone\n") {
		t.Errorf("the last that is told is %q", last)
	}
}

func TestDraft_that_changes_while_a_file_comes_is_the_new_one(t *testing.T) {
	s, h := serve(t, Options{})
	d := post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, 201)
	id, text := field(t, d, "id"), field(t, d, "yaml")
	a, err := s.accept(incoming{name: "card.pdf", words: setupWords{Press: "two-set", Stock: id}}, func(w io.Writer) error {
		body, err := json.Marshal(map[string]string{"yaml": strings.Replace(text, "hits: ", "hits: 7 # ", 1)})
		if err != nil {
			return err
		}
		put(t, h.URL+"/api/drafts/"+id, string(body), 200)
		_, err = io.WriteString(w, card())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if a.now.setup.Stock.Hits != 7 {
		t.Errorf("the stock stands %d passes", a.now.setup.Stock.Hits)
	}
}

func TestRev_of_another_artwork_or_setup_is_not_known(t *testing.T) {
	_, h := serve(t, Options{})
	ofA := field(t, get(t, h.URL+"/api/artworks/"+open(t, h.URL), 200), "rev")
	b := field(t, upload(t, h.URL+"/api/artworks?name=b.pdf&press=five-station", card(), 201), "id")
	for _, rev := range []string{ofA, "v2-" + strings.TrimPrefix(ofA, "v1-") + "x", "v9" + ofA[2:], "t0-0", "..", "%00"} {
		for _, path := range []string{"/api/artworks/" + b + "/pages/1?rev=" + rev, "/api/tiles/" + b + "/" + rev + "/1/0/0/0", "/api/artworks/" + b + "/findings?rev=" + rev} {
			if code, body := send(t, "GET", h.URL+path, ""); code != 410 && (code != 404 || rev != "..") {
				t.Errorf("%s: %d %s", path, code, body)
			}
		}
	}
	get(t, h.URL+"/api/artworks/"+b+"/file?version=2", 404)
	put(t, h.URL+"/api/artworks/"+b+"/at", `{"n":2}`, 404)
}

func TestRev_is_the_same_whenever_a_state_comes_back(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	first := field(t, get(t, at, 200), "rev")
	other := field(t, put(t, at+"/setup", `{"press":"two-set","stock":"black-board","job":""}`, 200), "rev")
	again := field(t, put(t, at+"/setup", `{"press":"two-set","stock":"midnight-blue-board","job":""}`, 200), "rev")
	if other == first || again != first {
		t.Errorf("revs %s, %s, %s", first, other, again)
	}
}

func TestSetup_refuses_names_that_are_paths(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	dir := t.TempDir()
	own := filepath.Join(dir, "own.yaml")
	if err := os.WriteFile(own, []byte("secret: of this machine\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, words := range []setupWords{
		{Press: own}, {Press: "./own.yaml"}, {Press: "../two-set"}, {Stock: own}, {Press: "two-set.yaml"}, {Press: "nothing"},
		{Job: "artwork: /etc/passwd\npress: " + own + "\nstock: black-board\n"},
		{Job: "artwork: x.pdf\npress: two-set\nstock: ../../stock.yaml\n"},
	} {
		b, err := json.Marshal(words)
		if err != nil {
			t.Fatal(err)
		}
		got := put(t, h.URL+"/api/artworks/"+id+"/setup", string(b), 422)
		if strings.Contains(got, "secret") || !strings.Contains(got, "is named") {
			t.Errorf("%s: %s", b, got)
		}
		if words.Job != "" && field(t, got, "error.line") == "0" {
			t.Errorf("%s: no line in %s", b, got)
		}
	}
}

func TestSetup_names_given_go_before_the_job(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	job := `"job":"artwork: x.pdf\npress: two-set\nstock: black-board\n"`
	a := put(t, h.URL+"/api/artworks/"+id+"/setup", `{"press":"","stock":"",`+job+`}`, 200)
	if field(t, a, "setup.uses.press") != "two-set" || field(t, a, "setup.uses.stock") != "black-board" {
		t.Errorf("the job's: %s", a)
	}
	a = put(t, h.URL+"/api/artworks/"+id+"/setup", `{"press":"five-station","stock":"",`+job+`}`, 200)
	if field(t, a, "setup.uses.press") != "five-station" || field(t, a, "setup.uses.stock") != "black-board" {
		t.Errorf("with a name: %s", a)
	}
}

func TestFaultsOfJobTexts_have_their_place(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	got := put(t, h.URL+"/api/artworks/"+id+"/setup", `{"press":"","stock":"","job":"artwork: x.pdf\npress: two-set\nstok: black-board\n"}`, 422)
	if field(t, got, "error.line") != "3" || field(t, got, "error.column") != "1" || !strings.Contains(got, "stock") {
		t.Errorf("%s", got)
	}
}

func TestTile_is_that_of_the_bench_and_kept_by_the_browser(t *testing.T) {
	_, h := serve(t, Options{})
	id := open(t, h.URL)
	rev := field(t, get(t, h.URL+"/api/artworks/"+id, 200), "rev")
	path := h.URL + "/api/tiles/" + id + "/" + rev + "/1/3/0/0"
	req := request(t, "GET", path, "", "Accept-Encoding", "identity")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != 200 || res.Header.Get("Content-Encoding") != "" {
		t.Fatalf("%d %v %v", res.StatusCode, res.Header, err)
	}
	if cc := res.Header.Get("Cache-Control"); !strings.Contains(cc, "immutable") || !strings.Contains(cc, "private") {
		t.Errorf("Cache-Control is %q", cc)
	}
	if got := get(t, path, 200); !bytes.Equal([]byte(got), plain) { // the client takes gzip and unpacks it
		t.Error("packed it is another tile")
	}
	if got := get(t, path+"?off=Silver", 200); bytes.Equal([]byte(got), plain) {
		t.Error("without Silver it is the same tile")
	}
	for bad, want := range map[string]int{"?through=1": 422, "?through=x": 400, "?backing=white": 400, "?backing=200,0,0": 400, "?backing=50,NaN,0": 400} {
		get(t, path+bad, want)
	}
	for _, p := range []string{"1/3/99/0", "1/3/-1/0", "1/3/0/4611686018427387904"} {
		get(t, h.URL+"/api/tiles/"+id+"/"+rev+"/"+p, 204)
	}
	for p, want := range map[string]int{"2/3/0/0": 422, "0/3/0/0": 422, "1/10/0/0": 422, "1/-1/0/0": 422, "1/x/0/0": 404, "1/3/0/99999999999999999999": 404} {
		get(t, h.URL+"/api/tiles/"+id+"/"+rev+"/"+p, want)
	}
}
