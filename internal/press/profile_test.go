package press

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestProfilesAreFoundByPathAndByName(t *testing.T) {
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		t.Skip("other folders")
	}
	home, shared := t.TempDir(), t.TempDir()
	t.Setenv("XDG_DATA_HOME", home)
	t.Setenv("XDG_DATA_DIRS", "relative:"+shared)
	write := func(parts ...string) string {
		file := filepath.Join(parts...)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	beside := write(t.TempDir(), "beside.icc")
	own := write(home, "color", "icc", "both.icc")
	write(shared, "color", "icc", "both.icc")
	deep := write(shared, "color", "icc", "maker", "deep.icc")
	for _, tt := range []struct{ in, want string }{
		{beside, beside}, {"/nowhere/both.icc", own}, {"deep.icc", deep}, {"none.icc", ""}, {"*", ""}, {"maker", ""},
	} {
		got, err := FindProfile(tt.in)
		if got != tt.want || (err == nil) != (tt.want != "") {
			t.Errorf("%s: %q, %v, want %q", tt.in, got, err, tt.want)
		}
	}
}

func TestWordsForBlackPoint(t *testing.T) {
	text, _ := ShippedPress(PressNames()[0])
	for word, good := range map[string]bool{"keep": true, "compensate": true, "on": false} {
		p, err := ReadPress("press.yaml", append([]byte(nil), string(text)+"black_point: "+word+"\n"...))
		if good != (err == nil) || good && p.BlackPoint != word {
			t.Errorf("%s: %v", word, err)
		}
		if !good && !strings.Contains(err.Error(), "black_point") {
			t.Errorf("%s: the error names no key: %v", word, err)
		}
	}
}
