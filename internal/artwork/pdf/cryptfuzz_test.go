package pdf_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"testing"

	"laydown/internal/artwork/pdf"
)

// FuzzCrypt: what is encrypted for an object decrypts to the same bytes, whole and bit by bit; garbage gives an
// error or bytes, the same both ways; another generation gives another text.
func FuzzCrypt(f *testing.F) {
	f.Add(uint8(0), 1, 0, []byte("text"))
	f.Add(uint8(1), 7, 65535, []byte{})
	f.Add(uint8(2), 1<<24-1, 1, bytes.Repeat([]byte("0123456789abcdef"), 4))
	f.Add(uint8(1), 3, 0, bytes.Repeat([]byte{16}, 33))
	f.Fuzz(func(t *testing.T, kind uint8, num, gen int, data []byte) {
		c := pdf.NewTestCipher(int(kind)%3, []byte("0123456789abcdef0123456789abcdef"))
		num, gen = num&0xFFFFFF, gen&0xFFFF
		sealed, err := c.Encrypt(num, gen, data)
		if err != nil {
			t.Fatal(err)
		}
		if plain, err := c.Decrypt(num, gen, sealed); err != nil || !bytes.Equal(plain, data) {
			t.Fatalf("%q became %q, %v", data, plain, err)
		}
		if len(data) > 8 && kind%3 < 2 {
			if other, _ := c.Encrypt(num, gen^1, data); bytes.Equal(other, sealed) {
				t.Fatal("the generation takes no part in the key")
			}
		}
		for _, in := range [][]byte{sealed, data} {
			whole, err := c.Decrypt(num, gen, in)
			bits, rerr := io.ReadAll(c.Reader(num, gen, in))
			if !bytes.Equal(whole, bits) || (err == nil) != (rerr == nil) {
				t.Fatalf("%q: whole %q, %v; bit by bit %q, %v", in, whole, err, bits, rerr)
			}
			if err != nil && !errors.Is(err, pdf.ErrDamaged) {
				t.Fatalf("%v", err)
			}
		}
	})
}

// FuzzUnlock: a file with any encryption dictionary and any password opens or is refused with an error that can be
// told apart; what opens can be read, and written so that the same password opens it again.
func FuzzUnlock(f *testing.F) {
	for _, l := range locks() {
		f.Add([]byte(l.dict), "user")
		f.Add([]byte(l.dict), "owner")
	}
	f.Add([]byte("<< /Filter /Standard /V 5 /R 6 /CF 3 0 R /StmF 4 0 R /O 5 0 R >>"), "\xff")
	l := locks()[5]
	f.Fuzz(func(t *testing.T, dict []byte, password string) {
		r := newRaw("%PDF-1.7\n").obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody)
		r.stream(4, "/Name "+l.text(4, 0, "text"), string(l.seal(4, 0, contentText)))
		r.obj(5, string(dict))
		r.table(fmt.Sprintf("/Root 1 0 R /Size 6 /Encrypt 5 0 R /ID [ (%s) (x) ]", lockID), 0, 1, 2, 3, 4, 5)
		d, _, err := unlock(r.Bytes(), password)
		if err != nil {
			for _, known := range []error{pdf.ErrPassword, pdf.ErrEncryption, pdf.ErrNoPages, pdf.ErrNotPDF} {
				if errors.Is(err, known) {
					return
				}
			}
			t.Fatalf("%v", err)
		}
		readEverything(d)
		for _, full := range []bool{false, true} {
			u := pdf.NewUpdate(d)
			added := u.AddStream(pdf.Dict{"Text": pdf.String("added")}, []byte("data"), false)
			u.Set(pdf.Ref{Num: 1}, pdf.Dict{"Type": pdf.Name("Catalog"), "Pages": pdf.Ref{Num: 2}, "Added": added})
			var out bytes.Buffer
			write := u.WriteTo
			if full {
				write = u.WriteFull
			}
			if _, err := write(&out); err != nil {
				continue // a method nobody knows for a stream of the file
			}
			e, _, err := unlock(out.Bytes(), password)
			if err != nil || e.Encrypted() != d.Encrypted() {
				t.Fatalf("full %v: %v", full, err)
			}
			s, ok := e.Stream(e.Catalog()["Added"])
			if !ok {
				t.Fatalf("full %v: what was added is not there", full)
			}
			if b, err := e.Data(s); string(b) != "data" || s.Dict["Text"] != pdf.String("added") {
				t.Fatalf("full %v: %q, %v, %v", full, b, err, s.Dict)
			}
		}
	})
}
