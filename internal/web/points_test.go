package web

import (
	"encoding/base64"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

func TestPoint_and_row_tell_the_same_amounts(t *testing.T) {
	_, h := serve(t, Options{})
	pages := h.URL + "/api/artworks/" + open(t, h.URL) + "/pages/1"
	// The middle of the square in Silver, which begins 20 pt from the left and the bottom of a page 142 pt high.
	p := get(t, pages+"/at?x=17.6&y=32.5", 200)
	if field(t, p, "tints") != `{"Silver":10.2}` { // 26 of 255
		t.Errorf("%s", p)
	}
	if off := get(t, pages+"/at?x=17.6&y=32.5&off=Silver", 200); field(t, off, "srgb") == field(t, p, "srgb") {
		t.Errorf("without Silver it looks the same: %s", off)
	}
	row := get(t, pages+"/row?y=32.5&x0=17&x1=18&n=2", 200)
	var silver string
	if err := json.Unmarshal([]byte(field(t, row, "tints")), &struct{ Silver *string }{&silver}); err != nil {
		t.Fatal(err)
	}
	if b, err := base64.StdEncoding.DecodeString(silver); err != nil || len(b) != 2 || b[0] != 26 || b[1] != 26 {
		t.Errorf("the row is %v %v", b, err)
	}
	for path, want := range map[string]int{"/at": 400, "/at?x=NaN&y=1": 400, "/at?x=1e9&y=1": 422, "/at?x=1&y=1&level=99": 422, "/at?x=1&y=1&level=a": 400, "/row?y=1&x0=0&x1=Inf&n=1": 400,
		"/row?y=1&x0=0&x1=1&n=5000": 422, "/row?y=1&x0=0&x1=1": 422, "/row?y=1&x0=1&x1=0&n=4": 422, "/alike": 422, "/alike?item=99": 422, "/chosen?colour=odd": 422, "/thumb.png?pixels=1": 422, "/thumb.png?pixels=99999": 422} {
		get(t, pages+path, want)
	}
	alike := get(t, pages+"/alike?item=0", 200)
	if got := get(t, pages+"/chosen?colourant=Silver", 200); field(t, got, "boxes") != field(t, alike, "boxes") {
		t.Errorf("%s against %s", got, alike)
	}
	if png := get(t, pages+"/thumb.png", 200); !strings.HasPrefix(png, "\x89PNG") {
		t.Errorf("the thumbnail begins with %q", png[:8])
	}
}

const stronger, weaker = `{"do":["clip-tints:toner=Silver,to=advised"],"page":1}`, `{"do":["rename-colourant:from=Silver,to=Gold"],"page":1}`

func TestTry_shows_a_change_until_the_next(t *testing.T) {
	s, h := serve(t, Options{})
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	rev := field(t, get(t, at, 200), "rev")
	tile := func(rev string, want int) string { return get(t, h.URL+"/api/tiles/"+id+"/"+rev+"/1/3/0/0", want) }
	before := tile(rev, 200)
	first := field(t, post(t, at+"/try", stronger, 200), "rev")
	if first == rev || tile(first, 200) == before {
		t.Error("what is tried looks as before")
	}
	if got := field(t, get(t, at, 200), "trial.rev"); got != first {
		t.Errorf("the artwork tells of %s", got)
	}
	second := field(t, post(t, at+"/try", weaker, 200), "rev")
	tile(first, 200) // a page that has not heard of the second may still ask
	tile(second, 200)
	if again := field(t, post(t, at+"/try", weaker, 200), "rev"); again != second {
		t.Errorf("tried again it is %s, not %s", again, second)
	}
	tile(second, 200)
	tile(first, 410)
	put(t, at+"/setup", `{"press":"two-set","stock":"black-board","job":""}`, 200)
	tile(second, 410)
	put(t, at+"/setup", `{"press":"two-set","stock":"midnight-blue-board","job":""}`, 200)
	if third := post(t, at+"/try", stronger, 200); field(t, third, "rev") != first {
		t.Errorf("the first change has another rev now: %s", third)
	}
	ask(t, "DELETE", at+"/try", "", 204)
	tile(first, 410)
	if tile(rev, 200) != before {
		t.Error("the version itself has changed")
	}
	if left, _ := filepath.Glob(filepath.Join(s.folder.path, id, "*tried*")); len(left) > 0 {
		t.Errorf("%v was left", left)
	}
	if nothing := post(t, at+"/try", `{"do":["clip-tints:toner=Gold,to=advised"],"page":1}`, 200); field(t, nothing, "changed") != "false" || field(t, nothing, "rev") != rev {
		t.Errorf("%s", nothing)
	}
	for _, bad := range []string{`{"do":[],"page":1}`, `{"do":["nothing"],"page":1}`, strings.Replace(stronger, `"page":1`, `"page":2`, 1), `{"do":["to-toner:toner=Nothing,item=0"],"page":1}`} {
		post(t, at+"/try", bad, 422)
	}
}

func TestTry_many_at_a_time_leave_one(t *testing.T) {
	s, h := serve(t, Options{})
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	var wg sync.WaitGroup
	for i := range 12 {
		body := stronger
		if i%2 == 0 {
			body = weaker
		}
		wg.Go(func() {
			if code, got := send(t, "POST", at+"/try", body); code != 200 && code != http.StatusConflict {
				t.Errorf("%d %s", code, got)
			}
		})
	}
	wg.Wait()
	if left, _ := filepath.Glob(filepath.Join(s.folder.path, id, "tried*")); len(left) > 2 { // and the one before
		t.Errorf("%v is left", left)
	}
	if got := field(t, get(t, at, 200), "trial.rev"); got != "" {
		get(t, h.URL+"/api/tiles/"+id+"/"+got+"/1/3/0/0", 200)
	}
}

func TestBenches_of_many_states_are_opened_again(t *testing.T) {
	s, h := serve(t, Options{})
	id := open(t, h.URL)
	at := h.URL + "/api/artworks/" + id
	stocks := []string{"black-board", "white-matt", "midnight-blue-board"}
	var revs []string
	for _, p := range []string{"two-set", "five-station", ""} {
		for _, k := range stocks {
			revs = append(revs, field(t, put(t, at+"/setup", `{"press":"`+p+`","stock":"`+k+`","job":""}`, 200), "rev"))
		}
	}
	var wg sync.WaitGroup
	for range 2 {
		for _, rev := range revs {
			wg.Go(func() { get(t, h.URL+"/api/tiles/"+id+"/"+rev+"/1/2/0/0", 200) })
		}
	}
	wg.Wait()
	if n := len(s.benches.open); n > benchesKept {
		t.Errorf("%d benches are open", n)
	}
	if files, err := os.ReadDir(filepath.Join(s.folder.path, id)); err != nil || len(files) != 1 {
		t.Errorf("%v %v", files, err)
	}
}
