package web

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// quoted is a text as JSON.
func quoted(t *testing.T, s string) string {
	t.Helper()
	b, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestDraft_counts_as_a_stock_wherever_one_is_named(t *testing.T) {
	_, h := serve(t, Options{})
	d := post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, 201)
	id := field(t, d, "id")
	if list := get(t, h.URL+"/api/stocks", 200); !strings.Contains(list, `"draft":"`+id+`"`) {
		t.Errorf("it is not among the stocks")
	}
	upload(t, h.URL+"/api/artworks?stock="+id, card(), 201)
	a := open(t, h.URL)
	for _, words := range []string{`{"press":"two-set","stock":"` + id + `","job":""}`, `{"press":"","stock":"","job":"artwork: x.pdf\npress: two-set\nstock: ` + id + `\n"}`} {
		before := field(t, put(t, h.URL+"/api/artworks/"+a+"/setup", words, 200), "rev")
		text := strings.Replace(field(t, get(t, h.URL+"/api/drafts/"+id, 200), "yaml"), "title: ", "title: Own ", 1)
		if changed := put(t, h.URL+"/api/drafts/"+id, `{"yaml":`+quoted(t, text)+`}`, 200); field(t, changed, "yaml") != text || !strings.HasPrefix(field(t, changed, "form.title"), "Own") {
			t.Errorf("%s", changed)
		}
		if after := field(t, get(t, h.URL+"/api/artworks/"+a, 200), "rev"); after == before {
			t.Error("the artwork is still looked at with the text before")
		}
		get(t, h.URL+"/api/artworks/"+a+"/pages/1?rev="+before, 200) // as before, for a page that does not know yet
	}
	ask(t, "DELETE", h.URL+"/api/drafts/"+id, "", 409)
	if file := get(t, h.URL+"/api/drafts/"+id+"/file", 200); !strings.Contains(file, "title: Own Own ") {
		t.Errorf("the file is %.200s", file)
	}
}

func TestDraft_that_does_not_fit_a_job_leaves_the_artwork_as_it_was(t *testing.T) {
	_, h := serve(t, Options{})
	id := field(t, post(t, h.URL+"/api/drafts", `{"kind":"press","from":"two-set"}`, 201), "id")
	a := open(t, h.URL)
	job := "artwork: x.pdf\npress: two-set\nstock: black-board\nwishes:\n  underlay:\n    - {toner: White, under: [process]}\n"
	before := put(t, h.URL+"/api/artworks/"+a+"/setup", `{"press":"`+id+`","stock":"","job":`+quoted(t, job)+`}`, 200)
	text := strings.ReplaceAll(field(t, get(t, h.URL+"/api/drafts/"+id, 200), "yaml"), "White", "Milk")
	put(t, h.URL+"/api/drafts/"+id, `{"yaml":`+quoted(t, text)+`}`, 200)
	after := get(t, h.URL+"/api/artworks/"+a, 200)
	if field(t, after, "rev") != field(t, before, "rev") || !strings.Contains(field(t, after, "setup.problem.what"), "White") || field(t, after, "setup.problem.line") != "6" {
		t.Errorf("%s", after)
	}
	get(t, h.URL+"/api/artworks/"+a+"/pages/1", 200)
	fixed := put(t, h.URL+"/api/artworks/"+a+"/setup", `{"press":"`+id+`","stock":"","job":`+quoted(t, strings.ReplaceAll(job, "White", "Milk"))+`}`, 200)
	if strings.Contains(fixed, "problem") {
		t.Errorf("%s", fixed)
	}
}

func TestDraft_refuses_texts_with_their_places(t *testing.T) {
	_, h := serve(t, Options{})
	id := field(t, post(t, h.URL+"/api/drafts", `{"kind":"press","from":"two-set"}`, 201), "id")
	yaml := field(t, get(t, h.URL+"/api/drafts/"+id, 200), "yaml")
	for text, says := range map[string]string{
		strings.Replace(yaml, "\nsets:", "\nset:", 1):    "sets",
		strings.Replace(yaml, "\ntitle:", "\ntitel:", 1): "title",
		"a: [": "", "": "", "name: {{{": "",
	} {
		got := put(t, h.URL+"/api/drafts/"+id, `{"yaml":`+quoted(t, text)+`}`, 422)
		if !strings.Contains(got, says) || says != "" && !strings.Contains(got, `"line":`) {
			t.Errorf("%.40q: %s", text, got)
		}
	}
	if field(t, get(t, h.URL+"/api/drafts/"+id, 200), "yaml") != yaml {
		t.Error("a text that was refused was kept")
	}
}

func TestDraft_reads_no_files(t *testing.T) {
	_, h := serve(t, Options{})
	id := field(t, post(t, h.URL+"/api/drafts", `{"kind":"press","from":"two-set"}`, 201), "id")
	yaml := field(t, get(t, h.URL+"/api/drafts/"+id, 200), "yaml")
	own := filepath.Join(t.TempDir(), "own.icc")
	if err := os.WriteFile(own, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"profile: " + own, "profile: ../own.icc", "profile: own*.icc", "characterisation: " + own, "characterisation: own.txt"} {
		got := put(t, h.URL+"/api/drafts/"+id, `{"yaml":`+quoted(t, yaml+"\n"+line+"\n")+`}`, 422)
		if strings.Contains(got, "secret") || !strings.Contains(got, `"line":`) {
			t.Errorf("%s: %s", line, got)
		}
	}
}

func TestDrafts_begin_from_what_is_known_and_are_only_so_many(t *testing.T) {
	_, h := serve(t, Options{})
	for _, body := range []string{`{"kind":"job","from":"x"}`, `{"kind":"press","from":"black-board"}`, `{"kind":"stock","from":"../black-board"}`, `{"kind":"press","from":"draft-9"}`} {
		post(t, h.URL+"/api/drafts", body, 422)
	}
	first := field(t, post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, 201), "id")
	for range maxDrafts - 1 {
		post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"`+first+`"}`, 201)
	}
	post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, 409)
	ask(t, "DELETE", h.URL+"/api/drafts/"+first, "", 204)
	get(t, h.URL+"/api/drafts/"+first, 404)
	post(t, h.URL+"/api/drafts", `{"kind":"stock","from":"black-board"}`, 201)
}
