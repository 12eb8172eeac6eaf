package pdf_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

func unlock(data []byte, password string) (*pdf.Document, *finding.Collector, error) {
	var sink finding.Collector
	d, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &sink, Password: password})
	return d, &sink, err
}

// dataOf decodes the stream that a path leads to.
func dataOf(t *testing.T, d *pdf.Document, path string) string {
	t.Helper()
	o, _, err := d.Lookup(path)
	if err != nil {
		t.Fatal(err)
	}
	s, ok := o.(*pdf.Stream)
	if !ok {
		t.Fatalf("%s is no stream", path)
	}
	b, err := d.Data(s)
	if err != nil {
		t.Errorf("%s: %v", path, err)
	}
	return string(b)
}

func textOf(t *testing.T, d *pdf.Document, path string) string {
	t.Helper()
	o, _, err := d.Lookup(path)
	if err != nil {
		t.Fatal(err)
	}
	s, ok := o.(pdf.String)
	if !ok {
		t.Fatalf("%s is %#v", path, o)
	}
	return string(s)
}

// checkLocked asks whether everything in the file of lock.file reads in plain.
func checkLocked(t *testing.T, d *pdf.Document) {
	t.Helper()
	for path, want := range map[string]string{
		"pages.1.Contents": lockedContent, "catalog.Metadata": lockedMeta, "catalog.Plain": lockedPlain,
		"catalog.File": lockedAttach, "catalog.Empty": "",
	} {
		if got := dataOf(t, d, path); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
	for path, want := range map[string]string{
		"trailer.Info.Title": lockedTitle, "trailer.Info.Nested.0.0": "", "trailer.Info.Nested.1.Deep": "deep",
		"catalog.Inside.Text": lockedInside, "catalog.Sig.Contents": "\xCA\xFE", "catalog.Sig.Reason": "approved",
	} {
		if got := textOf(t, d, path); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
}

// lockedFile is the file of l, without crypt filters where its version of encryption has none.
func lockedFile(l *lock) []byte {
	data := l.file()
	if l.v < 4 { // a Crypt filter means nothing there
		data = bytes.Replace(data, []byte("/Filter [ /Crypt ] /DecodeParms [ << /Name /Identity >> ]"),
			[]byte(strings.Repeat(" ", len("/Filter [ /Crypt ] /DecodeParms [ << /Name /Identity >> ]"))), 1)
	}
	return data
}

// Does each kind of encryption open with the user's and with the owner's password, and only with them?
func TestEncryptionOpens(t *testing.T) {
	for _, l := range locks() {
		t.Run(l.name, func(t *testing.T) {
			data := lockedFile(l)
			for _, pw := range []string{"user", "owner"} {
				d, sink, err := unlock(data, pw)
				if err != nil {
					t.Fatalf("%s: %v", pw, err)
				}
				checkLocked(t, d)
				if got := ids(sink); len(got) != 1 || !got["file-encrypted"] {
					t.Errorf("%s: findings %v", pw, sink.Sorted())
				}
			}
			for _, pw := range []string{"", "User", "user ", strings.Repeat("long", 99)} {
				if _, _, err := unlock(data, pw); !errors.Is(err, pdf.ErrPassword) {
					t.Errorf("%q: %v", pw, err)
				}
			}
		})
	}
}
