package truth

import (
	"crypto/sha256"
	"encoding/gob"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// cached keeps what an interpreter gave for a page in the folder LAYDOWN_TRUTH_CACHE names, by the
// file's hash: interpreters do not change while we do. Without the variable nothing is kept.
func cached(oracle, file string, page, dpi int, run func() (*Plates, error)) (*Plates, error) {
	dir := os.Getenv("LAYDOWN_TRUTH_CACHE")
	if dir == "" {
		return run()
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	type entry struct {
		Plates *Plates
		Err    string
	}
	name := fmt.Sprintf("%s-%x-%d", oracle, sha256.Sum256(data), page)
	if dpi != DPI {
		name += fmt.Sprintf("-%d", dpi)
	}
	name = filepath.Join(dir, name+".gob")
	if f, err := os.Open(name); err == nil {
		defer f.Close()
		var e entry
		if err := gob.NewDecoder(f).Decode(&e); err == nil {
			if e.Err != "" {
				return nil, errors.New(e.Err)
			}
			return e.Plates, nil
		}
	}
	e := entry{}
	e.Plates, err = run()
	if err != nil {
		e.Err = err.Error()
	}
	if f, ferr := os.Create(name); ferr == nil {
		defer f.Close()
		if gob.NewEncoder(f).Encode(&e) != nil {
			os.Remove(name)
		}
	}
	return e.Plates, err
}
