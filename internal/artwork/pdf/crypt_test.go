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

// Is an encrypted file read when its list of objects is lost, when it lies in a large file, and with each kind of damage?
func TestEncryptionInDamagedFiles(t *testing.T) {
	for _, l := range locks() {
		t.Run(l.name, func(t *testing.T) {
			data := lockedFile(l)
			w, err := pdf.OpenWindowed(bytes.NewReader(data), int64(len(data)), pdf.Options{Password: "user"})
			if err != nil {
				t.Fatal(err)
			}
			checkLocked(t, w)
			broken := bytes.Replace(data, []byte("startxref"), []byte("startxxxx"), 1)
			d, sink, err := unlock(broken, "owner")
			if err != nil {
				t.Fatal(err)
			}
			checkLocked(t, d)
			if !ids(sink)["file-repaired"] || !ids(sink)["file-encrypted"] {
				t.Errorf("findings %v", sink.Sorted())
			}
			if _, _, err := unlock(broken, "wrong"); !errors.Is(err, pdf.ErrPassword) {
				t.Errorf("with a wrong password: %v", err)
			}
			// One stream is not where the list says.
			at := bytes.Index(data, []byte("4 2 obj"))
			shifted := append(append(bytes.Clone(data[:at]), "          "...), data[at:]...)
			shifted = bytes.Replace(shifted, []byte("startxref"), []byte("startxxxx"), 1)
			if d, _, err = unlock(shifted, "user"); err != nil {
				t.Fatal(err)
			}
			checkLocked(t, d)
		})
	}
}

// Is an encryption dictionary found when every trailer is lost? Up to revision 4 the identifier in the trailer
// is part of the key.
func TestEncryptionWithoutTrailer(t *testing.T) {
	for _, l := range locks() {
		data := bytes.Replace(lockedFile(l), []byte("/Type /XRef"), []byte("/Type /Lost"), 1)
		data = bytes.Replace(data, []byte("/W [1 2 1]"), []byte("/W (lost) "), 1)
		d, _, err := unlock(data, "user")
		switch {
		case l.r >= 5 && err != nil:
			t.Errorf("%s: %v", l.name, err)
		case l.r >= 5:
			if got := dataOf(t, d, "pages.1.Contents"); got != lockedContent {
				t.Errorf("%s: %q", l.name, got)
			}
		case !errors.Is(err, pdf.ErrPassword):
			t.Errorf("%s: %v", l.name, err)
		}
	}
}

// Does a mend stay encrypted with the same passwords, whether added to the file or written with it anew, and read
// back as it was?
func TestEncryptionOfWhatIsWritten(t *testing.T) {
	for _, l := range locks() {
		t.Run(l.name, func(t *testing.T) {
			data := lockedFile(l)
			d, _, err := unlock(data, "user")
			if err != nil {
				t.Fatal(err)
			}
			for _, full := range []bool{false, true} {
				out := changed(t, d, full)
				if bytes.Contains(out, []byte("added")) {
					t.Errorf("full %v: what was added lies in plain", full)
				}
				if !full && !bytes.HasPrefix(out, data) {
					t.Error("the original bytes are not kept")
				}
				if again := changed(t, d, full); !bytes.Equal(again, out) {
					t.Errorf("full %v: written twice, the bytes differ", full)
				}
				for _, pw := range []string{"user", "owner"} {
					e, sink, err := unlock(out, pw)
					if err != nil {
						t.Fatalf("full %v: %v", full, err)
					}
					if e.Repaired() || !e.Encrypted() || len(sink.Sorted()) != 1 {
						t.Errorf("full %v: findings %v", full, sink.Sorted())
					}
					checkLocked(t, e)
					if got := textOf(t, e, "pages.1.PieceInfo.Text"); got != "added text" {
						t.Errorf("full %v: text %q", full, got)
					}
					if got := dataOf(t, e, "pages.1.PieceInfo.Data"); got != "added data" {
						t.Errorf("full %v: data %q", full, got)
					}
					if got := textOf(t, e, "pages.1.PieceInfo.Data.Name"); got != "added" {
						t.Errorf("full %v: name %q", full, got)
					}
					if got := textOf(t, e, "pages.1.Contents.Again"); got != "again" {
						t.Errorf("full %v: %q", full, got)
					}
				}
				if _, _, err := unlock(out, ""); !errors.Is(err, pdf.ErrPassword) {
					t.Errorf("full %v: without a password: %v", full, err)
				}
			}
		})
	}
}

// Can a mend take off the encryption of what stays in the file? It must not.
func TestUpdateKeepsEncryption(t *testing.T) {
	d, _, err := unlock(lockedFile(locks()[5]), "user")
	if err != nil {
		t.Fatal(err)
	}
	u := pdf.NewUpdate(d)
	u.SetTrailer("Encrypt", nil)
	u.Add(pdf.Dict{})
	var out bytes.Buffer
	if _, err := u.WriteTo(&out); err != nil {
		t.Fatal(err)
	}
	e, _, err := unlock(out.Bytes(), "user")
	if err != nil || !e.Encrypted() {
		t.Fatal(err)
	}
	checkLocked(t, e)
}

// Is what a new file takes from an encrypted one written plain, whatever its crypt filters?
func TestImportFromEncrypted(t *testing.T) {
	for _, l := range locks() {
		d, _, err := unlock(lockedFile(l), "user")
		if err != nil {
			t.Fatal(err)
		}
		b := pdf.NewBuilder()
		b.Trailer["Root"] = b.Import(d, d.Trailer()["Root"])
		b.Trailer["Info"] = b.Import(d, d.Trailer()["Info"])
		var out bytes.Buffer
		if _, err := b.WriteTo(&out); err != nil {
			t.Fatal(err)
		}
		e, sink := open(t, out.Bytes())
		if e.Encrypted() || len(sink.Sorted()) > 0 {
			t.Errorf("%s: findings %v", l.name, sink.Sorted())
		}
		// The page's /Parent is left out by Import: its content is reached from the tree.
		for path, want := range map[string]string{"catalog.Metadata": lockedMeta, "catalog.Plain": lockedPlain, "catalog.File": lockedAttach} {
			if got := dataOf(t, e, path); got != want {
				t.Errorf("%s: %s: %q, want %q", l.name, path, got, want)
			}
		}
		if got := textOf(t, e, "trailer.Info.Title"); got != lockedTitle {
			t.Errorf("%s: %q", l.name, got)
		}
		if code, report := qpdfCheck(t, out.Bytes()); code != 0 {
			t.Errorf("%s: qpdf: %s", l.name, report)
		}
	}
}

// Is what cannot be read refused in words that say why?
func TestEncryptionRefused(t *testing.T) {
	with := func(dict string) []byte {
		r := body(newRaw("%PDF-1.7\n"))
		r.obj(8, dict)
		r.table("/Root 1 0 R /Size 9 /Encrypt 8 0 R", 0, 1, 2, 3, 4, 8)
		return r.Bytes()
	}
	ou := " /O <" + strings.Repeat("41", 48) + "> /U <" + strings.Repeat("42", 48) + "> "
	for _, c := range []struct {
		name, dict string
		want       error
		words      string
	}{
		{"certificates", "<< /Filter /Some.Handler /SubFilter /some.pkcs7.s5 /V 4 >>", pdf.ErrEncryption, "certificates"},
		{"recipients", "<< /Filter /Some.Handler /V 2 /Recipients [ <00> ] >>", pdf.ErrEncryption, "certificates"},
		{"recipients of a filter", "<< /Filter /Some.Handler /V 4 /CF << /A << /Recipients <00> >> >> >>", pdf.ErrEncryption, "certificates"},
		{"another handler", "<< /Filter /Lock.Smith /V 1 /R 2" + ou + ">>", pdf.ErrEncryption, `"Lock.Smith"`},
		{"no handler", "<< >>", pdf.ErrEncryption, "security handler"},
		{"version 3", "<< /Filter /Standard /V 3 /R 3" + ou + ">>", pdf.ErrEncryption, "version 3, revision 3"},
		{"revision 7", "<< /Filter /Standard /V 5 /R 7" + ou + ">>", pdf.ErrEncryption, "version 5, revision 7"},
		{"versions that do not fit", "<< /Filter /Standard /V 5 /R 4" + ou + ">>", pdf.ErrEncryption, "version 5, revision 4"},
		{"an unknown method", "<< /Filter /Standard /V 5 /R 6 /CF << /StdCF << /CFM /ROT13 >> >> /StmF /StdCF /StrF /StdCF" + ou + ">>", pdf.ErrEncryption, "way of encrypting"},
		{"a filter that is not there", "<< /Filter /Standard /V 4 /R 4 /StmF /Gone /StrF /StdCF" + ou + ">>", pdf.ErrEncryption, "way of encrypting"},
		{"verifiers cut short", "<< /Filter /Standard /V 2 /R 3 /O (a) /U (b) >>", pdf.ErrEncryption, "damaged"},
		{"no verifiers", "<< /Filter /Standard /V 5 /R 6 /CF << /StdCF << /CFM /AESV3 >> >> /StmF /StdCF /StrF /StdCF >>", pdf.ErrEncryption, "damaged"},
		{"no dictionary", "(a string)", pdf.ErrEncryption, "damaged"},
		{"no keys hidden", "<< /Filter /Standard /V 5 /R 6 /CF << /StdCF << /CFM /AESV3 >> >> /StmF /StdCF /StrF /StdCF" + ou + ">>", pdf.ErrPassword, "give the password"},
		{"null", "null", nil, ""},
	} {
		for _, broken := range []bool{false, true} {
			data := with(c.dict)
			if broken {
				data = bytes.Replace(data, []byte("startxref"), []byte("startxxxx"), 1)
			}
			_, _, err := unlock(data, "")
			if !errors.Is(err, c.want) || c.want != nil && !strings.Contains(err.Error(), c.words) {
				t.Errorf("%s, broken %v: %v, want %v with %q", c.name, broken, err, c.want, c.words)
			}
		}
	}
}

// Is the password read as the standard asks, and as careless writers use it?
func TestPasswordSpellings(t *testing.T) {
	old := lock{v: 2, r: 3, bits: 128, p: -4, owner: "owner"}
	modern := lock{v: 5, r: 6, bits: 256, cfm: "AESV3", p: -4, owner: "owner"}
	long := strings.Repeat("0123456789", 13)
	for _, c := range []struct {
		name    string
		lock    lock
		written string // bytes of the dictionary
		typed   string
		opens   bool
	}{
		{"PDFDocEncoding", old, "gr\xfcn\xa0", "grün€", true},
		{"PDFDocEncoding beyond Latin-1", old, "\x92\x8a\x9f", "™−ﬁ", false},
		{"PDFDocEncoding, specials", old, "\x92\x8a\x93", "™−ﬁ", true},
		{"UTF-8 where PDFDocEncoding should be", old, "grün", "grün", true},
		{"32 bytes count", old, long[:32], long[:40], true},
		{"31 bytes do not do", old, long[:32], long[:31], false},
		{"case counts", old, "Word", "word", false},
		{"UTF-8", modern, "grün€", "grün€", true},
		{"composed", modern, "gr\u00fcn", "gru\u0308n", true},
		{"compatibility forms", modern, "fi 1", "\ufb01\u00a0\u2460", true},
		{"soft hyphen", modern, "ab", "a\u00adb", true},
		{"as typed by careless writers", modern, "\ufb01", "\ufb01", true},
		{"127 bytes count", modern, long[:127], long, true},
		{"126 bytes do not do", modern, long[:127], long[:126], false},
	} {
		l := c.lock
		l.user = c.written
		d, _, err := unlock(lockedFile(l.make()), c.typed)
		if (err == nil) != c.opens {
			t.Errorf("%s: %v", c.name, err)
		}
		if err == nil {
			checkLocked(t, d)
		}
	}
}

// Are files read whose dictionary tells the length of the key, or the permissions, in another way than asked for?
func TestEncryptionOddDictionaries(t *testing.T) {
	for _, c := range []struct {
		name     string
		lock     lock
		from, to string
	}{
		{"length in bytes", lock{v: 2, r: 3, bits: 128}, "/Length 128", "/Length 16 "},
		{"no length", lock{v: 2, r: 3, bits: 128}, "/Length 128", "           "},
		{"length of a crypt filter file", lock{v: 4, r: 4, bits: 128, cfm: "AESV2"}, "/Length 128", "/Length 40 "},
		{"unsigned permissions", lock{v: 4, r: 4, bits: 128, cfm: "AESV2"}, "/P -4 ", "/P 4294967292 "},
		{"AES 256 length in bytes", lock{v: 5, r: 6, bits: 256, cfm: "AESV3"}, "/Length 256", "/Length 32 "},
	} {
		l := c.lock
		l.user, l.owner, l.p = "user", "owner", -4
		l.make()
		if !strings.Contains(l.dict, c.from) {
			t.Fatalf("%s: %s", c.name, l.dict)
		}
		l.dict = strings.Replace(l.dict, c.from, c.to, 1)
		for _, pw := range []string{"user", "owner"} {
			d, _, err := unlock(lockedFile(&l), pw)
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, pw, err)
				continue
			}
			checkLocked(t, d)
		}
	}
}

// Are the restrictions on printing told, once, and not to the owner?
func TestPermissionsAreTold(t *testing.T) {
	for _, c := range []struct {
		p        int32
		r        int
		password string
		want     finding.ID
	}{
		{-4, 6, "", ""},
		{-4 &^ 4, 6, "", "printing-not-allowed"},
		{-4 &^ 4, 6, "user", "printing-not-allowed"},
		{-4 &^ 4, 6, "owner", ""},
		{-4 &^ (1 << 11), 6, "", "printing-coarse-only"},
		{-4 &^ (1 << 11), 3, "", "printing-coarse-only"},
		{-4 &^ (1 << 11), 2, "", ""}, // means something from revision 3 on
		{-4 &^ 4, 2, "", "printing-not-allowed"},
	} {
		l := lock{v: 5, r: 6, bits: 256, cfm: "AESV3", p: c.p, owner: "owner"}
		switch c.r {
		case 3:
			l.v, l.r, l.bits, l.cfm = 2, 3, 128, ""
		case 2:
			l.v, l.r, l.bits, l.cfm = 1, 2, 40, ""
		}
		data := lockedFile(l.make())
		_, sink, err := unlock(data, c.password)
		if err != nil {
			t.Fatal(err)
		}
		got := ids(sink)
		n := 1
		if c.want != "" {
			n = 2
		}
		if len(got) != n || !got["file-encrypted"] || c.want != "" && !got[c.want] {
			t.Errorf("P %d, revision %d, %q: %v, want %q", c.p, c.r, c.password, sink.Sorted(), c.want)
		}
		for _, f := range sink.Sorted() {
			if f.Severity != finding.Note || f.Incomplete {
				t.Errorf("%s blocks: %+v", f.ID, f)
			}
		}
	}
}

// Are permissions told that do not match their encrypted copy?
func TestPermissionsChanged(t *testing.T) {
	l := (&lock{v: 5, r: 6, bits: 256, cfm: "AESV3", p: -4 &^ 4, owner: "owner"}).make()
	l.dict = strings.Replace(l.dict, "/P -8", "/P -4", 1)
	_, sink, err := unlock(l.file(), "")
	if err != nil || !ids(sink)["permissions-changed"] {
		t.Errorf("%v, findings %v", err, sink.Sorted())
	}
}

// Is a file readable without a password when only its attachments are encrypted, and its attachment with one?
func TestOnlyAttachmentsEncrypted(t *testing.T) {
	l := (&lock{v: 4, r: 4, bits: 128, cfm: "AESV2", p: -4, user: "user", owner: "owner", filters: "/StmF /Identity /StrF /Identity /EFF /StdCF"}).make()
	r := newRaw("%PDF-1.7\n")
	r.obj(1, "<< /Type /Catalog /Pages 2 0 R /File 5 0 R /Text (plain) >>").obj(2, treeBody).obj(3, pageBody).stream(4, "", contentText)
	r.stream(5, "/Type /EmbeddedFile", string(l.seal(5, 0, lockedAttach)))
	r.obj(6, l.dict)
	r.table("/Root 1 0 R /Size 7 /Encrypt 6 0 R /ID [ ("+lockID+") (x) ]", 0, 1, 2, 3, 4, 5, 6)
	for _, pw := range []string{"", "user"} {
		d, _, err := unlock(r.Bytes(), pw)
		if err != nil {
			t.Fatal(err)
		}
		if contents(t, d) != contentText || textOf(t, d, "catalog.Text") != "plain" {
			t.Errorf("%q: the page does not read", pw)
		}
		s, _ := d.Stream(pdf.Ref{Num: 5})
		b, err := d.Data(s)
		if pw == "" && !errors.Is(err, pdf.ErrUnsupportedFilter) || pw != "" && string(b) != lockedAttach {
			t.Errorf("%q: attachment %q, %v", pw, b, err)
		}
	}
}

// Is damaged encrypted data read as far as it goes, and the damage told?
func TestEncryptedDataDamaged(t *testing.T) {
	l := (&lock{v: 5, r: 6, bits: 256, cfm: "AESV3", p: -4, owner: "owner"}).make()
	full := string(l.seal(4, 0, "0123456789abcdef0123456789abcdef."))
	for _, c := range []struct {
		name, data, want string
		damaged          bool
	}{
		{"whole", full, "0123456789abcdef0123456789abcdef.", false},
		{"nothing", "", "", false},
		{"a first block only", full[:16], "", false},
		{"less than a block", full[:7], "", true},
		{"the last block cut", full[:58], "0123456789abcdef0123456789abcdef", true},
		{"the padding lost", full[:48], "0123456789abcdef0123456789abcdef", true},
	} {
		r := newRaw("%PDF-1.7\n")
		r.obj(1, catalogBody).obj(2, treeBody).obj(3, pageBody).stream(4, "", c.data).obj(5, l.dict)
		r.obj(6, "[ <0102> ]")
		r.table("/Root 1 0 R /Size 7 /Encrypt 5 0 R", 0, 1, 2, 3, 4, 5, 6)
		d, sink, err := unlock(r.Bytes(), "")
		if err != nil {
			t.Fatal(err)
		}
		s, _ := d.Stream(pdf.Ref{Num: 4})
		b, err := d.Data(s)
		if string(b) != c.want || errors.Is(err, pdf.ErrDamaged) != c.damaged {
			t.Errorf("%s: %q, %v", c.name, b, err)
		}
		if d.Array(pdf.Ref{Num: 6}); !ids(sink)["text-not-decrypted"] {
			t.Errorf("%s: a damaged string is not told: %v", c.name, sink.Sorted())
		}
	}
}
