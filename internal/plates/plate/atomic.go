package plate

import (
	"bufio"
	"os"
	"path/filepath"
)

// atomicFile is written beside its place and renamed when it is whole.
type atomicFile struct {
	file *os.File
	name string
}

func createAtomic(name string) (*atomicFile, error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".laydown-*")
	if err != nil {
		return nil, err
	}
	return &atomicFile{file: f, name: name}, nil
}

// commit puts the file in its place, readable by everybody, which temporary files are not.
func (a *atomicFile) commit() error {
	err := a.file.Chmod(0o644)
	if err == nil {
		err = a.file.Close()
	} else {
		a.file.Close()
	}
	if err == nil {
		err = os.Rename(a.file.Name(), a.name)
	}
	if err != nil {
		os.Remove(a.file.Name())
	}
	return err
}

// discard removes what was written.
func (a *atomicFile) discard() {
	a.file.Close()
	os.Remove(a.file.Name())
}

// counted is a buffered writer that knows its position.
type counted struct {
	w  *bufio.Writer
	at int64
}

func (c *counted) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.at += int64(n)
	return n, err
}
