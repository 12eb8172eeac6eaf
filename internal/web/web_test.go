package web

import (
	"strings"
	"testing"
)

func TestPage_is_bundled_from_its_sources(t *testing.T) {
	_, h := serve(t, Options{})
	for path, want := range map[string]string{"/": "<canvas", "/app.js": "/api/state", "/app.css": "html"} {
		if code, body := send(t, "GET", h.URL+path, ""); code != 200 || !strings.Contains(body, want) {
			t.Errorf("%s: %d, %q is not in it", path, code, want)
		}
	}
}
