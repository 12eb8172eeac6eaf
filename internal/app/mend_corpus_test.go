package app

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/mend"
)

// TestRenamesLeaveOtherPlatesOfPublicFilesAlone renames a colourant in each public file that has one. Every other plate
// of the first pages stays the same, the renamed one is the very same under its new name, and the graph of
// objects another program reads holds all it held, with changes in those that name the colourant, by themselves or by reference, only.
func TestRenamesLeaveOtherPlatesOfPublicFilesAlone(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/corpus/files/*.pdf")
	if len(files) == 0 {
		t.Skip("the public files are not here")
	}
	if testing.Short() {
		t.Skip("takes minutes")
	}
	setup, err := NewSetup(SetupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	renamed, graphs := 0, 0
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(fmt.Sprintf("%x", sha256.Sum256(data))[:12], func(t *testing.T) {
			did, graph := renameInFile(t, setup, file)
			if did {
				renamed++
			}
			if graph {
				graphs++
			}
		})
	}
	t.Logf("%d of %d files name a colourant; the object graphs of %d were compared", renamed, len(files), graphs)
	if renamed == 0 {
		t.Error("no file was renamed in")
	}
}

const newName = "A Toner Of Another Name"

func renameInFile(t *testing.T, setup *Setup, file string) (did, graph bool) {
	ctx := context.Background()
	art, err := setup.Open(file)
	if err != nil {
		return false, false // not readable without a password, or no PDF
	}
	defer art.Close()
	var pages []int
	name := ""
	for n := 1; n <= min(art.Doc.NumPages(), 3); n++ {
		pages = append(pages, n)
		sh, err := art.Read(ctx, setup, n, ReadOptions{})
		if err != nil {
			return false, false
		}
		for i := 0; name == "" && i < len(sh.List.Names); i++ {
			name = sh.List.Names[i].Name
		}
	}
	if name == "" || !json.Valid([]byte(`"`+strings.NewReplacer(`\`, ``, `"`, ``).Replace(name)+`"`)) {
		return false, false
	}
	out := filepath.Join(t.TempDir(), "renamed.pdf")
	use := mend.Use{Options: mend.Options{"from": name, "to": newName}}
	use.Remedy, _ = mend.Find("rename-colourant")
	e := mend.NewEdit(art.Doc, mend.Input{}, pages, art.mendReader(setup, nil))
	if err := use.Remedy.Apply(ctx, e, use.Options); err != nil {
		t.Skipf("cannot be renamed: %v", strings.ReplaceAll(err.Error(), name, "…"))
	}
	up, err := e.Update()
	if err != nil {
		t.Fatal(err)
	}
	if !e.Changed() {
		return false, false // named in an inline image or a space of a page's own making only
	}
	if err := writeFile(out, func(w io.Writer) error { _, err := up.WriteTo(w); return err }); err != nil {
		t.Fatal(err)
	}
	after, err := setup.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer after.Close()
	d, breaches, err := prove(ctx, art, after, e, DiffRequest{Setup: setup, DPI: 36, Box: BoxMedia, Pages: fmt.Sprintf("1-%d", len(pages))})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range breaches {
		t.Errorf("page %d: something else would differ (%d pixels)", b.Page, b.Pixels)
	}
	for _, p := range d.Pages {
		for _, pl := range p.Plates {
			if !pl.Same && (pl.Colourant != name && pl.Colourant != newName || pl.Twin == "") {
				t.Errorf("page %d: a plate differs by up to %.1f %% on %d pixels", p.Page, pl.Worst, pl.Pixels)
			}
		}
	}
	return true, compareGraphs(t, file, out, name, art.Doc.Repaired())
}

// compareGraphs holds the objects of two files against each other, as qpdf reads them.
func compareGraphs(t *testing.T, before, after, name string, anew bool) bool {
	a, ok := objectsOf(before)
	if !ok || anew {
		return false
	}
	b, ok := objectsOf(after)
	if !ok {
		t.Error("another program cannot read the mended file")
		return false
	}
	escaped, _ := json.Marshal("/" + name)
	for key, was := range a {
		now, there := b[key]
		if !there {
			t.Errorf("object %s is lost", key)
			continue
		}
		// A list of names that is an object of its own is written into the space it belongs to.
		if key != "trailer" && now != was && !strings.Contains(was, strings.Trim(string(escaped), `"`)) && !strings.Contains(now, newName) {
			t.Errorf("object %s changed and does not name the colourant", key)
		}
	}
	return true
}

func objectsOf(file string) (map[string]string, bool) {
	if _, err := exec.LookPath("qpdf"); err != nil {
		return nil, false
	}
	out, err := exec.Command("qpdf", "--json=2", "--json-key=qpdf", "--json-stream-data=none", "--warning-exit-0", file).Output()
	if err != nil {
		return nil, false
	}
	var doc struct {
		QPDF []json.RawMessage `json:"qpdf"`
	}
	if json.Unmarshal(out, &doc) != nil || len(doc.QPDF) < 2 {
		return nil, false
	}
	var objects map[string]json.RawMessage
	if json.Unmarshal(doc.QPDF[1], &objects) != nil {
		return nil, false
	}
	texts := map[string]string{}
	for k, v := range objects {
		texts[k] = string(v)
	}
	return texts, len(texts) > 0
}
