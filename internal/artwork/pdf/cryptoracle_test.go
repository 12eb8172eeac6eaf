package pdf_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"laydown/internal/artwork/pdf"
)

// qpdf runs qpdf on data and gives the file it writes. Warnings are no failure.
func qpdf(t testing.TB, data []byte, args ...string) []byte {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		t.Fatal(err)
	}
	report, err := exec.Command(oracle(t, "qpdf"), append(args, in, out)...).CombinedOutput()
	if exit := new(exec.ExitError); err != nil && !(errors.As(err, &exit) && exit.ExitCode() == 3) {
		t.Fatalf("qpdf %q: %v\n%s", args, err, report)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// plainFile holds strings, streams, metadata and an attachment to be encrypted by others.
func plainFile() []byte {
	r := newRaw("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
	r.obj(1, "<< /Type /Catalog /Pages 2 0 R /Metadata 5 0 R /Names << /EmbeddedFiles << /Names [ (a file) 7 0 R ] >> >> /Dests << >> "+
		"/Lang (en-GB) /Odd [ () <00> (\\(\\)\\\\) <FEFF00E4> [ (deep) << /K (deeper) >> ] ] >>")
	r.obj(2, treeBody).obj(3, strings.Replace(pageBody, "/Contents", "/Annots [ 9 0 R ] /Contents", 1))
	r.stream(4, "", strings.Repeat(contentText+"\n", 20))
	r.stream(5, "/Type /Metadata /Subtype /XML", lockedMeta)
	r.obj(6, "<< /Title ("+strings.Repeat("long title ", 9)+") /Author (\\344\\366) >>")
	r.obj(7, "<< /Type /Filespec /F (a.txt) /EF << /F 8 0 R >> >>")
	r.stream(8, "/Type /EmbeddedFile", lockedAttach)
	r.obj(9, "<< /Type /Annot /Subtype /Text /Rect [ 0 0 1 1 ] /Contents (a note) >>")
	r.table("/Root 1 0 R /Info 6 0 R /Size 10 /ID [ <AA> <BB> ]", 0, 1, 2, 3, 4, 5, 6, 7, 8, 9)
	return r.Bytes()
}

var originalID = regexp.MustCompile(`%% Original object ID: (\d+) \d+\n(?:%%[^\n]*\n)*(\d+) 0 obj`)

// compareDecrypted compares every object that qpdf decrypts with ours.
func compareDecrypted(t *testing.T, d *pdf.Document, data []byte, password string) {
	t.Helper()
	plain := qpdf(t, data, "--password="+password, "--decrypt", "--qdf", "--object-streams=disable")
	e, _, err := unlock(plain, "")
	if err != nil {
		t.Fatalf("what qpdf decrypted: %v", err)
	}
	number := map[int]int{} // in the encrypted file by number in the plain one
	for _, m := range originalID.FindAllSubmatch(plain, -1) {
		from, _ := strconv.Atoi(string(m[1]))
		to, _ := strconv.Atoi(string(m[2]))
		number[to] = from
	}
	if len(number) < 8 {
		t.Fatalf("qpdf names %d objects", len(number))
	}
	for theirs, ours := range number {
		if why := differs(d, e, d.Resolve(pdf.Ref{Num: ours}), e.Resolve(pdf.Ref{Num: theirs}), number); why != "" {
			t.Errorf("object %d: %s", ours, why)
		}
	}
}

// differs compares x of d with y of e, whose references stand for those in number.
func differs(d, e *pdf.Document, x, y pdf.Object, number map[int]int) string {
	switch w := y.(type) {
	case pdf.Ref:
		if v, ok := x.(pdf.Ref); !ok || v.Num != number[w.Num] {
			return fmt.Sprintf("%v, want a reference to %d", x, number[w.Num])
		}
		return ""
	case pdf.Array:
		v, ok := x.(pdf.Array)
		if !ok || len(v) != len(w) {
			return fmt.Sprintf("%v, want %v", x, w)
		}
		for i := range w {
			if why := differs(d, e, v[i], w[i], number); why != "" {
				return fmt.Sprintf("[%d] %s", i, why)
			}
		}
		return ""
	case pdf.Dict:
		v, ok := x.(pdf.Dict)
		if !ok {
			return fmt.Sprintf("%v, want %v", x, w)
		}
		for k := range w {
			if k == "Length" || k == "Filter" || k == "DecodeParms" { // qpdf stores the data unfiltered
				continue
			}
			if why := differs(d, e, v[k], w[k], number); why != "" {
				return fmt.Sprintf("/%s %s", k, why)
			}
		}
		return ""
	case *pdf.Stream:
		v, ok := x.(*pdf.Stream)
		if !ok {
			return "no stream"
		}
		if why := differs(d, e, v.Dict, w.Dict, number); why != "" {
			return why
		}
		a, err := d.Data(v)
		b, _ := e.Data(w)
		if err != nil || !bytes.Equal(a, b) {
			return fmt.Sprintf("data %q (%v), want %q", a, err, b)
		}
		return ""
	}
	if x != y {
		return fmt.Sprintf("%#v, want %#v", x, y)
	}
	return ""
}

// Is every object of files encrypted by another program read as that program decrypts it, and is what we add
// and rewrite read so too?
func TestEncryptionAgainstQPDF(t *testing.T) {
	for _, c := range []struct {
		name string
		args string
	}{
		{"RC4 40", "40 --print=n"},
		{"RC4 128", "128 --use-aes=n"},
		{"RC4 128 as crypt filter", "128 --use-aes=n --force-V4"},
		{"RC4 128, metadata plain", "128 --use-aes=n --cleartext-metadata"},
		{"AES 128", "128 --use-aes=y"},
		{"AES 128, metadata plain", "128 --use-aes=y --cleartext-metadata --print=low"},
		{"AES 256, revision 5", "256 --force-R5"},
		{"AES 256", "256"},
		{"AES 256, metadata plain", "256 --cleartext-metadata"},
	} {
		for _, streams := range []string{"disable", "generate"} {
			t.Run(c.name+", object streams "+streams, func(t *testing.T) {
				args := append([]string{"--allow-weak-crypto", "--object-streams=" + streams, "--encrypt", "user", "owner"}, strings.Fields(c.args)...)
				data := qpdf(t, plainFile(), append(args, "--")...)
				for _, password := range []string{"user", "owner"} {
					d, _, err := unlock(data, password)
					if err != nil {
						t.Fatalf("%s: %v", password, err)
					}
					compareDecrypted(t, d, data, password)
				}
				d, _, err := unlock(data, "user")
				if err != nil {
					t.Fatal(err)
				}
				for _, full := range []bool{false, true} {
					out := changed(t, d, full)
					e, _, err := unlock(out, "owner")
					if err != nil {
						t.Fatalf("full %v: %v", full, err)
					}
					compareDecrypted(t, e, out, "user")
					if code, report := qpdfCheck(t, out, "--password=user"); code != 0 {
						t.Errorf("full %v: qpdf: %s", full, report)
					}
				}
			})
		}
	}
}

// changed writes d with a new object, a changed page and the content stream under another dictionary.
func changed(t *testing.T, d *pdf.Document, full bool) []byte {
	t.Helper()
	u := pdf.NewUpdate(d)
	p, err := d.Page(1)
	if err != nil {
		t.Fatal(err)
	}
	dict := pdf.Dict{}
	for k, v := range p.Dict {
		dict[k] = v
	}
	dict["PieceInfo"] = u.Add(pdf.Dict{"Text": pdf.String("added text"), "Data": u.AddStream(pdf.Dict{"Name": pdf.String("added")}, []byte("added data"), false)})
	u.Set(p.Ref, dict)
	s, ok := d.Stream(p.Dict["Contents"])
	if !ok {
		t.Fatal("no content")
	}
	again := pdf.Dict{"Again": pdf.String("again")}
	for k, v := range s.Dict {
		again[k] = v
	}
	u.Set(s.Ref, s.WithDict(again))
	var out bytes.Buffer
	write := u.WriteTo
	if full {
		write = u.WriteFull
	}
	if _, err := write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
