package web

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"unicode"
	"unicode/utf8"
)

func TestPage_is_bundled_from_its_sources(t *testing.T) {
	_, h := serve(t, Options{})
	for path, want := range map[string]string{"/": "<!doctype html>", "/app.js": "/api/", "/app.css": "{"} {
		if code, body := send(t, "GET", h.URL+path, ""); code != 200 || !strings.Contains(body, want) {
			t.Errorf("%s: %d, %q is not in it", path, code, want)
		}
	}
}

func TestPage_is_sent_again_only_when_it_has_changed(t *testing.T) {
	_, h := serve(t, Options{})
	res, err := http.DefaultClient.Do(request(t, "GET", h.URL+"/app.js", ""))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if code, body := do(t, request(t, "GET", h.URL+"/app.js", "", "If-None-Match", res.Header.Get("ETag"))); code != http.StatusNotModified || body != "" {
		t.Errorf("answered %d with %d bytes", code, len(body))
	}
}

func TestBundle_faults_of_the_sources_are_told_with_their_place(t *testing.T) {
	page := func(main string, more ...string) fstest.MapFS {
		f := fstest.MapFS{"page/main.ts": {Data: []byte(main)}, "app.css": {Data: []byte("a{}")}, "index.html": {Data: []byte("<p>")}}
		for i := 0; i < len(more); i += 2 {
			f[more[i]] = &fstest.MapFile{Data: []byte(more[i+1])}
		}
		return f
	}
	for what, c := range map[string]struct {
		src  fstest.MapFS
		says string
	}{
		"syntax":          {page("let a: number = ;"), "page/main.ts:1:16"},
		"no such source":  {page(`import "./none"`), "there is no source page/none"},
		"a package":       {page(`import "left-pad"`), "left-pad is not a source of the page"},
		"out of the page": {page(`import "../../secret"`), "there is no source ../secret"},
		"the styles":      {page("", "app.css", "a { color: red "), "app.css:1"},
	} {
		if _, err := newAssets(c.src, false); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", what, err)
		}
	}
	js, css, err := bundle(page(`import { b } from "../b"; console.log(b as number)`, "b.ts", "export const b: number = 12345", "app.css", `@import "./page/more.css"; a{color:red}`, "page/more.css", "b{color:blue}"))
	if err != nil || !strings.Contains(string(js), "12345") || !strings.Contains(string(css), "b{") {
		t.Errorf("%s %s %v", js, css, err)
	}
}

func TestPage_in_a_folder_is_bundled_for_every_request(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("index.html", "<p>")
	write("app.css", "a{}")
	write("page/main.ts", `console.log("first")`)
	_, h := serve(t, Options{Dir: dir})
	write("page/main.ts", `console.log("second")`)
	if got := get(t, h.URL+"/app.js", 200); !strings.Contains(got, "second") {
		t.Errorf("%s", got)
	}
	write("page/main.ts", `console.log(`)
	if got := get(t, h.URL+"/app.js", 500); !strings.Contains(got, "page/main.ts:1") {
		t.Errorf("%s", got)
	}
}

func TestAddresses_that_are_none_are_told_apart_from_wrong_methods(t *testing.T) {
	_, h := serve(t, Options{})
	for path, want := range map[string]int{"GET /nothing": 404, "POST /api/state": 405, "DELETE /api/artworks": 405, "GET /api/artworks/x/setup": 405, "PATCH /api/artworks/x": 405, "GET /api": 404} {
		method, path, _ := strings.Cut(path, " ")
		code, body := send(t, method, h.URL+path, "")
		if code != want || want == 405 && !strings.Contains(body, "it takes") {
			t.Errorf("%s %s: %d %s", method, path, code, body)
		}
	}
}

func FuzzLabel(f *testing.F) {
	for _, s := range []string{"a.pdf", "../x", "\xff", "a\u202eb", strings.Repeat("é", 400), "CON.pdf", ". .", "a.PDF.pdf"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		l := label(name)
		if !utf8.ValidString(l) || !strings.HasSuffix(l, ".pdf") || strings.ContainsAny(l, `/\:*?"<>|`) || strings.HasPrefix(l, ".") || len([]rune(l)) > 2*maxLabel || l == ".pdf" {
			t.Errorf("%q becomes %q", name, l)
		}
		for _, r := range l {
			if !unicode.IsPrint(r) {
				t.Errorf("%q becomes %q, which holds %U", name, l, r)
			}
		}
		if again := label(l); again != l && len([]rune(l)) <= maxLabel {
			t.Errorf("%q becomes %q, and that %q", name, l, again)
		}
	})
}
