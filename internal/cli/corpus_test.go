package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"laydown/internal/finding"
)

// Bounds on one file of the corpus, whatever is in it. The processor's time is bounded closely; the
// clock only against a hang, because other work may share the machine.
const (
	mostTime   = 30 * time.Second
	mostClock  = 2 * time.Minute
	mostMemory = 1 << 30 // bytes resident
)

// corpusFiles finds the public test files beside the module; the test is skipped without them.
func corpusFiles(t *testing.T) []string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		files, _ := filepath.Glob(filepath.Join(dir, "shared", "corpus", "files", "*"))
		if len(files) > 0 {
			return files
		}
		if dir == filepath.Dir(dir) {
			t.Skip("no corpus folder")
		}
		dir = filepath.Dir(dir)
	}
}

// No file of the corpus crashes the program, hangs it or fills the memory, and what could not be
// seen in full is not called clean.
func TestCorpusIsSurvived(t *testing.T) {
	files := corpusFiles(t)
	if testing.Short() {
		var some []string
		for i := 0; i < len(files); i += 5 {
			some = append(some, files[i])
		}
		files = some
	}
	program := filepath.Join(t.TempDir(), "laydown")
	if out, err := exec.Command("go", "build", "-o", program, "laydown/cmd/laydown").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) { survive(t, program, file) })
	}
}

func survive(t *testing.T, program, file string) {
	out := filepath.Join(t.TempDir(), "out")
	ctx, cancel := context.WithTimeout(context.Background(), mostClock)
	defer cancel()
	var stderr bytes.Buffer
	cmd := exec.CommandContext(ctx, program, "prepare", file, "--press", "two-set", "--stock", "midnight-blue-board", "--out", out, "--dpi", "100")
	cmd.Stderr = &stderr
	err := cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	code, took := cmd.ProcessState.ExitCode(), cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime()
	memory := int64(0)
	if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		memory = u.Maxrss << 10
	}
	t.Logf("exit %d, %.1f s, %d MB", code, took.Seconds(), memory>>20)
	if ctx.Err() != nil {
		t.Fatalf("not done after %v", mostClock)
	}
	if took > mostTime {
		t.Errorf("%v of processor time, at most %v are allowed", took, mostTime)
	}
	if code != exitClean && code != exitFindings && code != exitCannot {
		t.Errorf("exit code %d: %.2000s", code, stderr.String())
	}
	if memory > mostMemory {
		t.Errorf("%d MB were resident, at most %d are allowed", memory>>20, mostMemory>>20)
	}
	for _, word := range []string{"panic", "internal fault", "goroutine "} {
		if strings.Contains(stderr.String(), word) {
			t.Errorf("standard error has %q: %.2000s", word, stderr.String())
		}
	}
	if code == exitCannot {
		if !strings.Contains(stderr.String(), "; ") {
			t.Errorf("no remedy in %q", stderr.String())
		}
		if _, err := os.Stat(out); !errors.Is(err, os.ErrNotExist) {
			t.Error("a file that cannot be prepared left a folder")
		}
		return
	}
	verdictHolds(t, program, file, out, code)
}

// verdictHolds asks the display list of the first page whether it is complete, and whether the verdict agrees.
func verdictHolds(t *testing.T, program, file, out string, code int) {
	var o struct {
		Clean    bool
		Findings []finding.Finding
	}
	data, err := os.ReadFile(filepath.Join(out, "findings.json"))
	if err == nil {
		err = json.Unmarshal(data, &o)
	}
	if err != nil {
		t.Fatal(err)
	}
	if o.Clean != (code == exitClean) {
		t.Errorf("exit code %d, but clean is %v", code, o.Clean)
	}
	incomplete := false
	for _, f := range o.Findings {
		incomplete = incomplete || f.Incomplete
		if f.ID == "page-failed" || f.ID == "page-not-painted" {
			t.Errorf("%s: %s", f.ID, f.What)
		}
	}
	if incomplete && o.Clean {
		t.Error("called clean with something left unseen")
	}
	var page struct {
		Page struct {
			Incomplete *bool `json:"incomplete"`
		} `json:"page"`
	}
	data, err = exec.Command(program, "inspect", "page", file, "--json").Output()
	if err == nil {
		err = json.Unmarshal(data, &page)
	}
	if err != nil || page.Page.Incomplete == nil {
		t.Fatalf("the first page does not say whether it is complete: %v", err)
	}
	if *page.Page.Incomplete && !incomplete {
		t.Error("the first page is incomplete, and no finding says so")
	}
}
