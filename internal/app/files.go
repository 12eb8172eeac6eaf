package app

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// writeFile writes a file so that it is there whole or not at all: into a neighbour first, then renamed.
func writeFile(path string, write func(io.Writer) error) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return unwritable(path, err)
	}
	defer func() {
		if err != nil {
			tmp.Close()
			os.Remove(tmp.Name())
		}
	}()
	if err = write(tmp); err != nil {
		return unwritable(path, err)
	}
	if err = tmp.Chmod(0o644); err != nil {
		return unwritable(path, err)
	}
	if err = tmp.Close(); err != nil {
		return unwritable(path, err)
	}
	if err = os.Rename(tmp.Name(), path); err != nil {
		return unwritable(path, err)
	}
	return nil
}

// writeJSON writes v indented.
func writeJSON(path string, v any) error {
	return writeFile(path, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(v)
	})
}

func unwritable(path string, err error) error {
	var c *CannotError
	if errors.As(err, &c) {
		return err
	}
	return cannot(err, "choose another folder with --out or free the name", "%s cannot be written: %v", path, plainCause(err))
}

func plainCause(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// results remembers what a run has written, so that a run that fails leaves nothing half-done.
type results struct {
	folders, files []string
}

// add notes files written in full.
func (r *results) add(paths ...string) { r.files = append(r.files, paths...) }

// undo removes what was written, and the folders made for it unless something else lies in them.
func (r *results) undo() {
	for _, f := range r.files {
		os.Remove(f)
	}
	for _, d := range slices.Backward(r.folders) {
		os.Remove(d)
	}
}

// folder makes a folder for results and proves that it can be written to before work starts.
func (r *results) folder(dir string) error {
	for d := filepath.Clean(dir); ; d = filepath.Dir(d) {
		if _, err := os.Stat(d); err == nil || d == filepath.Dir(d) {
			break
		}
		defer func() { r.folders = append(r.folders, d) }() // the outermost is noted first
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return unwritable(dir, err)
	}
	probe, err := os.CreateTemp(dir, ".probe-*")
	if err != nil {
		return unwritable(dir, err)
	}
	probe.Close()
	return os.Remove(probe.Name())
}

// singleOutput refuses an output file that is a folder, or the input: no output may replace it.
func singleOutput(in, out string) error {
	if st, err := os.Stat(out); err == nil && st.IsDir() {
		return cannot(nil, "name a file in it", "%s is a folder", out)
	}
	a, err1 := os.Stat(in)
	b, err2 := os.Stat(out)
	if err1 == nil && err2 == nil && os.SameFile(a, b) {
		return cannot(nil, "choose another name", "%s is the artwork itself and is not overwritten", out)
	}
	return nil
}
