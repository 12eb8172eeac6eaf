package press

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// Words for the key black_point of a press.
const (
	BlackCompensate = "compensate"
	BlackKeep       = "keep"
)

// FindProfile finds the file of an output profile: at its path, else, by its base name, in the folders
// where systems keep ICC profiles and the folders in them. The error is that of the path itself.
func FindProfile(path string) (string, error) {
	_, err := os.Stat(path)
	if err == nil {
		return path, nil
	}
	name := filepath.Base(path)
	for _, dir := range profileDirs() {
		for _, pattern := range []string{"", "*"} {
			if found := lookIn(filepath.Join(dir, pattern), name); found != "" {
				return found, nil
			}
		}
	}
	return "", err
}

// lookIn finds name in the folders of a pattern, the first in byte order.
func lookIn(pattern, name string) string {
	dirs, err := filepath.Glob(pattern)
	if err != nil {
		return ""
	}
	for _, d := range dirs {
		file := filepath.Join(d, name)
		if st, err := os.Stat(file); err == nil && st.Mode()&fs.ModeType == 0 {
			return file
		}
	}
	return ""
}

// profileDirs are the folders of the operating systems' conventions; the user's own come first.
func profileDirs() []string {
	home, _ := os.UserHomeDir()
	switch runtime.GOOS {
	case "windows":
		return []string{filepath.Join(os.Getenv("SystemRoot"), "System32", "spool", "drivers", "color")}
	case "darwin":
		return []string{filepath.Join(home, "Library", "ColorSync", "Profiles"), "/Library/ColorSync/Profiles"}
	}
	data := os.Getenv("XDG_DATA_HOME")
	if data == "" {
		data = filepath.Join(home, ".local", "share")
	}
	shared := os.Getenv("XDG_DATA_DIRS")
	if shared == "" {
		shared = "/usr/local/share:/usr/share"
	}
	var dirs []string
	for _, d := range append([]string{data}, strings.Split(shared, ":")...) {
		if filepath.IsAbs(d) {
			dirs = append(dirs, filepath.Join(d, "color", "icc"))
		}
	}
	return dirs
}
