// Package archtest keeps the shape of the program: which package may import which, what every
// package must have, and what the text of the project must not say.
package archtest

import (
	"bufio"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

const module = "laydown/internal/"

// allowed is the import table of docs/architecture.md: package -> internal packages it may import.
// Small nouns everybody may import are listed once in everywhere.
var everywhere = []string{"geom", "colourant", "limits", "finding", "instrument"}

var allowed = map[string][]string{
	"geom": {}, "colourant": {}, "limits": {}, "finding": {}, "instrument": {},

	"press": {},
	"cgats": {},

	"artwork/pdf":         {},
	"artwork/content":     {"artwork/pdf"},
	"artwork/font":        {"artwork/pdf", "artwork/content"},
	"artwork/colour":      {"artwork/pdf"},
	"artwork/image":       {"artwork/pdf", "artwork/colour", "artwork/image/fax", "artwork/image/jpx", "artwork/image/jbig2"},
	"artwork/image/mq":    {},
	"artwork/image/fax":   {},
	"artwork/image/jpx":   {"artwork/image/mq"},
	"artwork/image/jbig2": {"artwork/image/mq", "artwork/image/fax"},
	"artwork/displist":    {"artwork/pdf", "artwork/colour", "artwork/image"},
	"artwork/interp": {"artwork/pdf", "artwork/content", "artwork/font", "artwork/colour", "artwork/image",
		"artwork/displist"},

	"plates/raster":   {},
	"plates/distance": {},
	"plates/outline":  {},
	"plates/plate":    {},
	"plates/separate": {"artwork/displist", "artwork/colour", "artwork/image", "press"},
	"plates/paint": {"artwork/displist", "artwork/colour", "artwork/image", "plates/raster", "plates/separate",
		"plates/plate"},

	"look":  {"press", "cgats", "plates/plate"},
	"check": {"press", "artwork/pdf", "artwork/displist", "artwork/colour", "artwork/image", "plates/plate", "plates/separate", "plates/raster", "plates/paint", "plates/distance"},

	"plan": {"press", "plates/plate"},

	"mend": {"press", "artwork/pdf", "artwork/content", "artwork/font", "artwork/colour", "artwork/image", "artwork/displist",
		"plates/plate", "plates/separate", "plates/raster", "plates/paint", "plates/distance", "plates/outline"},

	"plan/sheet": {},

	// What goes to the press room.
	"handover/ticket": {},
	"handover/sheets": {"artwork/pdf", "artwork/interp", "plan/sheet"},
	"handover":        {"handover/ticket", "handover/pdfpage"},

	// Our own pages.
	"handover/pdfpage": {"artwork/pdf", "artwork/font"},
	"handover/proof":   {"handover/pdfpage"},
	"handover/starter": {"artwork/pdf", "press", "handover/pdfpage"},
	"handover/artwork": {"artwork/pdf", "artwork/content", "artwork/colour", "artwork/image", "artwork/displist", "plates/separate", "plates/paint"},

	// The two doors to a person: report writes what a person reads, demo draws the shipped example.
	"report": {"press", "plates/plate", "check", "plan"},
	"demo":   {"artwork/pdf", "artwork/font", "press"},

	"app": {"*"},

	// The page: its sources, and the server that bundles and answers them.
	"web/ui": {},
	"web":    {"app", "press", "mend", "plates/plate", "web/ui"},

	"cli": {"app", "press", "plan", "plates/plate", "mend", "web", "handover"},
}

// testOnly packages may import anything and must not be imported by code that ships.
var testOnly = map[string]bool{"archtest": true, "golden": true, "pdfbuild": true, "sameseed": true, "slowpaint": true, "stress": true, "truth": true, "web/browser": true}

func root(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Dir(filepath.Dir(dir))
}

// goFiles calls f for each Go file below the module root with its slash path.
func goFiles(t *testing.T, f func(path, full string)) {
	t.Helper()
	base := root(t)
	err := filepath.WalkDir(base, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == ".git" || d.Name() == "testdata" || d.Name() == "out") {
			return filepath.SkipDir
		}
		if strings.HasSuffix(p, ".go") {
			rel, err := filepath.Rel(base, p)
			if err != nil {
				return err
			}
			f(filepath.ToSlash(rel), p)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestImports_follow_the_pipeline(t *testing.T) {
	seen := 0
	goFiles(t, func(path, full string) {
		if strings.HasSuffix(path, "_test.go") || !strings.HasPrefix(path, "internal/") {
			return
		}
		pkg := strings.TrimPrefix(filepath.ToSlash(filepath.Dir(path)), "internal/")
		if testOnly[pkg] {
			return
		}
		may, ok := allowed[pkg]
		if !ok {
			t.Errorf("%s: package %s is not in the import table; add it there and to docs/architecture.md", path, pkg)
			return
		}
		seen++
		file, err := parser.ParseFile(token.NewFileSet(), full, nil, parser.ImportsOnly)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return
		}
		for _, imp := range file.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if !strings.HasPrefix(name, module) {
				continue
			}
			name = strings.TrimPrefix(name, module)
			if testOnly[name] {
				t.Errorf("%s imports %s, which is for tests only", path, name)
			} else if !contains(everywhere, name) && !contains(may, name) && !contains(may, "*") {
				t.Errorf("%s imports %s: the pipeline does not allow it", path, name)
			}
		}
	})
	if seen < 20 {
		t.Fatalf("only %d files were looked at: the walk is broken", seen)
	}
}

func TestCommand_is_ten_lines_and_calls_cli_only(t *testing.T) {
	full := filepath.Join(root(t), "cmd", "laydown", "main.go")
	file, err := parser.ParseFile(token.NewFileSet(), full, nil, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}
	for _, imp := range file.Imports {
		name := strings.Trim(imp.Path.Value, `"`)
		if strings.HasPrefix(name, module) && name != module+"cli" {
			t.Errorf("cmd/laydown imports %s; only cli is allowed", name)
		}
	}
}

func TestPackages_have_a_doc_comment(t *testing.T) {
	docs := map[string]bool{}
	goFiles(t, func(path, full string) {
		if strings.HasSuffix(path, "_test.go") && !strings.HasPrefix(path, "internal/archtest") {
			return
		}
		file, err := parser.ParseFile(token.NewFileSet(), full, nil, parser.PackageClauseOnly|parser.ParseComments)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return
		}
		dir := filepath.Dir(path)
		docs[dir] = docs[dir] || file.Doc != nil
	})
	for dir, ok := range docs {
		if !ok {
			t.Errorf("%s has no package comment", dir)
		}
	}
}

func TestPrinting_happens_in_cli_only(t *testing.T) {
	printing := regexp.MustCompile(`\b(fmt\.Print(f|ln)?\(|os\.Std(out|err)|log\.(Print|Fatal|Panic))`)
	goFiles(t, func(path, full string) {
		if strings.HasSuffix(path, "_test.go") || strings.HasPrefix(path, "internal/cli/") || strings.HasPrefix(path, "cmd/") {
			return
		}
		f, err := os.Open(full)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		sc := bufio.NewScanner(f)
		sc.Buffer(nil, 1<<20)
		for n := 1; sc.Scan(); n++ {
			line := sc.Text()
			if i := strings.Index(line, "//"); i >= 0 {
				line = line[:i]
			}
			if printing.MatchString(line) {
				t.Errorf("%s:%d prints; only cli speaks to the terminal", path, n)
			}
		}
	})
}

func TestCode_has_no_leftover_marks(t *testing.T) {
	left := regexp.MustCompile(`panic\("unwritten"\)|\bTO` + `DO\b|\bFIX` + `ME\b|\bX` + `XX\b`)
	goFiles(t, func(path, full string) {
		b, err := os.ReadFile(full)
		if err != nil {
			t.Fatal(err)
		}
		if path == "internal/archtest/archtest_test.go" {
			return
		}
		if m := left.Find(b); m != nil {
			t.Errorf("%s holds %q", path, m)
		}
	})
}

func TestArchitecture_page_names_every_package(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root(t), "docs", "architecture.md"))
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range allowed {
		if !strings.Contains(string(b), "`"+pkg+"`") {
			t.Errorf("docs/architecture.md does not name `%s`", pkg)
		}
	}
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}
