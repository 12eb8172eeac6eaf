package plate

import (
	"crypto/sha256"
	"fmt"
	"strings"

	"laydown/internal/colourant"
)

// maxNameBytes of a file name made from a colourant name; file systems allow 255 bytes in all.
const maxNameBytes = 100

// FileNames returns a portable part of a file name for each colourant of a set, different from each
// other even where upper and lower case are the same: letters, digits and hyphens stay, every other byte
// becomes _ and two hexadecimal digits ("spot white" is "spot_20white").
func FileNames(set *colourant.Set) []string {
	names := make([]string, set.Len())
	taken := map[string]bool{}
	for i, c := range set.All() {
		base := fileName(c.Name)
		name := base
		for n := 2; taken[strings.ToLower(name)]; n++ {
			name = fmt.Sprintf("%s~%d", base, n) // ~ is in no name made by fileName
		}
		taken[strings.ToLower(name)] = true
		names[i] = name
	}
	return names
}

func fileName(name string) string {
	var b strings.Builder
	for i := range len(name) {
		switch c := name[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '-':
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "_%02x", c)
		}
	}
	if name == "" {
		return "_"
	}
	if b.Len() > maxNameBytes {
		sum := sha256.Sum256([]byte(name))
		return fmt.Sprintf("%s~%x", b.String()[:maxNameBytes], sum[:4])
	}
	return b.String()
}
