package handover

import (
	"archive/zip"
	"bytes"
	"crypto/md5"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"unicode/utf8"

	"laydown/internal/handover/ticket"
	"laydown/internal/limits"
)

// Fault is something wrong with an archive.
type Fault struct {
	File string `json:"file,omitempty"` // in the archive
	What string `json:"what"`
}

// Checked is what Check found.
type Checked struct {
	SHA256   string    `json:"sha256"` // of the archive
	Size     int64     `json:"size"`
	Manifest *Manifest `json:"manifest,omitempty"` // nil when it could not be read
	Faults   []Fault   `json:"faults"`
}

// OK tells that nothing is wrong.
func (c *Checked) OK() bool { return len(c.Faults) == 0 }

// maxFaults told of one archive.
const maxFaults = 50

// Check reads an archive of size bytes without unpacking it. Every byte is looked at: files against the manifest, tickets against
// the files, and what lies between the files against how archives are written here. The error is that of reading r.
func Check(r io.ReaderAt, size int64) (*Checked, error) {
	c := &checking{Checked: Checked{Size: size, Faults: []Fault{}}, r: r, sums: map[string]sums{}}
	sum := sha256.New()
	if _, err := io.Copy(sum, io.NewSectionReader(r, 0, size)); err != nil {
		return nil, err
	}
	c.SHA256 = hex.EncodeToString(sum.Sum(nil))
	c.run()
	if len(c.Faults) > maxFaults {
		n := len(c.Faults) - maxFaults
		c.Faults = append(c.Faults[:maxFaults], Fault{What: fmt.Sprintf("%d more faults are not listed.", n)})
	}
	return &c.Checked, nil
}

type checking struct {
	Checked
	r     io.ReaderAt
	files []*zip.File
	sums  map[string]sums // by name
}

type sums struct{ sha, md string }

func (c *checking) fault(file, format string, args ...any) {
	c.Faults = append(c.Faults, Fault{file, fmt.Sprintf(format, args...)})
}

func (c *checking) run() {
	z, err := zip.NewReader(c.r, c.Size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		c.fault("", "It is no ZIP archive, or it was cut off or damaged on the way.")
		return
	}
	c.files = z.File
	if !c.names() || !c.contents() {
		return
	}
	if !c.manifest() {
		return
	}
	c.compare()
	if len(c.Faults) == 0 {
		c.tickets()
		c.between()
	}
}

// badName tells what is wrong with a name in an archive, "" when nothing is.
func badName(name string) string {
	switch {
	case name == "":
		return "is empty"
	case len(name) > 240:
		return "is too long"
	case !utf8.ValidString(name):
		return "is no text"
	case strings.ContainsAny(name, "\\:*?\"<>|") || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return "has signs that not every system takes"
	case slices.ContainsFunc(strings.Split(name, "/"), func(part string) bool {
		return strings.HasSuffix(part, " ") || strings.HasSuffix(strings.TrimLeft(part, "."), ".") || ticket.Device(part)
	}):
		return "is not one that every system takes"
	case path.IsAbs(name):
		return "leads out of the folder it is unpacked to"
	case slices.Contains(strings.Split(name, "/"), ".."):
		return "leads out of the folder it is unpacked to"
	case path.Clean(name) != name || !fs.ValidPath(name):
		return "is not written plainly"
	}
	return ""
}

// names looks at the directory alone; nothing is read before it is sound.
func (c *checking) names() bool {
	if len(c.files) > limits.MaxHandoverFiles {
		c.fault("", "It lists %d files; more than %d are not possible.", len(c.files), limits.MaxHandoverFiles)
		return false
	}
	seen, total := map[string]string{}, uint64(0)
	for _, f := range c.files {
		if why := badName(f.Name); why != "" {
			c.fault(f.Name, "The name %s.", why)
		}
		if other, ok := seen[strings.ToLower(f.Name)]; ok {
			c.fault(f.Name, "It is there twice, as %q too: which of them is unpacked cannot be known.", other)
		}
		seen[strings.ToLower(f.Name)] = f.Name
		if !f.Mode().IsRegular() {
			c.fault(f.Name, "It is no plain file but a folder, a link or a device.")
		}
		if f.Method != zip.Store || f.CompressedSize64 != f.UncompressedSize64 {
			c.fault(f.Name, "It is compressed, which files of a handover are not: the archive was packed anew by another program.")
		}
		if f.UncompressedSize64 > uint64(c.Size) || total > uint64(c.Size) {
			c.fault(f.Name, "It claims to be larger than the archive it lies in.")
			return false
		}
		total += f.UncompressedSize64
	}
	if total > uint64(c.Size) {
		c.fault("", "Its files claim to be larger than the archive.")
	}
	return len(c.Faults) == 0
}

// contents reads every file once.
func (c *checking) contents() bool {
	for _, f := range c.files {
		sha, md := sha256.New(), md5.New()
		if err := c.copy(io.MultiWriter(sha, md), f); err != nil {
			c.fault(f.Name, "It is damaged: its bytes are not those that were packed.")
			continue
		}
		c.sums[f.Name] = sums{hex.EncodeToString(sha.Sum(nil)), strings.ToUpper(hex.EncodeToString(md.Sum(nil)))}
	}
	return true
}

func (c *checking) copy(w io.Writer, f *zip.File) error {
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer r.Close()
	_, err = io.Copy(w, io.LimitReader(r, c.Size+1))
	return err
}

func (c *checking) find(name string) *zip.File {
	for _, f := range c.files {
		if f.Name == name {
			return f
		}
	}
	return nil
}

// read reads a small file that was read before.
func (c *checking) read(f *zip.File, most uint64) ([]byte, error) {
	if f.UncompressedSize64 > most {
		return nil, fmt.Errorf("it is larger than %d bytes", most)
	}
	var b bytes.Buffer
	err := c.copy(&b, f)
	return b.Bytes(), err
}

func (c *checking) manifest() bool {
	f := c.find(ManifestName)
	if f == nil {
		c.fault(ManifestName, "It is missing, so that nothing can be compared with it.")
		return false
	}
	b, err := c.read(f, limits.MaxManifestBytes)
	if err != nil {
		c.fault(ManifestName, "It cannot be read.")
		return false
	}
	m := &Manifest{}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(m); err != nil {
		c.fault(ManifestName, "It is no manifest of a handover: %v.", err)
		return false
	}
	if m.Format != Format || m.Version != FormatVersion {
		c.fault(ManifestName, "It is of the kind %q, version %d; this program reads %q, version %d.", m.Format, m.Version, Format, FormatVersion)
		return false
	}
	if text, err := m.text(); err != nil || !bytes.Equal(text, b) {
		c.fault(ManifestName, "It was written or changed by another program.")
	}
	if err := m.sane(); err != nil {
		c.fault(ManifestName, "In it %v.", err)
		return false
	}
	if !slices.IsSortedFunc(m.Files, func(a, b Entry) int { return strings.Compare(a.Name, b.Name) }) {
		c.fault(ManifestName, "Its files are not in order.")
	}
	c.Manifest = m
	return true
}

// compare holds the files against the manifest.
func (c *checking) compare() {
	listed := map[string]bool{ManifestName: true}
	var missing []Entry
	for _, e := range c.Manifest.Files {
		listed[e.Name] = true
		f := c.find(e.Name)
		if f == nil {
			missing = append(missing, e)
			continue
		}
		s, whole := c.sums[e.Name]
		if whole && (s.sha != e.SHA256 || f.UncompressedSize64 != uint64(e.Size)) {
			c.fault(e.Name, "It was changed after the archive was made: it is not the file of the manifest.")
		}
	}
	for _, f := range c.files {
		if listed[f.Name] {
			continue
		}
		i := slices.IndexFunc(missing, func(e Entry) bool { return e.SHA256 == c.sums[f.Name].sha })
		if i < 0 {
			c.fault(f.Name, "It was added: the manifest does not know it.")
			continue
		}
		c.fault(f.Name, "It was renamed: the manifest calls it %q.", missing[i].Name)
		missing = slices.Delete(missing, i, i+1)
	}
	for _, e := range missing {
		c.fault(e.Name, "It is missing.")
	}
}

// tickets holds the job tickets against the files they name.
func (c *checking) tickets() {
	for _, e := range c.Manifest.Files {
		if e.Role != RoleTicket {
			continue
		}
		b, err := c.read(c.find(e.Name), limits.MaxManifestBytes)
		if err != nil {
			c.fault(e.Name, "It cannot be read.")
			continue
		}
		t, faults, err := ticket.Check(bytes.NewReader(b))
		if err != nil {
			c.fault(e.Name, "It is no job ticket: %v.", err)
			continue
		}
		for _, w := range faults {
			c.fault(e.Name, "In the ticket %s.", w)
		}
		for _, f := range t.Files {
			name := path.Join(path.Dir(e.Name), f.URL)
			s, ok := c.sums[name]
			switch {
			case !ok:
				c.fault(e.Name, "The ticket names %q, which is not in the archive.", f.URL)
			case f.CheckSum != "" && f.CheckSum != s.md, f.SHA256 != "" && f.SHA256 != s.sha:
				c.fault(e.Name, "The ticket means another file than the %q of the archive.", name)
			}
		}
	}
}

// between packs the files again and compares: a byte beside them, a header that tells otherwise than the directory, and other
// programs would see other files.
func (c *checking) between() {
	list := make([]Entry, len(c.files))
	for i, f := range c.files {
		list[i] = Entry{Name: f.Name, Size: int64(f.UncompressedSize64), crc: f.CRC32}
	}
	same := &sameAs{r: c.r, size: c.Size}
	err := pack(same, list, func(i int) (io.ReadCloser, error) { return c.files[i].Open() })
	sorted := slices.IsSortedFunc(list, func(a, b Entry) int { return strings.Compare(a.Name, b.Name) })
	if err != nil || same.at != c.Size || !sorted {
		c.fault("", "There are bytes beside the files, or headers that differ: the archive was packed anew or changed, and other programs may see other files in it. Ask for it as it was made.")
	}
}

// sameAs takes what is written if it is what r holds.
type sameAs struct {
	r    io.ReaderAt
	at   int64
	size int64
	buf  [32 << 10]byte
}

var errDiffers = errors.New("differs")

func (s *sameAs) Write(p []byte) (n int, err error) {
	for len(p) > 0 {
		k := min(len(p), len(s.buf))
		if s.at+int64(k) > s.size {
			return n, errDiffers
		}
		if m, err := s.r.ReadAt(s.buf[:k], s.at); m < k {
			return n, err
		}
		if !bytes.Equal(s.buf[:k], p[:k]) {
			return n, errDiffers
		}
		n, s.at, p = n+k, s.at+int64(k), p[k:]
	}
	return n, nil
}
