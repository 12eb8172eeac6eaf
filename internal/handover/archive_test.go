package handover

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"laydown/internal/handover/ticket"
)

// parts is a small handover: two passes, their tickets, a letter.
func parts(t testing.TB) (*Manifest, []File) {
	t.Helper()
	dir := t.TempDir()
	onDisk := filepath.Join(dir, "some.pdf")
	if err := os.WriteFile(onDisk, []byte("%PDF-1.7 first"), 0o600); err != nil {
		t.Fatal(err)
	}
	files := []File{
		{Name: "artwork/pass-1.pdf", Role: RoleArtwork, About: "pass 1", Path: onDisk},
		{Name: "artwork/pass-2.pdf", Role: RoleArtwork, About: "pass 2", Data: []byte("%PDF-1.7 second")},
		{Name: "letter.txt", Role: RoleLetter, About: "read this first", Data: []byte("To whoever prints this,\n")},
		{Name: "press.yaml", Role: RoleDefinition, About: "the press", Data: nil},
	}
	for i := range 2 {
		s, err := files[i].Sum()
		if err != nil {
			t.Fatal(err)
		}
		x := ticket.Ticket{Job: "j", Pass: i + 1, Passes: 2, Time: time.Unix(0, 0), Colours: []ticket.Colour{{Name: "White", Kind: ticket.KindWhite}},
			Sides: []ticket.Side{{Order: []string{"White"}}}, Stock: ticket.Stock{Surface: "coated"},
			Content: ticket.File{URL: "../" + files[i].Name, Type: "application/pdf", Size: s.Size, MD5: s.MD5, SHA256: s.SHA256}}
		var b bytes.Buffer
		if err := x.Write(&b); err != nil {
			t.Fatal(err)
		}
		files = append(files, File{Name: fmt.Sprintf("ticket/pass-%d.xjdf", i+1), Role: RoleTicket, About: "ticket", Data: b.Bytes()})
	}
	return &Manifest{Program: "laydown", Job: "j", Passes: []Pass{{Number: 1, Set: "special", Sides: []PassSide{{"front", []int{1}, []string{"White"}}}, Artwork: "artwork/pass-1.pdf"}}}, files
}

func packed(t *testing.T) []byte {
	t.Helper()
	m, files := parts(t)
	return packedOf(t, m, files)
}

func packedOf(t testing.TB, m *Manifest, files []File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, m, files); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func checked(t *testing.T, b []byte) *Checked {
	t.Helper()
	c, err := Check(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// says asks for a fault of a file with words.
func says(t *testing.T, c *Checked, file, words string) {
	t.Helper()
	if !slices.ContainsFunc(c.Faults, func(f Fault) bool { return f.File == file && strings.Contains(f.What, words) }) {
		t.Errorf("%s: no %q in %q", file, words, c.Faults)
	}
}

func TestCheck_takes_what_was_packed(t *testing.T) {
	c := checked(t, packed(t))
	if !c.OK() || len(c.Manifest.Files) != 7 {
		t.Errorf("%q, %d files", c.Faults, len(c.Manifest.Files))
	}
}

func TestWrite_gives_the_same_bytes_in_any_order(t *testing.T) {
	m, files := parts(t)
	first := packedOf(t, m, files)
	slices.Reverse(files)
	m2, _ := parts(t)
	if !bytes.Equal(first, packedOf(t, m2, files)) {
		t.Error("other bytes for the same files")
	}
}

// Every byte of an archive is looked at.
func TestCheck_refuses_a_change_of_any_byte(t *testing.T) {
	b := packed(t)
	for i := range b {
		changed := bytes.Clone(b)
		changed[i] ^= 1 << (i % 8)
		if checked(t, changed).OK() {
			t.Fatalf("byte %d of %d changed from %#x to %#x is not seen", i, len(b), b[i], changed[i])
		}
	}
}

func TestCheck_refuses_archives_cut_off(t *testing.T) {
	b := packed(t)
	for n := range len(b) {
		if checked(t, b[:n]).OK() {
			t.Fatalf("the first %d of %d bytes pass", n, len(b))
		}
	}
	says(t, checked(t, b[:len(b)-1]), "", "cut off")
}

// repacked packs entries anew as our own program would, after a change that leaves the manifest alone.
func repacked(t *testing.T, b []byte, change func(map[string][]byte)) []byte {
	t.Helper()
	files := contents(t, b)
	change(files)
	var list []File
	for n, data := range files {
		list = append(list, File{Name: n, Data: data})
	}
	slices.SortFunc(list, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	entries := make([]Entry, len(list))
	for i := range list {
		e, err := entry(&list[i])
		if err != nil {
			t.Fatal(err)
		}
		entries[i] = *e
	}
	var out bytes.Buffer
	if err := pack(&out, entries, func(i int) (io.ReadCloser, error) { return list[i].open() }); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func contents(t *testing.T, b []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func TestCheck_names_what_was_done_to_files(t *testing.T) {
	b := packed(t)
	if got := repacked(t, b, func(map[string][]byte) {}); !bytes.Equal(got, b) {
		t.Fatal("packing the same anew gives other bytes: the changes below would be seen for that alone")
	}
	for _, c := range []struct {
		name   string
		change func(map[string][]byte)
		file   string
		words  string
	}{
		{"changed", func(f map[string][]byte) { f["artwork/pass-2.pdf"] = []byte("%PDF-1.7 other!") }, "artwork/pass-2.pdf", "changed after the archive was made"},
		{"longer", func(f map[string][]byte) { f["letter.txt"] = append(f["letter.txt"], ' ') }, "letter.txt", "changed"},
		{"dropped", func(f map[string][]byte) { delete(f, "artwork/pass-1.pdf") }, "artwork/pass-1.pdf", "missing"},
		{"added", func(f map[string][]byte) { f["extra.exe"] = []byte("MZ") }, "extra.exe", "added"},
		{"renamed", func(f map[string][]byte) {
			f["artwork/pass-3.pdf"] = f["artwork/pass-2.pdf"]
			delete(f, "artwork/pass-2.pdf")
		}, "artwork/pass-3.pdf", `renamed: the manifest calls it "artwork/pass-2.pdf"`},
		{"swapped", func(f map[string][]byte) {
			f["artwork/pass-1.pdf"], f["artwork/pass-2.pdf"] = f["artwork/pass-2.pdf"], f["artwork/pass-1.pdf"]
		}, "artwork/pass-1.pdf", "changed"},
		{"no manifest", func(f map[string][]byte) { delete(f, ManifestName) }, ManifestName, "missing"},
		{"manifest of nothing", func(f map[string][]byte) { f[ManifestName] = []byte("[]") }, ManifestName, "no manifest"},
		{"manifest with more", func(f map[string][]byte) {
			f[ManifestName] = bytes.Replace(f[ManifestName], []byte(`"version": 1`), []byte(`"version": 1, "more": 2`), 1)
		}, ManifestName, "no manifest"},
		{"later version", func(f map[string][]byte) {
			f[ManifestName] = bytes.Replace(f[ManifestName], []byte(`"version": 1`), []byte(`"version": 2`), 1)
		}, ManifestName, "version 2"},
	} {
		t.Run(c.name, func(t *testing.T) { says(t, checked(t, repacked(t, b, c.change)), c.file, c.words) })
	}
}

// A ticket must mean the files beside it, even where manifest and checksums were made to fit.
func TestCheck_holds_tickets_against_files(t *testing.T) {
	m, files := parts(t)
	files[1].Data = []byte("%PDF-1.7 other")
	says(t, checked(t, packedOf(t, m, files)), "ticket/pass-2.xjdf", "means another file")
	m, files = parts(t)
	says(t, checked(t, packedOf(t, m, slices.Delete(files, 1, 2))), "ticket/pass-2.xjdf", "not in the archive")
	m, files = parts(t)
	files[4].Data = bytes.Replace(files[4].Data, []byte(`ColorantOrder="White"`), []byte(`ColorantOrder="Gold"`), 1)
	says(t, checked(t, packedOf(t, m, files)), "ticket/pass-1.xjdf", `the colour "Gold"`)
}

// foreign packs entries as another program might.
func foreign(t *testing.T, headers []zip.FileHeader, data func(i int) []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := range headers {
		w, err := z.CreateHeader(&headers[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(data(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestCheck_refuses_names_that_lead_astray(t *testing.T) {
	for name, words := range map[string]string{
		"../../etc/passwd": "leads out", "/etc/passwd": "leads out", "a/../../b": "leads out", `..\b`: "not every system", `C:b`: "not every system",
		"./b": "plainly", "a//b": "plainly", "a\x00b": "not every system", "a\xff": "no text", strings.Repeat("a", 300): "too long",
		"letter.txt.": "every system", "colour /a": "every system", "look/NUL.png": "every system", "com1": "every system",
	} {
		says(t, checked(t, foreign(t, []zip.FileHeader{{Name: name}}, func(int) []byte { return nil })), name, words)
	}
	says(t, checked(t, foreign(t, []zip.FileHeader{{Name: "dir/"}}, func(int) []byte { return nil })), "dir/", "folder")
	link := zip.FileHeader{Name: "link"}
	link.SetMode(os.ModeSymlink | 0o777)
	says(t, checked(t, foreign(t, []zip.FileHeader{link}, func(int) []byte { return []byte("/etc") })), "link", "link")
	says(t, checked(t, foreign(t, []zip.FileHeader{{Name: "a"}, {Name: "A"}}, func(int) []byte { return nil })), "A", "twice")
}

// A bomb is refused by its directory, before anything is unpacked.
func TestCheck_refuses_bombs(t *testing.T) {
	zeros := make([]byte, 64<<20)
	b := foreign(t, []zip.FileHeader{{Name: "bomb", Method: zip.Deflate}}, func(int) []byte { return zeros })
	if len(b) > len(zeros)/100 {
		t.Fatalf("%d bytes are no bomb", len(b))
	}
	c := checked(t, b)
	says(t, c, "bomb", "compressed")
	says(t, c, "bomb", "larger than the archive")
	// Many names for the same bytes: each is small, together they are larger than the archive.
	var list []zip.FileHeader
	for i := range 100 {
		list = append(list, zip.FileHeader{Name: fmt.Sprint(i), Method: zip.Store})
	}
	same := foreign(t, list, func(int) []byte { return []byte("same") })
	end := bytes.Index(same, []byte("PK\x01\x02"))
	for i, at := 0, end; i < len(list); i++ {
		n := len(list[i].Name)
		copy(same[at+20:], []byte{0, 0x10, 0, 0, 0, 0x10, 0, 0}) // 4 KB each
		at += 46 + n + int(same[at+30]) + int(same[at+31])<<8
	}
	if len(same) < 8<<10 || len(same) > 100<<12 {
		t.Fatalf("%d bytes hold one file, and fewer than all", len(same))
	}
	if c := checked(t, same); len(c.Faults) != 1 || !strings.Contains(c.Faults[0].What, "larger than the archive") {
		t.Errorf("%q", c.Faults)
	}
}

// The same files packed by another program, or with something hidden between them, are not what was sent.
func TestCheck_refuses_archives_packed_anew(t *testing.T) {
	b := packed(t)
	files := contents(t, b)
	var names []string
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	again := func(method uint16) []byte {
		headers := make([]zip.FileHeader, len(names))
		for i, n := range names {
			headers[i] = zip.FileHeader{Name: n, Method: method}
		}
		return foreign(t, headers, func(i int) []byte { return files[names[i]] })
	}
	says(t, checked(t, again(zip.Deflate)), "letter.txt", "compressed")
	says(t, checked(t, again(zip.Store)), "", "packed anew")
	says(t, checked(t, append([]byte("MZ before the archive"), b...)), "", "packed anew")
	if checked(t, append(bytes.Clone(b), "behind"...)).OK() {
		t.Error("bytes behind the archive pass")
	}
}

func TestWrite_refuses_names_Check_would_refuse(t *testing.T) {
	m, files := parts(t)
	for _, n := range []string{"../a", ManifestName, "LETTER.txt"} {
		var b bytes.Buffer
		if err := Write(&b, m, append(slices.Clone(files), File{Name: n})); err == nil {
			t.Errorf("%s is packed", n)
		}
	}
}

func FuzzCheck(f *testing.F) {
	m, files := parts(f)
	f.Add(packedOf(f, m, files))
	var b bytes.Buffer
	w, _ := flate.NewWriter(&b, 9)
	w.Write(make([]byte, 1000))
	w.Close()
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		if _, err := Check(bytes.NewReader(b), int64(len(b))); err != nil {
			t.Fatal(err)
		}
	})
}
