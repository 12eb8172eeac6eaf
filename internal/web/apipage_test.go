package web

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"laydown/internal/app"
)

// example is a request written in docs/api.md with what is written of its answer.
type example struct {
	heading, request string
	status           int
	kind, answer     string
}

func apiPage(t *testing.T) (headings []string, examples []example) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "docs", "api.md"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	head := regexp.MustCompile("^### `([A-Z]+ [^`]+)`$")
	says := regexp.MustCompile(`^→ (\d+) (\S+)$`)
	var e *example
	block := ""
	for sc := bufio.NewScanner(f); sc.Scan(); {
		line := sc.Text()
		switch {
		case block != "" && line == "```":
			block = ""
		case block == "sh":
			e.request += line + "\n"
		case block == "json":
			e.answer += line + "\n"
		case block != "":
		case line == "```sh":
			examples = append(examples, example{heading: headings[len(headings)-1]})
			e, block = &examples[len(examples)-1], "sh"
		case line == "```json":
			block = "json"
		case line == "```":
			block = "other"
		default:
			if m := head.FindStringSubmatch(line); m != nil {
				headings = append(headings, m[1])
			} else if m := says.FindStringSubmatch(line); m != nil {
				e.status, _ = strconv.Atoi(m[1])
				e.kind = m[2]
			}
		}
	}
	return headings, examples
}

func TestApiPage_names_every_address(t *testing.T) {
	s, _ := serve(t, Options{})
	written, _ := apiPage(t)
	have := map[string]bool{}
	for _, h := range written {
		have[h] = true
	}
	for _, r := range s.routes {
		p := strings.Replace(r.pattern, "{$}", "", 1)
		if !have[p] {
			t.Errorf("docs/api.md does not name %s", p)
		}
		delete(have, p)
	}
	for h := range have {
		t.Errorf("docs/api.md names %s, which the server does not know", h)
	}
}

func TestApiPage_tells_the_truth(t *testing.T) {
	if testing.Short() {
		t.Skip("runs checks, a mend and a report")
	}
	s, h := serve(t, Options{})
	s.dpi = 75 // the figures are not looked at
	ticket, _, err := app.Example(false)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{"@ticket.pdf": string(ticket)}
	vars := map[string]string{"$AT": h.URL, "$AUTH": "Authorization: Bearer " + testToken}
	_, examples := apiPage(t)
	for _, e := range examples {
		code, kind, body := curl(t, e.request, vars, files)
		if code != e.status || !strings.HasPrefix(kind, e.kind) {
			t.Fatalf("%s: %s answers %d %s, written is %d %s: %.300s", e.heading, e.request, code, kind, e.status, e.kind, body)
		}
		if e.answer == "" {
			continue
		}
		var want, got any
		if err := json.Unmarshal([]byte(e.answer), &want); err != nil {
			t.Fatalf("%s: the answer written is no JSON: %v", e.heading, err)
		}
		if err := json.Unmarshal([]byte(body), &got); err != nil {
			t.Fatalf("%s: %v: %.300s", e.heading, err, body)
		}
		alike(t, e.heading, want, got)
		remember(t, s, got, vars)
	}
}

// remember takes identifiers out of an answer, and waits for the end of a job.
func remember(t *testing.T, s *Server, v any, vars map[string]string) {
	t.Helper()
	o, ok := v.(map[string]any)
	id, _ := o["id"].(string)
	switch {
	case !ok || id == "":
	case o["versions"] != nil:
		vars["$ID"], vars["$REV"] = id, o["rev"].(string)
	case o["state"] != nil:
		vars["$JOB"] = id
		await(t, s, id)
	case o["yaml"] != nil:
		vars["$DRAFT"] = id
	}
}

// await waits for the end of a job.
func await(t *testing.T, s *Server, id string) job {
	t.Helper()
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if j, ok := s.queue.find(id); !ok || j.ending() {
			return j
		}
	}
	t.Fatalf("the job %s does not end", id)
	return job{}
}

// curl carries out a curl command of one line, as far as docs/api.md uses it.
func curl(t *testing.T, line string, vars, files map[string]string) (status int, kind, body string) {
	t.Helper()
	words := shellWords(line)
	method, url, data := "", "", ""
	head := http.Header{}
	for i := 1; i < len(words); i++ {
		w := os.Expand(words[i], func(name string) string { return vars["$"+name] })
		switch {
		case words[i-1] == "-H":
			k, v, _ := strings.Cut(w, ": ")
			head.Set(k, v)
		case words[i-1] == "-X":
			method = w
		case words[i-1] == "--json":
			data = w
			head.Set("Content-Type", "application/json")
		case words[i-1] == "--data-binary":
			data = files[w]
		case !strings.HasPrefix(w, "-"):
			url = w
		}
	}
	if method == "" && data != "" {
		method = "POST"
	}
	req, err := http.NewRequest(method, url, strings.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	req.Header = head
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, res.Header.Get("Content-Type"), string(b)
}

// shellWords splits a line at spaces outside of quotes.
func shellWords(line string) (out []string) {
	word, quote := "", rune(0)
	for _, r := range strings.TrimSpace(line) {
		switch {
		case r == quote:
			quote = 0
		case quote == 0 && (r == '"' || r == '\''):
			quote = r
		case quote == 0 && r == ' ':
			out = append(out, word)
			word = ""
		default:
			word += string(r)
		}
	}
	return append(out, word)
}

// alike holds an answer against the one written: the same keys and kinds of values.
func alike(t *testing.T, at string, want, got any) {
	t.Helper()
	if a, b := fmt.Sprintf("%T", want), fmt.Sprintf("%T", got); a != b {
		t.Errorf("%s: the answer is %s, written is %s", at, b, a)
		return
	}
	switch w := want.(type) {
	case map[string]any:
		g := got.(map[string]any)
		_, others := w["…"]
		for k, v := range w {
			if k == "…" {
				continue
			}
			if _, ok := g[k]; !ok {
				t.Errorf("%s: the answer has no %s", at, k)
			} else {
				alike(t, at+"."+k, v, g[k])
			}
		}
		for k := range g {
			if _, ok := w[k]; !ok && !others {
				t.Errorf("%s: %s is not written", at, k)
			}
		}
	case []any:
		g := got.([]any)
		if len(w) == 0 || len(g) == 0 {
			if len(w) != len(g) {
				t.Errorf("%s: the list has %d, written are %d", at, len(g), len(w))
			}
			return
		}
		alike(t, at+"[0]", w[0], g[0])
	}
}
