package app

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
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
	return err
}

// outFolder makes the folder for results and proves that it can be written to before work starts.
func outFolder(dir string) error {
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

// sameFile guards the input: no output may replace it.
func sameFile(in, out string) error {
	a, err1 := os.Stat(in)
	b, err2 := os.Stat(out)
	if err1 == nil && err2 == nil && os.SameFile(a, b) {
		return cannot(nil, "choose another name", "%s is the artwork itself and is not overwritten", out)
	}
	return nil
}

// ParsePages reads "1-3,7" into page numbers in ascending order of mention, each once; "" means all.
func ParsePages(s string, last int) ([]int, error) {
	if s == "" {
		all := make([]int, last)
		for i := range all {
			all[i] = i + 1
		}
		return all, nil
	}
	bad := func() error {
		return cannot(nil, fmt.Sprintf("write pages as 1-3,7; the file has pages 1 to %d", last), "--pages %q cannot be understood", s)
	}
	var out []int
	seen := map[int]bool{}
	for _, part := range splitComma(s) {
		a, b, ok := pageRange(part, last)
		if !ok {
			return nil, bad()
		}
		for n := a; n <= b; n++ {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	if len(out) == 0 {
		return nil, bad()
	}
	return out, nil
}
