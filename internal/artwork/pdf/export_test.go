package pdf

import (
	"bytes"
	"io"
)

// OpenWindowed opens a small file as large ones are: nothing read is kept.
func OpenWindowed(r io.ReaderAt, size int64, opt Options) (*Document, error) {
	opt.windowed = true
	return Open(r, size, opt)
}

// Numbers lists the objects of the document.
func (d *Document) Numbers() []int { return d.numbers() }

// ParseOne reads one object from b.
func ParseOne(b []byte) (Object, bool) {
	p := &parser{lex: *NewLexer(b)}
	o, ok := p.parseObject(0)
	return o, ok && !p.damaged && !p.over
}

// Forget empties what the document keeps.
func (d *Document) Forget() {
	d.objects.clear()
	d.objStms.clear()
}

// TestCipher encrypts with a key as files do: 0 = RC4, 1 = AES 128, 2 = AES 256.
type TestCipher struct {
	s *security
	m cipherMethod
}

func NewTestCipher(kind int, key []byte) TestCipher {
	m := []cipherMethod{cipherRC4, cipherAES128, cipherAES256}[kind]
	if m != cipherAES256 {
		key = key[:16]
	}
	return TestCipher{&security{key: key}, m}
}

func (c TestCipher) Encrypt(num, gen int, b []byte) ([]byte, error) {
	return c.s.encrypt(c.m, num, gen, b)
}

func (c TestCipher) Decrypt(num, gen int, b []byte) ([]byte, error) {
	return c.s.decrypt(c.m, num, gen, b)
}

func (c TestCipher) Reader(num, gen int, b []byte) io.Reader {
	return c.s.decrypter(c.m, num, gen, bytes.NewReader(b))
}

// BudgetsLeft are the bytes that may still be decoded, of all data and of what is no image.
func (d *Document) BudgetsLeft() (all, data int64) { return d.budget.Load(), d.dataBudget.Load() }
