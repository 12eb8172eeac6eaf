package web

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func request(t *testing.T, method, url, body string, head ...string) *http.Request {
	t.Helper()
	req, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+testToken)
	for i := 0; i < len(head); i += 2 {
		if head[i+1] == "" {
			req.Header.Del(head[i])
		} else {
			req.Header.Set(head[i], head[i+1])
		}
	}
	return req
}

func TestGuard_asks_for_the_token_everywhere(t *testing.T) {
	s, h := serve(t, Options{})
	for _, r := range s.routes {
		method, path, _ := strings.Cut(r.pattern, " ")
		path = strings.NewReplacer("{$}", "", "{", "", "}", "").Replace(path)
		for _, token := range []string{"", "Bearer wrong", "Bearer ", "Basic " + testToken, testToken} {
			if code, body := do(t, request(t, method, h.URL+path, "", "Authorization", token)); code != http.StatusUnauthorized || strings.Contains(body, testToken) {
				t.Errorf("%s %s with %q: %d %s", method, path, token, code, body)
			}
		}
	}
	for _, wrong := range []string{"/?key=wrong", "/?key=" + testToken[:5], "/api/state?key=" + testToken} {
		if code, _ := do(t, request(t, "GET", h.URL+wrong, "", "Authorization", "")); code != http.StatusUnauthorized {
			t.Errorf("%s: %d", wrong, code)
		}
	}
}

func TestGuard_key_in_the_address_becomes_a_cookie(t *testing.T) {
	_, h := serve(t, Options{})
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := c.Get(h.URL + "/?key=" + testToken)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	at, _ := url.Parse(h.URL)
	cookie := res.Header.Get("Set-Cookie")
	if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/" {
		t.Errorf("answered %d to %q", res.StatusCode, res.Header.Get("Location"))
	}
	for _, want := range []string{"laydown-" + at.Port() + "=", "HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie %q has no %s", cookie, want)
		}
	}
	if res, err = c.Get(h.URL + "/api/state"); err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 200 {
		t.Errorf("with the cookie: %d", res.StatusCode)
	}
}

func TestGuard_key_followed_from_another_page_leads_on_from_one_of_ours(t *testing.T) {
	s, h := serve(t, Options{})
	res, err := http.DefaultClient.Do(request(t, "GET", h.URL+"/?key="+testToken, "", "Authorization", "", "Sec-Fetch-Site", "cross-site"))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != 200 || res.Header.Get("Set-Cookie") == "" || !strings.Contains(string(b), `content="0;url=/"`) || strings.Contains(string(b), testToken) {
		t.Errorf("answered %d %v %s", res.StatusCode, res.Header, b)
	}
	door, err := s.Door("http://127.0.0.1:1/?key=a&b=\"c")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(door)
	if err != nil || !strings.Contains(string(text), "url=http://127.0.0.1:1/?key=a&amp;b=&#34;c\"") {
		t.Errorf("the door is %s %v", text, err)
	}
	if st, err := os.Stat(door); err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("the door is open to others: %v %v", st, err)
	}
}

func TestGuard_refuses_foreign_hosts(t *testing.T) {
	_, h := serve(t, Options{Hosts: []string{"bench.example"}})
	for host, want := range map[string]int{
		"127.0.0.1": 200, "localhost:99": 200, "[::1]:80": 200, "127.0.0.1:1": 200, "bench.example": 200, "BENCH.example:8080": 200,
		"evil.example": 421, "localhost.evil.example": 421, "127.0.0.1.evil.example": 421, "10.0.0.1": 421, "[::2]": 421, "0.0.0.0": 421,
	} {
		req := request(t, "GET", h.URL+"/api/state", "")
		req.Host = host
		if code, _ := do(t, req); code != want {
			t.Errorf("Host %s: %d, want %d", host, code, want)
		}
	}
}

func TestAddress_is_one_the_server_answers_to(t *testing.T) {
	s, h := serve(t, Options{Hosts: []string{"bench.example"}})
	for _, ip := range []string{"0.0.0.0", "127.0.0.1", "::1", "192.0.2.7"} {
		u, err := url.Parse(s.Address(&net.TCPAddr{IP: net.ParseIP(ip), Port: 8000}))
		if err != nil {
			t.Fatal(err)
		}
		req := request(t, "GET", h.URL+"/api/state", "")
		req.Host = u.Host
		if code, _ := do(t, req); code != 200 {
			t.Errorf("listening at %s, %s is answered %d", ip, u.Host, code)
		}
	}
}

func TestGuard_refuses_foreign_origins(t *testing.T) {
	_, h := serve(t, Options{})
	for _, c := range []struct {
		head []string
		want int
	}{
		{[]string{"Origin", "http://evil.example"}, 403},
		{[]string{"Origin", "null"}, 403},
		{[]string{"Sec-Fetch-Site", "cross-site"}, 403},
		{[]string{"Sec-Fetch-Site", "same-site"}, 403},
		{[]string{"Sec-Fetch-Site", "same-origin"}, 201},
		{[]string{"Origin", h.URL}, 201},
	} {
		head := append([]string{"Content-Type", "application/json"}, c.head...)
		if code, body := do(t, request(t, "POST", h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, head...)); code != c.want {
			t.Errorf("%v: %d %s", c.head, code, body)
		}
	}
}

func TestGuard_every_answer_has_the_headers(t *testing.T) {
	_, h := serve(t, Options{})
	for _, path := range []string{"/", "/app.js", "/api/state", "/api/jobs/none", "/nothing"} {
		for _, token := range []string{"", "Bearer " + testToken} {
			res, err := http.DefaultClient.Do(request(t, "GET", h.URL+path, "", "Authorization", token))
			if err != nil {
				t.Fatal(err)
			}
			res.Body.Close()
			for k, want := range map[string]string{"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
				"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin", "X-Frame-Options": "DENY"} {
				if !strings.HasPrefix(res.Header.Get(k), want) {
					t.Errorf("%s: %s is %q", path, k, res.Header.Get(k))
				}
			}
			if csp := res.Header.Get("Content-Security-Policy"); strings.Contains(csp, "unsafe") || strings.Contains(csp, "*") {
				t.Errorf("%s: %s", path, csp)
			}
		}
	}
}

func TestGuard_bounds_bodies(t *testing.T) {
	_, h := serve(t, Options{})
	json := []string{"Content-Type", "application/json"}
	for _, c := range []struct {
		method, path, body string
		head               []string
		want               int
	}{
		{"POST", "/api/example", `{"faulty":"` + strings.Repeat("x", jsonBytes) + `"}`, json, 413},
		{"POST", "/api/example", `{"faulty":true,"more":1}`, json, 400},
		{"POST", "/api/example", `{"faulty":true} {}`, json, 400},
		{"POST", "/api/example", `{"faulty":true`, json, 400},
		{"POST", "/api/example", `{}`, []string{"Content-Type", "text/plain"}, 415},
		{"GET", "/api/state", "body", nil, 400},
	} {
		if code, body := do(t, request(t, c.method, h.URL+c.path, c.body, c.head...)); code != c.want {
			t.Errorf("%s %s %.30s: %d %s", c.method, c.path, c.body, code, body)
		}
	}
}

// live serves on a real listener with the real timeouts, until the test ends.
func live(t *testing.T, o Options) (*Server, string) {
	t.Helper()
	o.Token = testToken
	o.Temp = t.TempDir()
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	at, stop, done := serveOn(t, s)
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, at
}

// serveOn serves on a free port of the loopback until stop.
func serveOn(t *testing.T, s *Server) (at string, stop context.CancelFunc, done chan error) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done = make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	return "http://" + l.Addr().String(), stop, done
}

func TestServe_200_parallel_requests_are_served_or_refused(t *testing.T) {
	_, at := live(t, Options{MaxRequests: 8})
	id := open(t, at)
	rev := field(t, get(t, at+"/api/artworks/"+id, 200), "rev")
	var served, refused atomic.Int32
	var wg sync.WaitGroup
	for i := range 200 {
		wg.Go(func() {
			req := request(t, "GET", fmt.Sprintf("%s/api/tiles/%s/%s/1/%d/%d/%d", at, id, rev, 4+i%6, i%3, i%2), "")
			res, err := http.DefaultClient.Do(req)
			if err != nil {
				t.Error(err)
				return
			}
			defer res.Body.Close()
			if _, err := io.Copy(io.Discard, res.Body); err != nil {
				t.Error(err)
			}
			switch res.StatusCode {
			case 200, 204:
				served.Add(1)
			case 429, 503:
				refused.Add(1)
				if res.Header.Get("Retry-After") == "" {
					t.Error("refused without Retry-After")
				}
			default:
				t.Errorf("answered %d", res.StatusCode)
			}
		})
	}
	wg.Wait()
	if served.Load() == 0 || served.Load()+refused.Load() != 200 {
		t.Errorf("%d served, %d refused", served.Load(), refused.Load())
	}
	get(t, at+"/api/state", 200)
}

func TestServe_headers_that_are_too_large_are_refused(t *testing.T) {
	_, at := live(t, Options{})
	c, err := net.Dial("tcp", strings.TrimPrefix(at, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.SetDeadline(time.Now().Add(10 * time.Second)); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(c, "GET /api/state HTTP/1.1\r\nHost: localhost\r\nX-Long: %s\r\n\r\n", strings.Repeat("x", 2*headerBytes))
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("answered %d", res.StatusCode)
	}
}

func TestLimited_holds_only_so_many_connections(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := newLimited(inner, 1)
	taken := make(chan net.Conn, 2)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				close(taken)
				return
			}
			taken <- c
		}
	}()
	for range 2 {
		c, err := net.Dial("tcp", inner.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	first := <-taken
	select {
	case <-taken:
		t.Error("a second connection was taken beside the first")
	case <-time.After(50 * time.Millisecond):
	}
	first.Close()
	(<-taken).Close()
	l.Close()
	if _, open := <-taken; open {
		t.Error("a connection was taken after the end")
	}
}
