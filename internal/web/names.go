package web

import (
	"crypto/rand"
	"encoding/base32"
	"mime"
	"net/http"
	"path"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// newID makes an identifier nobody can guess.
func newID() string {
	b := make([]byte, 10)
	_, _ = rand.Read(b) // never fails
	return strings.ToLower(base32.StdEncoding.EncodeToString(b))
}

// maxLabel characters of a name are kept.
const maxLabel = 120

// label makes of a name that came with a file what the file is called from then on: its last element without anything that
// cannot be seen or that turns writing about. It is never a path.
func label(name string) string {
	name = strings.ToValidUTF8(name, "")
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = norm.NFC.String(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsPrint(r), strings.ContainsRune(`/\:*?"<>|`, r): // marks of direction and joiners are not printable
			return -1
		}
		return r
	}, name))
	name = strings.Join(strings.Fields(name), " ")
	stem := strings.TrimLeft(name, ". ")
	if i := len(stem) - len(".pdf"); i >= 0 && strings.EqualFold(stem[i:], ".pdf") {
		stem = stem[:i]
	}
	runes := []rune(stem)
	if len(runes) > maxLabel {
		runes = runes[:maxLabel]
	}
	stem = strings.TrimRight(string(runes), ". ")
	if stem == "" {
		stem = "artwork"
	}
	return stem + ".pdf"
}

// stem is a label without its ending.
func stem(label string) string { return strings.TrimSuffix(label, ".pdf") }

// download tells the browser to keep what is answered as a file.
func download(w http.ResponseWriter, kind, name string) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
}
