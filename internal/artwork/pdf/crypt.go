package pdf

import (
	"fmt"
	"strings"

	"laydown/internal/finding"
	"laydown/internal/limits"
)

// Encryption (7.6). A file is encrypted object by object: its strings and the data of its streams.
// What says where things are is not: the trailer, cross-reference streams, the encryption dictionary
// itself. Strings inside object streams are encrypted once only, with the stream they lie in.
//
//	crypt.go      what the encryption dictionary asks for
//	cryptkey.go   passwords to the key of the file (Algorithms 2 to 13)
//	cryptdata.go  that key to the strings and streams of each object, both ways (Algorithm 1)

// security is the standard security handler (7.6.4) of an open file.
type security struct {
	object   int    // number of the encryption dictionary, 0 when it lies in the trailer
	dict     Dict   // with its own entries resolved, strings as they are
	key      []byte // the file encryption key; nil when only attachments are encrypted and no password fits
	id       String // first half of the file identifier, part of the key up to revision 4
	v, r     int
	keyBytes int
	p        int32 // permissions (Table 22)
	metadata bool  // metadata streams are encrypted
	owner    bool  // opened with the owner's password: permissions do not apply

	filters            map[Name]cipherMethod // of the CF dictionary (Table 25)
	stm, str, embedded cipherMethod
}

// cipherMethod is what a crypt filter does.
type cipherMethod uint8

const (
	cipherNone    cipherMethod = iota // Identity
	cipherRC4                         // with a key for each object
	cipherAES128                      // AESV2: CBC with a key for each object
	cipherAES256                      // AESV3: CBC with the key of the file
	cipherUnknown                     // a method this program does not know
)

// unlock reads the trailer's encryption dictionary and finds the key; d.security stays nil when the
// file is not encrypted. The error wraps ErrPassword or ErrEncryption.
func (d *Document) unlock(trailer Dict, password string) error {
	resolve := func(o Object) Object {
		for range limits.MaxRefHops {
			r, ok := o.(Ref)
			if !ok {
				return o
			}
			o = d.find(r.Num, true)
		}
		return nil
	}
	o := resolve(trailer["Encrypt"])
	if o == nil { // null is the same as absent (7.3.7)
		return nil
	}
	raw, ok := o.(Dict)
	if !ok {
		return fmt.Errorf("%w: what describes the encryption is damaged; export the file again", ErrEncryption)
	}
	s := &security{dict: make(Dict, len(raw)), filters: map[Name]cipherMethod{"Identity": cipherNone}}
	if r, isRef := trailer["Encrypt"].(Ref); isRef {
		s.object = r.Num
	}
	for k, v := range raw {
		s.dict[k] = resolve(v)
	}
	if id, ok := resolve(trailer["ID"]).(Array); ok && len(id) > 0 {
		s.id, _ = resolve(id[0]).(String)
	}
	if err := s.readDict(resolve); err != nil {
		return err
	}
	found, err := s.findKey(password)
	if err != nil {
		return err
	}
	if !found {
		if s.needsKey() {
			if password == "" {
				return fmt.Errorf("%w: its contents are encrypted; give the password it was saved with", ErrPassword)
			}
			return fmt.Errorf("%w: the one that was given does not open it", ErrPassword)
		}
		s.key = nil
	}
	d.security = s
	d.objects.clear() // what was read on the way was not decrypted
	d.objStms.clear()
	return nil
}

// needsKey reports whether anything but attachments is encrypted.
func (s *security) needsKey() bool { return s.stm != cipherNone || s.str != cipherNone }

// readDict takes in the entries of the encryption dictionary (Tables 20, 21).
func (s *security) readDict(resolve func(Object) Object) error {
	if s.usesRecipients(resolve) {
		return fmt.Errorf("%w: it is encrypted for the holders of certain certificates (public-key security); ask for a copy without them", ErrEncryption)
	}
	if n, _ := s.dict["Filter"].(Name); n != "Standard" {
		return fmt.Errorf("%w: it uses the security handler %q; ask for a copy with a plain password or none", ErrEncryption, string(n))
	}
	s.v, _ = intFrom(s.dict["V"])
	s.r, _ = intFrom(s.dict["R"])
	known := s.r == 2 || s.r == 3 || s.r == 4 || s.r == 5 || s.r == 6
	if !known || s.v != 1 && s.v != 2 && s.v != 4 && s.v != 5 || (s.v == 5) != (s.r >= 5) {
		return fmt.Errorf("%w: version %d, revision %d of encryption is not known; ask for a copy without it", ErrEncryption, s.v, s.r)
	}
	p, _ := intFrom(s.dict["P"]) // written as a signed or as an unsigned number of 32 bits
	s.p = int32(uint32(p))
	s.metadata = true
	if b, ok := s.dict["EncryptMetadata"].(Boolean); ok && s.v >= 4 {
		s.metadata = bool(b)
	}
	s.keyBytes = 5
	switch n, _ := intFrom(s.dict["Length"]); {
	case s.v == 5:
		s.keyBytes = 32
	case s.v == 4:
		s.keyBytes = 16
	case s.v == 2 && n >= 40 && n <= 128:
		s.keyBytes = n / 8
	case s.v == 2 && n >= 5 && n <= 16: // in bytes, by mistake
		s.keyBytes = n
	}
	if s.v < 4 {
		s.stm, s.str, s.embedded = cipherRC4, cipherRC4, cipherRC4
		return nil
	}
	return s.readFilters(resolve)
}

// readFilters takes in the crypt filters (7.6.6).
func (s *security) readFilters(resolve func(Object) Object) error {
	cf, _ := s.dict["CF"].(Dict)
	for name, o := range cf {
		if name == "Identity" { // cannot be redefined
			continue
		}
		f, _ := resolve(o).(Dict)
		m := cipherUnknown
		switch n, _ := resolve(f["CFM"]).(Name); {
		case n == "V2" && s.v == 4:
			m = cipherRC4
		case n == "AESV2" && s.v == 4:
			m = cipherAES128
		case n == "AESV3" && s.v == 5:
			m = cipherAES256
		}
		s.filters[name] = m
	}
	s.stm, s.str = s.filterOf("StmF"), s.filterOf("StrF")
	s.embedded = s.stm
	if s.dict["EFF"] != nil {
		s.embedded = s.filterOf("EFF")
	}
	if s.stm == cipherUnknown || s.str == cipherUnknown {
		return fmt.Errorf("%w: it names a way of encrypting that is not known; ask for a copy without it", ErrEncryption)
	}
	return nil
}

// filterOf is the method named by an entry of the encryption dictionary; Identity when it is absent.
func (s *security) filterOf(key Name) cipherMethod {
	n, ok := s.dict[key].(Name)
	if !ok {
		return cipherNone
	}
	return s.method(n)
}

func (s *security) method(filter Name) cipherMethod {
	if m, ok := s.filters[filter]; ok {
		return m
	}
	return cipherUnknown
}

// usesRecipients reports a public-key handler (7.6.5): it lists who may read the file.
func (s *security) usesRecipients(resolve func(Object) Object) bool {
	if s.dict["Recipients"] != nil {
		return true
	}
	if n, _ := s.dict["SubFilter"].(Name); strings.Contains(string(n), ".pkcs7.") {
		return true
	}
	cf, _ := s.dict["CF"].(Dict)
	for _, o := range cf {
		if f, ok := resolve(o).(Dict); ok && f["Recipients"] != nil {
			return true
		}
	}
	return false
}

// reportSecurity tells that the file is encrypted and what its owner does not allow.
func (d *Document) reportSecurity() {
	s := d.security
	if s == nil {
		return
	}
	note := func(id finding.ID, what, why, remedy string) {
		d.sink.Add(finding.Finding{ID: id, Class: finding.Artwork, What: what, Why: why, Remedy: remedy})
	}
	note("file-encrypted", "The file is encrypted.",
		"Standards for the exchange of print files (PDF/X) do not allow it, and a print provider may not be able to open it.",
		"Save the final file without a password and without restrictions.")
	if s.owner || s.key == nil {
		return
	}
	// Bit 3: printing; bit 12, from revision 3 on: printing as faithfully as the file allows (Table 22).
	switch prints, faithfully := s.p&(1<<2) != 0, s.p&(1<<11) != 0; {
	case !prints:
		note("printing-not-allowed", "The file's settings do not allow printing.",
			"Programs that keep to the settings refuse to print it.", "Save the file again with printing allowed, or without restrictions.")
	case s.r >= 3 && !faithfully:
		note("printing-coarse-only", "The file's settings allow printing in low resolution only.",
			"Programs that keep to the settings print a coarse picture of the page instead of the page.",
			"Save the file again with printing in high resolution allowed, or without restrictions.")
	}
	if s.r == 6 && !s.permissionsSealed() {
		d.malformed("permissions-changed", finding.Note, s.object,
			"The file's permissions do not match their encrypted copy; they were changed after the file was saved, or are damaged.", remedySaveAgain)
	}
}

// Encrypted reports whether the file is encrypted.
func (d *Document) Encrypted() bool { return d.security != nil }
