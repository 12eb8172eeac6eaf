// Package handover packs a job for a print provider: one ZIP archive with artwork, ticket, definitions, proof, report, a letter
// in plain words and a manifest, and checks such an archive. It knows what the files are for, not how they are made.
//
// An archive is the same bytes for the same files: names are sorted, times fixed, contents stored as they are. So every byte of
// it is accounted for, and Check finds a change anywhere.
package handover

import (
	"archive/zip"
	"bytes"
	"crypto/md5"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"slices"
	"strings"
)

// Names of files every archive has.
const (
	ManifestName  = "manifest.json"
	ChecksumsName = "checksums.txt" // the same sums as other programs read them
)

// Format is what a manifest calls itself.
const (
	Format        = "laydown handover"
	FormatVersion = 1
)

// Roles of files.
const (
	RoleLetter     = "letter"
	RoleArtwork    = "artwork of a pass"
	RoleWhole      = "whole artwork"
	RoleSheets     = "sheets"
	RoleProof      = "proof"
	RoleReport     = "report"
	RoleTicket     = "job ticket"
	RoleColour     = "measured colour"
	RoleDefinition = "definition"
	RolePicture    = "picture"
	RoleChecksums  = "checksums"
)

// File is one to be packed, from disk or memory.
type File struct {
	Name  string // in the archive, with slashes
	Role  string
	About string // in a few words
	Path  string
	Data  []byte // when Path is ""
}

// Manifest lists what an archive holds.
type Manifest struct {
	Format   string  `json:"format"`
	Version  int     `json:"version"`
	Program  string  `json:"program"`
	Job      string  `json:"job"`
	Press    string  `json:"press"`
	Stock    string  `json:"stock"`
	Quantity int     `json:"quantity,omitempty"`
	Clean    bool    `json:"clean"` // the checks found nothing that stands against printing
	Passes   []Pass  `json:"passes"`
	Files    []Entry `json:"files"` // all but the manifest, by name
}

// Pass is one time of the stack through the press.
type Pass struct {
	Number  int        `json:"number"`
	Set     string     `json:"set"`
	Sides   []PassSide `json:"sides"`
	Artwork string     `json:"artwork"`          // name of the file to print
	Sheets  string     `json:"sheets,omitempty"` // of the imposed sheets
	Ticket  string     `json:"ticket,omitempty"`
}

// PassSide is what a pass lays on one side.
type PassSide struct {
	Side   string   `json:"side"` // front or back
	Pages  []int    `json:"pages"`
	Toners []string `json:"toners"` // the one laid first first
}

// Entry is a file of an archive.
type Entry struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
	Role   string `json:"role"`
	About  string `json:"about"`

	crc uint32
}

// Sums are what identifies a file.
type Sums struct {
	Size   int64
	SHA256 []byte
	MD5    []byte // XJDF asks for it
	crc    uint32
}

// Sum reads a file once.
func (f *File) Sum() (*Sums, error) {
	r, err := f.open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	sha, md, crc := sha256.New(), md5.New(), crc32.NewIEEE()
	n, err := io.Copy(io.MultiWriter(sha, md, crc), r)
	return &Sums{n, sha.Sum(nil), md.Sum(nil), crc.Sum32()}, err
}

func (f *File) open() (io.ReadCloser, error) {
	if f.Path == "" {
		return io.NopCloser(bytes.NewReader(f.Data)), nil
	}
	return os.Open(f.Path)
}

// Write packs the files and completes the manifest: Format, Version and Files are filled in.
func Write(w io.Writer, m *Manifest, files []File) error {
	m.Format, m.Version, m.Files = Format, FormatVersion, nil
	files = slices.Clone(files)
	byName := func(a, b File) int { return strings.Compare(a.Name, b.Name) }
	slices.SortFunc(files, byName)
	var lines strings.Builder
	for i := range files {
		e, err := entry(&files[i])
		if err != nil {
			return err
		}
		m.Files = append(m.Files, *e)
		fmt.Fprintf(&lines, "%s  %s\n", e.SHA256, e.Name)
	}
	sums := File{Name: ChecksumsName, Role: RoleChecksums, About: "SHA-256 of all files, for sha256sum -c", Data: []byte(lines.String())}
	e, err := entry(&sums)
	if err != nil {
		return err
	}
	m.Files = append(m.Files, *e)
	slices.SortFunc(m.Files, func(a, b Entry) int { return strings.Compare(a.Name, b.Name) })
	if err := m.sane(); err != nil {
		return err
	}
	text, err := m.text()
	if err != nil {
		return err
	}
	files = append(files, sums, File{Name: ManifestName, Data: text})
	slices.SortFunc(files, byName)
	list := make([]Entry, len(files))
	for i := range files {
		if files[i].Name == ManifestName {
			list[i] = Entry{Name: ManifestName, Size: int64(len(text)), crc: crc32.ChecksumIEEE(text)}
			continue
		}
		k := slices.IndexFunc(m.Files, func(e Entry) bool { return e.Name == files[i].Name })
		list[i] = m.Files[k]
	}
	return pack(w, list, func(i int) (io.ReadCloser, error) { return files[i].open() })
}

func entry(f *File) (*Entry, error) {
	s, err := f.Sum()
	if err != nil {
		return nil, err
	}
	return &Entry{Name: f.Name, Size: s.Size, SHA256: hex.EncodeToString(s.SHA256), Role: f.Role, About: f.About, crc: s.crc}, nil
}

func (m *Manifest) text() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	err := e.Encode(m)
	return b.Bytes(), err
}

// sane refuses what Check would refuse.
func (m *Manifest) sane() error {
	seen := map[string]bool{ManifestName: true}
	for _, e := range m.Files {
		if why := badName(e.Name); why != "" {
			return fmt.Errorf("the file name %q %s", e.Name, why)
		}
		if seen[strings.ToLower(e.Name)] {
			return fmt.Errorf("two files are named %q", e.Name)
		}
		seen[strings.ToLower(e.Name)] = true
	}
	return nil
}

// pack writes the archive as it is always written.
func pack(w io.Writer, list []Entry, open func(int) (io.ReadCloser, error)) error {
	z := zip.NewWriter(w)
	for i, e := range list {
		if err := packOne(z, &e, func() (io.ReadCloser, error) { return open(i) }); err != nil {
			return err
		}
	}
	return z.Close()
}

// Fixed figures of an archive's entries: version 2.0 of the format, made on a system whose files have modes, 1 January 1980,
// the first day the format knows.
const (
	zipVersion  = 20
	zipMadeBy   = 3<<8 | zipVersion
	zipMode     = 0o100644 << 16
	zipFirstDay = 1<<5 | 1
)

func packOne(z *zip.Writer, e *Entry, open func() (io.ReadCloser, error)) error {
	to, err := z.CreateRaw(&zip.FileHeader{Name: e.Name, Method: zip.Store, CRC32: e.crc, CompressedSize64: uint64(e.Size), UncompressedSize64: uint64(e.Size),
		CreatorVersion: zipMadeBy, ReaderVersion: zipVersion, ExternalAttrs: zipMode, ModifiedDate: zipFirstDay})
	if err != nil {
		return err
	}
	from, err := open()
	if err != nil {
		return err
	}
	defer from.Close()
	n, err := io.Copy(to, from)
	if err == nil && n != e.Size {
		err = fmt.Errorf("%s changed while it was packed", e.Name)
	}
	return err
}
