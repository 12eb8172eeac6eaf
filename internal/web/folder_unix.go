//go:build unix

package web

import (
	"io/fs"
	"os"
	"syscall"
)

// lock holds a file for this process alone.
func lock(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) }

// ours tells whether a folder belongs to this user alone.
func ours(st fs.FileInfo) bool {
	sys, ok := st.Sys().(*syscall.Stat_t)
	return ok && int(sys.Uid) == os.Getuid() && st.Mode().Perm() == 0o700
}

// abandoned opens a lock that nobody holds, and holds it; nil when there is none.
func abandoned(path string) *os.File {
	f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOFOLLOW, 0)
	if err != nil {
		return nil
	}
	if st, err := f.Stat(); err != nil || !st.Mode().IsRegular() || lock(f) != nil {
		f.Close()
		return nil
	}
	return f
}
