package check

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestEveryRuleIsTried looks for each rule in the tests of the package: one that makes it speak and one that keeps it
// quiet go by its name.
func TestEveryRuleIsTried(t *testing.T) {
	files, err := filepath.Glob("*_test.go")
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
	}
	for _, r := range Rules {
		if r.Group != Reading && !strings.Contains(all.String(), `"`+string(r.ID)+`"`) {
			t.Errorf("no test names the rule %s", r.ID)
		}
	}
}
