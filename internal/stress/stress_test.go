package stress

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// What one file may cost, whatever is in it. Processor time is bounded closely, the clock only against a
// hang, because other work may share the machine.
const (
	mostTime   = 30 * time.Second
	mostClock  = 5 * time.Minute
	mostMemory = 1 << 30 // bytes resident
)

// program builds laydown once.
func program(t testing.TB) string {
	t.Helper()
	if testing.Short() {
		t.Skip("heavy")
	}
	path := filepath.Join(t.TempDir(), "laydown")
	if out, err := exec.Command("go", "build", "-o", path, "laydown/cmd/laydown").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// run is what one run of the program cost.
type run struct {
	code   int
	time   time.Duration // of the processor
	memory int64         // bytes resident at most
	stdout string
	stderr string
}

func start(t testing.TB, path string, args ...string) run {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), mostClock)
	defer cancel()
	var stdout, stderr bytes.Buffer
	cmd := exec.CommandContext(ctx, path, args...)
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	if ctx.Err() != nil {
		t.Fatalf("%v: not done after %v", args, mostClock)
	}
	p := cmd.ProcessState
	r := run{code: p.ExitCode(), time: p.UserTime() + p.SystemTime(), stdout: stdout.String(), stderr: stderr.String()}
	if u, ok := p.SysUsage().(*syscall.Rusage); ok {
		r.memory = u.Maxrss
		if runtime.GOOS != "darwin" { // bytes there, kilobytes elsewhere
			r.memory <<= 10
		}
	}
	return r
}

// Variables that make the test binary write a file and nothing else.
const (
	variableName = "STRESS_FILE"
	variablePath = "STRESS_PATH"
)

// TestMain makes files in processes of their own: the system counts what a process has resident when it
// starts another as the other's.
func TestMain(m *testing.M) {
	name, path := os.Getenv(variableName), os.Getenv(variablePath)
	if name == "" {
		os.Exit(m.Run())
	}
	for _, c := range append(Cases(), Case{Name: "poster", File: Poster},
		Case{Name: "booklet of 10", File: func() []byte { return Booklet(10) }}, Case{Name: "booklet of 500", File: func() []byte { return Booklet(500) }},
		Case{Name: "records", File: func() []byte { return Records(2000) }}) {
		if c.Name == name && os.WriteFile(path, c.File(), 0o644) == nil {
			os.Exit(0)
		}
	}
	os.Exit(1)
}

// file writes a file into the test's folder.
func file(t testing.TB, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "page.pdf")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), variableName+"="+name, variablePath+"="+path)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v: %s", name, err, out)
	}
	return path
}

// Every hostile file ends soon and in bounded memory: drawn, or with findings, or with a clear error.
func TestHostileFilesAreSurvived(t *testing.T) {
	laydown := program(t)
	for _, c := range Cases() {
		t.Run(c.Name, func(t *testing.T) {
			path := file(t, c.Name)
			commands := [][]string{{"plates", path, "--json", "--format", "tiff", "--compress", "--out", filepath.Join(t.TempDir(), "plates")}}
			if !c.Heavy {
				commands = append(commands, []string{"check", path, "--json", "--press", "two-set", "--dpi", "100"})
			}
			for _, args := range commands {
				r := start(t, laydown, append(args, c.Args...)...)
				t.Logf("%s: exit %d, %.1f s, %d MB, %s", args[0], r.code, r.time.Seconds(), r.memory>>20, told(t, r))
				if r.time > mostTime {
					t.Errorf("%s: %v of processor time, at most %v are allowed", args[0], r.time, mostTime)
				}
				if r.memory > mostMemory {
					t.Errorf("%s: %d MB were resident, at most %d are allowed", args[0], r.memory>>20, int64(mostMemory)>>20)
				}
				if r.code < 0 || r.code > 2 {
					t.Errorf("%s: exit code %d", args[0], r.code)
				}
				if r.code == 2 && !strings.HasPrefix(r.stderr, "laydown: ") {
					t.Errorf("%s: no clear error: %.2000s", args[0], r.stderr)
				}
				for _, word := range []string{"panic", "internal fault", "goroutine "} {
					if strings.Contains(r.stderr+r.stdout, word) {
						t.Errorf("%s: %q: %.2000s", args[0], word, r.stderr+r.stdout)
					}
				}
			}
		})
	}
}

// told lists the findings, by ID, or the error.
func told(t *testing.T, r run) string {
	t.Helper()
	if r.code == 2 {
		return strings.TrimSpace(r.stderr)
	}
	var v struct {
		Findings []struct {
			ID    string
			Count int
		}
	}
	if err := json.Unmarshal([]byte(r.stdout), &v); err != nil {
		t.Fatalf("%v: %.300s", err, r.stdout)
	}
	var ids []string
	seen := map[string]bool{}
	for _, f := range v.Findings {
		if !seen[f.ID] {
			ids = append(ids, f.ID)
			seen[f.ID] = true
		}
	}
	return strings.Join(ids, " ")
}

// A large sheet never lies in memory: its plates are made band by band.
func TestPosterFitsInMemory(t *testing.T) {
	const most = 300 << 20
	laydown := program(t)
	r := start(t, laydown, "plates", file(t, "poster"), "--dpi", "600", "--format", "tiff", "--compress", "--out", filepath.Join(t.TempDir(), "plates"))
	t.Logf("%.1f s, %d MB", r.time.Seconds(), r.memory>>20)
	if r.code != 0 {
		t.Fatalf("exit code %d: %s", r.code, r.stderr)
	}
	if r.memory > most {
		t.Errorf("%d MB were resident, at most %d are allowed", r.memory>>20, most>>20)
	}
	if n := strings.Count(r.stdout, "page-1.tif"); n != 12 {
		t.Errorf("%d plates, want 12: %s", n, r.stdout)
	}
}

// Memory does not grow with the number of pages.
func TestBookletTakesNoMoreThanItsPages(t *testing.T) {
	laydown := program(t)
	short, long := file(t, "booklet of 10"), file(t, "booklet of 500")
	const slack = 16 << 20 // how far the collector may be behind
	for _, args := range [][]string{
		{"plates", "--dpi", "36", "--format", "tiff", "--compress", "--out", filepath.Join(t.TempDir(), "plates")},
		{"check", "--dpi", "20", "--press", "two-set"},
	} {
		cost := func(path string) run {
			r := start(t, laydown, append(args[:len(args):len(args)], path)...)
			if r.code > 1 {
				t.Fatalf("%s: exit code %d: %s", args[0], r.code, r.stderr)
			}
			return r
		}
		few, many := cost(short), cost(long)
		t.Logf("%s: 10 pages %.1f s, %d MB; 500 pages %.1f s, %d MB", args[0], few.time.Seconds(), few.memory>>20, many.time.Seconds(), many.memory>>20)
		if float64(many.memory) > 1.2*float64(few.memory)+slack {
			t.Errorf("%s: %d MB were resident for 500 pages, %d MB for 10", args[0], many.memory>>20, few.memory>>20)
		}
	}
}

// Two thousand records are laid on sheets in bounded memory, and what stays the same on all is told.
func TestRecordsAreImposedInBoundedMemory(t *testing.T) {
	const most = 500 << 20
	laydown := program(t)
	dir := t.TempDir()
	job, out := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "sheets.pdf")
	text := "artwork: page.pdf\npress: two-set\nstock: white-gloss\nbleed: 3mm\nsheets: {records: {pages: 1, order: stack}}\n"
	if err := os.WriteFile(job, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	r := start(t, laydown, "sheets", file(t, "records"), "--job", job, "--out", out)
	t.Logf("%.1f s, %d MB", r.time.Seconds(), r.memory>>20)
	if r.code != 0 {
		t.Fatalf("exit code %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if r.memory > most {
		t.Errorf("%d MB were resident, at most %d are allowed", r.memory>>20, most>>20)
	}
	for _, want := range []string{"variable data: 2000 records", "White                the same", "Black                varies: 1999 differ"} {
		if !strings.Contains(r.stdout, want) {
			t.Errorf("%q is not told: %s", want, r.stdout)
		}
	}
}

// An interrupted run leaves no file, whole or half.
func TestInterruptedSheetsLeaveNothing(t *testing.T) {
	laydown := program(t)
	dir := t.TempDir()
	job, out := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "out", "sheets.pdf")
	text := "artwork: page.pdf\npress: two-set\nstock: white-gloss\nbleed: 3mm\nsheets: {records: {pages: 1}}\n"
	if err := os.WriteFile(job, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Dir(out), 0o700); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(laydown, "sheets", file(t, "records"), "--job", job, "--out", out)
	var told bytes.Buffer
	cmd.Stderr = &told
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(2 * time.Second) // it takes far longer
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != 2 || !strings.Contains(told.String(), "stopped") {
		t.Errorf("%v: %s", err, told.String())
	}
	left, err := os.ReadDir(filepath.Dir(out))
	if err != nil || len(left) > 0 {
		t.Errorf("%v %v", left, err)
	}
}
