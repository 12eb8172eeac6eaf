package web

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// folderPattern is what the private folders of servers are called in the folder for temporary files.
const folderPattern = "laydown-serve-"

// lockName is a file in a private folder that is locked as long as its server lives.
const lockName = "lock"

// folder is a private folder that goes with the server.
type folder struct {
	path string
	lock *os.File
}

// newFolder makes a private folder below parent ("" = the system's for temporary files), after removing those whose servers ended
// without doing so.
func newFolder(parent string) (*folder, error) {
	if parent == "" {
		parent = os.TempDir()
	}
	sweep(parent)
	dir, err := os.MkdirTemp(parent, folderPattern)
	if err != nil {
		return nil, fmt.Errorf("no private folder can be made in %s: %w; name another with TMPDIR", parent, err)
	}
	f := &folder{path: dir}
	if f.lock, err = os.OpenFile(filepath.Join(dir, lockName), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600); err == nil {
		err = lock(f.lock)
	}
	if err != nil {
		_ = f.close()
		return nil, fmt.Errorf("the private folder %s cannot be used: %w", dir, err)
	}
	return f, nil
}

func (f *folder) close() error {
	var err error
	if f.lock != nil {
		err = f.lock.Close()
	}
	return errors.Join(err, os.RemoveAll(f.path))
}

// sweep removes the private folders of servers that are no more: the system gives up a lock when its process ends, however it
// ends. A folder that is not plainly one of ours is left alone.
func sweep(parent string) {
	entries, err := os.ReadDir(parent)
	if err != nil {
		return
	}
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), folderPattern) {
			continue
		}
		dir := filepath.Join(parent, e.Name())
		st, err := os.Lstat(dir)
		if err != nil || !st.IsDir() || !ours(st) {
			continue
		}
		if l := abandoned(filepath.Join(dir, lockName)); l != nil {
			_ = os.RemoveAll(dir)
			_ = l.Close()
		}
	}
}
