package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"laydown/internal/demo"
)

// fixtures writes the example artwork and its job into a folder and goes there.
func fixtures(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, data := range map[string][]byte{"sound.pdf": ticket(t, false), "faulty.pdf": ticket(t, true), "job.yaml": []byte(demo.JobYAML())} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// With --json every command writes one JSON value to standard output and nothing else.
func TestEveryCommandWritesJSON(t *testing.T) {
	fixtures(t)
	for _, c := range []struct {
		args string
		code int
		keys string // of the object; "" = it is a list
	}{
		{"demo --out d", 0, "file clean fail_on findings pages press stock"},
		{"prepare sound.pdf --job job.yaml --out o --dpi 72", 0, "file clean fail_on findings pages press stock"},
		{"check faulty.pdf --job job.yaml --dpi 100", 1, "file clean fail_on findings pages press stock"},
		{"check --rules", 0, ""},
		{"plates sound.pdf --out p --dpi 36", 0, "file pages findings"},
		{"look sound.pdf --out look.png --dpi 36", 0, "page stock dpi laydown pictures toners findings"},
		{"look sound.pdf --job job.yaml --at 61mm,18.5mm", 0, "lab srgb plates pile page stock toners findings"},
		{"diff sound.pdf faulty.pdf --out dd --dpi 36", 1, "pages"},
		{"press book two-set --stock kraft --out book", 0, "press pages"},
		{"mend faulty.pdf --job job.yaml --dpi 72 --do set-boxes --out m.pdf", 0, "file out steps difference before after answered"},
		{"assign faulty.pdf --job job.yaml --dpi 72 --to Gold --kind image --out a.pdf", 0, "file out steps difference before after answered"},
		{"mend --remedies", 0, ""},
		{"inspect page faulty.pdf", 0, "page findings"},
		{"inspect list faulty.pdf", 0, "list findings"},
		{"inspect list faulty.pdf --press two-set", 0, "steps findings"},
		{"inspect pixel faulty.pdf --at 150mm,60mm", 0, "page dpi x y touches plates total_area_coverage"},
		{"inspect ops faulty.pdf --page 2", 0, "lines findings"},
		{"inspect object faulty.pdf trailer", 0, "lines findings"},
		{"press list", 0, ""},
		{"press show two-set", 0, "name"},
		{"press schema", 0, "$schema"},
		{"stock list", 0, ""},
		{"stock show midnight-blue-board", 0, "name"},
		{"stock schema", 0, "$schema"},
		{"version", 0, "version"},
		{"check lost.pdf", 2, "error"},
	} {
		t.Run(c.args, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			code := run(context.Background(), append(strings.Fields(c.args), "--json"), &stdout, &stderr)
			if code != c.code {
				t.Fatalf("exit code %d, want %d: %s", code, c.code, stderr.String())
			}
			if code != exitCannot && stderr.Len() > 0 {
				t.Errorf("standard error has %q", stderr.String())
			}
			if c.keys == "" {
				var list []json.RawMessage
				if err := json.Unmarshal(stdout.Bytes(), &list); err != nil || len(list) == 0 {
					t.Fatalf("no list: %v", err)
				}
				return
			}
			var object map[string]json.RawMessage
			if err := json.Unmarshal(stdout.Bytes(), &object); err != nil {
				t.Fatalf("%v in %.200s", err, stdout.String())
			}
			for _, k := range strings.Fields(c.keys) {
				if v, ok := object[k]; !ok || string(v) == "null" {
					t.Errorf("key %q is %s", k, v)
				}
			}
		})
	}
}

func TestStoppedCommandSaysSo(t *testing.T) {
	fixtures(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr bytes.Buffer
	code := run(ctx, strings.Fields("prepare faulty.pdf --job job.yaml --out o"), &stdout, &stderr)
	if code != exitCannot || stderr.String() != "laydown: stopped\n" || stdout.Len() > 0 {
		t.Errorf("exit code %d, stderr %q, stdout %q", code, stderr.String(), stdout.String())
	}
	if _, err := os.Stat("o"); err == nil {
		t.Error("the folder is left")
	}
	if left, _ := filepath.Glob(".*"); len(left) > 0 {
		t.Errorf("left are %v", left)
	}
}

// A file or a pipe gets no progress bar.
func TestProgressIsForTerminals(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "log"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	for name, e := range map[string]*env{"file": {err: f}, "pipe": {err: w}, "buffer": {err: &bytes.Buffer{}}} {
		if bar, _ := e.progress(); bar != nil {
			t.Errorf("a %s gets a bar", name)
		}
	}
}
