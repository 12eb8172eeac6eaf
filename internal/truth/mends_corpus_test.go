package truth

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/colourant"
	"laydown/internal/finding"
	"laydown/internal/mend"
	"laydown/internal/plates/separate"
)

// renamed is a name that no file of the corpus has.
const renamed = "RenamedColourant"

// renamePages is how many pages of a file are searched for one with a special colourant; it is painted at renameDPI.
const (
	renamePages = 3
	renameDPI   = 36
)

// pageReader reads pages of a document for remedies, without a press.
func pageReader(doc *pdf.Document) mend.Reader {
	r := interp.NewReader(doc, finding.Discard)
	return func(ctx context.Context, n int) (*mend.Page, error) {
		list, err := r.Page(ctx, n, interp.Options{Sink: finding.Discard})
		if err != nil {
			return nil, err
		}
		return &mend.Page{List: list, Target: separate.NewTargetFromLists(colour.NewConverter(nil), finding.Discard, list)}, nil
	}
}

// specialsOf are the special colourants of the first page of a file that has any.
func specialsOf(data []byte) (page int, names []string) {
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil {
		return 0, nil
	}
	read := pageReader(doc)
	for n := 1; n <= min(doc.NumPages(), renamePages); n++ {
		p, err := read(context.Background(), n)
		if err != nil {
			continue
		}
		for _, c := range p.Target.Set.All()[len(colourant.ProcessNames):] {
			names = append(names, c.Name)
		}
		if len(names) > 0 {
			return n, names
		}
	}
	return 0, nil
}

// rename gives a colourant of a page another name.
func rename(data []byte, page int, from string) (out []byte, repaired bool, err error) {
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{})
	if err != nil {
		return nil, false, err
	}
	r, _ := mend.Find("rename-colourant")
	e := mend.NewEdit(doc, mend.Input{}, []int{page}, pageReader(doc))
	if err := r.Apply(context.Background(), e, mend.Options{"from": from, "to": renamed}); err != nil {
		return nil, false, err
	}
	up, err := e.Update()
	if err != nil {
		return nil, false, err
	}
	if !e.Changed() {
		return nil, false, fmt.Errorf("nothing was changed")
	}
	var b bytes.Buffer
	_, err = up.WriteTo(io.Writer(&b))
	return b.Bytes(), doc.Repaired(), err
}

// TestTruth_renameOnTheCorpus: renaming a colourant of a public file leaves every other plate as it is, that one too but
// for its name, and by another program's reading no object is lost and none differs but by that name.
func TestTruth_renameOnTheCorpus(t *testing.T) {
	if testing.Short() {
		t.Skip("reads the whole corpus")
	}
	program(t, "qpdf")
	files, colourants, graphs := 0, 0, 0
	for _, file := range corpus(t) {
		id := idOf(t, file)
		if *only != "" && !strings.Contains(id, *only) {
			continue
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		page, names := specialsOf(data)
		if len(names) == 0 {
			continue
		}
		files++
		before, err := paintPage(context.Background(), data, page, renameDPI, interp.Options{}, nil)
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		graph, sound := graphOf(t, data)
		for k, from := range names {
			mended, repaired, err := rename(data, page, from)
			if err != nil {
				t.Errorf("%s, special %d: %v", id, k+1, err)
				continue
			}
			colourants++
			after, err := paintPage(context.Background(), mended, page, renameDPI, interp.Options{}, nil)
			if err != nil {
				t.Errorf("%s, special %d: %v", id, k+1, err)
				continue
			}
			sameButForTheName(t, fmt.Sprintf("%s, special %d", id, k+1), before, after, from)
			if repaired || graph == nil {
				continue // written anew as a whole, or not read by the other program
			}
			if !bytes.HasPrefix(mended, data) {
				t.Errorf("%s, special %d: the file does not start with the bytes it had", id, k+1)
			}
			now, still := graphOf(t, mended)
			if now == nil || sound && !still {
				t.Errorf("%s, special %d: the file was well made and is not any more", id, k+1)
				continue
			}
			graphs++
			for _, what := range graph.lost(now, from) {
				t.Errorf("%s, special %d: %s", id, k+1, what)
			}
		}
	}
	t.Logf("%d files, %d colourants, %d graphs of objects", files, colourants, graphs)
}

// sameButForTheName compares the plates of a page before and after.
func sameButForTheName(t *testing.T, where string, before, after *painted, from string) {
	t.Helper()
	for i, c := range before.Stack.Set.All() {
		name := c.Name
		if name == from {
			name = renamed
		}
		plane, ok := after.Stack.Lookup(name)
		if n := differing(before.Stack.Plane(i), plane); n > 0 || !ok && before.Stack.Plane(i) != nil {
			t.Errorf("%s: plate %d of %d differs on %d pixels", where, i+1, before.Stack.Set.Len(), n)
		}
	}
	if a, b := before.Stack.Set.Len(), after.Stack.Set.Len(); a != b {
		t.Errorf("%s: %d plates before, %d after", where, a, b)
	}
}

// graph are the objects of a file as qpdf reads them.
type graph struct {
	objects map[string]any // by "obj:N G R"; "trailer" too
	reached []string
}

// graphOf reads the objects of a file; nil when qpdf cannot. sound tells that it has nothing to say against the file.
func graphOf(t *testing.T, data []byte) (g *graph, sound bool) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "graph.pdf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	check, err := exec.Command("qpdf", "--check", file).CombinedOutput()
	sound = err == nil && !bytes.Contains(check, []byte("WARNING"))
	text, _ := exec.Command("qpdf", "--json=2", "--json-key=qpdf", "--json-stream-data=none", file).Output()
	var doc struct{ Qpdf []map[string]json.RawMessage }
	if json.Unmarshal(text, &doc) != nil || len(doc.Qpdf) != 2 {
		return nil, sound
	}
	g = &graph{objects: map[string]any{}}
	for k, raw := range doc.Qpdf[1] {
		var v any
		if err := json.Unmarshal(raw, &v); err != nil {
			t.Fatal(err)
		}
		g.objects[k] = v
	}
	seen := map[string]bool{}
	var visit func(v any)
	visit = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				if k != "/Prev" {
					visit(x)
				}
			}
		case []any:
			for _, x := range v {
				visit(x)
			}
		case string:
			if key := "obj:" + v; strings.HasSuffix(v, " R") && g.objects[key] != nil && !seen[key] {
				seen[key] = true
				g.reached = append(g.reached, key)
				visit(g.objects[key])
			}
		}
	}
	visit(g.objects["trailer"])
	slices.Sort(g.reached)
	return g, sound
}

// lost tells which objects are reached no more, and which differ by more than the name.
func (g *graph) lost(now *graph, from string) (out []string) {
	names := []string{"/" + from, string(pdf.AppendObject(nil, pdf.Name(from)))}
	for _, n := range names {
		names = append(names, "n:"+n)
	}
	called := func(s string) string {
		if slices.Contains(names, s) {
			return "/" + renamed
		}
		return s
	}
	var same func(a, b any) bool
	same = func(a, b any) bool {
		switch a := a.(type) {
		case map[string]any:
			m, ok := b.(map[string]any)
			if !ok || len(m) != len(a) {
				return false
			}
			for k, v := range a {
				w, ok := m[k]
				if !ok {
					w, ok = m[called(k)]
				}
				if !ok || k != "/Length" && !same(v, w) {
					return false
				}
			}
			return true
		case []any:
			l, ok := b.([]any)
			if !ok || len(l) != len(a) {
				return false
			}
			for i := range a {
				if !same(a[i], l[i]) {
					return false
				}
			}
			return true
		case string:
			s, ok := b.(string)
			return ok && (a == s || called(a) == s)
		}
		return a == b
	}
	for _, key := range g.reached {
		if _, ok := slices.BinarySearch(now.reached, key); !ok {
			out = append(out, key+" is not reached any more")
		} else if !same(g.objects[key], now.objects[key]) {
			out = append(out, key+" differs by more than the name")
		}
	}
	return out
}
