package cli

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"laydown/internal/demo"
	"laydown/internal/pdfbuild"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"laydown": func() { os.Exit(Run(os.Args[1:], os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the user stories in testdata/script.
func TestScripts(t *testing.T) {
	sound, faulty := ticket(t, false), ticket(t, true)
	// A page of pdfbuild in Silver, encrypted with AES 256; the passwords are "open me" and "change me".
	locked, err := os.ReadFile(filepath.Join("testdata", "locked.pdf"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(e *testscript.Env) error {
			for name, data := range map[string][]byte{
				"sound.pdf": sound, "faulty.pdf": faulty, "job.yaml": []byte(demo.JobYAML()),
				"empty.pdf": nil, "encrypted.pdf": encrypted(), "pageless.pdf": pdfbuild.New().Bytes(), "huge.pdf": huge(),
				"locked.pdf": locked,
			} {
				if err := os.WriteFile(filepath.Join(e.WorkDir, name), data, 0o644); err != nil {
					return err
				}
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "keys": keys, "png": isPNG, "unpack": unpack, "damage": damage},
	})
}

// exits CODE PROGRAM ARG... runs a program and asks for its exit code.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	if exit := new(exec.ExitError); errors.As(err, &exit) {
		code = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if fmt.Sprint(code) != args[0] {
		ts.Fatalf("exit code %d, want %s", code, args[0])
	}
}

// unpack ZIP DIR unpacks an archive.
func unpack(ts *testscript.TestScript, _ bool, args []string) {
	z, err := zip.OpenReader(ts.MkAbs(args[0]))
	ts.Check(err)
	defer z.Close()
	ts.Check(os.CopyFS(ts.MkAbs(args[1]), z))
}

// damage FILE COPY copies a file with one bit in its middle changed.
func damage(ts *testscript.TestScript, _ bool, args []string) {
	b := []byte(ts.ReadFile(args[0]))
	b[len(b)/2] ^= 1
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b, 0o644))
}

// keys FILE KEY... asks whether the JSON object in a file has the top-level keys.
func keys(ts *testscript.TestScript, neg bool, args []string) {
	var v map[string]json.RawMessage
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &v))
	for _, k := range args[1:] {
		if _, ok := v[k]; ok == neg {
			ts.Fatalf("%s: key %q present: %v", args[0], k, ok)
		}
	}
}

// isPNG FILE... asks whether files begin as PNG files do.
func isPNG(ts *testscript.TestScript, _ bool, args []string) {
	for _, a := range args {
		if !strings.HasPrefix(ts.ReadFile(a), "\x89PNG\r\n") {
			ts.Fatalf("%s is no PNG", a)
		}
	}
}

func ticket(t *testing.T, faulty bool) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, faulty); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// encrypted is a file whose trailer asks for a security handler that nobody has.
func encrypted() []byte {
	f := pdfbuild.New()
	f.Page(72, 72, "", "0 0 10 10 re f")
	entry := "trailer\n<< /Encrypt << /Filter /Standard /V 2 /R 3 /Length 128 /P -4 /O (" + strings.Repeat("o", 32) +
		") /U (" + strings.Repeat("u", 32) + ") >> /ID [(0123456789abcdef) (0123456789abcdef)]"
	return bytes.Replace(f.Bytes(), []byte("trailer\n<<"), []byte(entry), 1)
}

// huge is a page of 5 by 5 metres.
func huge() []byte {
	f := pdfbuild.New()
	f.Page(14400, 14400, "", "0 0 0 1 k 0 0 7200 7200 re f")
	return f.Bytes()
}
