package browser

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// oracle finds a file of those that scripts/oracles.sh keeps for the tests of the page.
func oracle(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("LAYDOWN_ORACLES")
	if dir == "" {
		cache := os.Getenv("XDG_CACHE_HOME")
		if cache == "" {
			home, err := os.UserHomeDir()
			if err != nil {
				t.Skip(err)
			}
			cache = filepath.Join(home, ".cache")
		}
		dir = filepath.Join(cache, "laydown-oracles")
	}
	file := filepath.Join(dir, "web", "node_modules", filepath.FromSlash(name))
	if _, err := os.Stat(file); err != nil {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatalf("%s is not installed; scripts/oracles.sh installs it", name)
		}
		t.Skipf("%s is not installed; scripts/oracles.sh installs it", name)
	}
	return file
}

// The bundler takes types on trust; the checker does not.
func TestPage_types_hold(t *testing.T) {
	if testing.Short() {
		t.Skip("needs the type checker")
	}
	tsc := oracle(t, ".bin/tsc")
	ui, err := filepath.Abs("../ui")
	if err != nil {
		t.Fatal(err)
	}
	config, err := json.Marshal(map[string]any{
		"compilerOptions": map[string]any{
			"strict": true, "noEmit": true, "target": "ES2022", "module": "ESNext", "moduleResolution": "bundler",
			"lib": []string{"ES2023", "DOM", "DOM.Iterable"}, "types": []string{},
			"noUncheckedIndexedAccess": true, "noImplicitOverride": true, "noFallthroughCasesInSwitch": true,
			"exactOptionalPropertyTypes": true, "noUnusedLocals": true, "noUnusedParameters": true,
		},
		"include": []string{filepath.ToSlash(ui) + "/**/*.ts"},
	})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "tsconfig.json")
	if err := os.WriteFile(file, config, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tsc, "-p", file).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
