package web

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"laydown/internal/pdfbuild"
)

const testToken = "token-of-the-tests"

// serve starts a server of the handler alone.
func serve(t *testing.T, o Options) (*Server, *httptest.Server) {
	t.Helper()
	o.Token = testToken
	if o.Temp == "" {
		o.Temp = t.TempDir()
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s.Handler())
	t.Cleanup(func() {
		s.end()
		h.Close()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, h
}

// send asks with the token and gives the status and the answer.
func send(t *testing.T, method, url, body string) (int, string) {
	t.Helper()
	req, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+testToken)
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	return do(t, req)
}

func do(t *testing.T, req *http.Request) (int, string) {
	t.Helper()
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

// ask sends JSON and wants an answer of this status.
func ask(t *testing.T, method, url, body string, status int) string {
	t.Helper()
	code, got := send(t, method, url, body)
	if code != status {
		t.Fatalf("%s %s %.200s: %d %.400s, want %d", method, url, body, code, got, status)
	}
	return got
}

func get(t *testing.T, url string, status int) string {
	t.Helper()
	return ask(t, "GET", url, "", status)
}

func post(t *testing.T, url, body string, status int) string {
	t.Helper()
	return ask(t, "POST", url, body, status)
}

func put(t *testing.T, url, body string, status int) string {
	t.Helper()
	return ask(t, "PUT", url, body, status)
}

// upload sends a file.
func upload(t *testing.T, url, data string, status int) string {
	t.Helper()
	code, got := do(t, request(t, "POST", url, data, "Content-Type", "application/pdf"))
	if code != status {
		t.Fatalf("%s: %d %.400s, want %d", url, code, got, status)
	}
	return got
}

// field is a value of an answer, by keys with points between.
func field(t *testing.T, body, keys string) string {
	t.Helper()
	var v any
	if err := json.Unmarshal([]byte(body), &v); err != nil {
		t.Fatalf("%v: %.300s", err, body)
	}
	for _, k := range strings.Split(keys, ".") {
		o, ok := v.(map[string]any)
		if !ok || o[k] == nil {
			t.Fatalf("there is no %s in %.400s", keys, body)
		}
		v = o[k]
	}
	if s, ok := v.(string); ok {
		return s
	}
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// card is a small artwork: a page of 90 x 50 mm with a square in Silver and one in Black, light enough to be thickened.
func card() string {
	f := pdfbuild.New()
	f.Page(255, 142, "/ColorSpace << /S "+pdfbuild.Spot("Silver", 0, 0, 0, .4)+" >>", "/S cs .1 scn 20 20 60 60 re f 0 0 0 1 k 120 20 60 60 re f", "/TrimBox [0 0 255 142]")
	return string(f.Bytes())
}

// open opens the card and gives its id.
func open(t *testing.T, at string) string {
	t.Helper()
	return field(t, upload(t, at+"/api/artworks?name=card.pdf&press=two-set&stock=midnight-blue-board", card(), 201), "id")
}

// work asks for a job and gives its answer once it has ended.
func work(t *testing.T, at, path, body string) string {
	t.Helper()
	if body == "" {
		body = "{}"
	}
	id := field(t, post(t, at+path, body, 202), "id")
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		j := get(t, at+"/api/jobs/"+id, 200)
		if s := field(t, j, "state"); s != jobWaiting && s != jobRunning {
			return j
		}
	}
	t.Fatalf("%s does not end", path)
	return ""
}
