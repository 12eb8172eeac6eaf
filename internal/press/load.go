package press

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"laydown/internal/limits"
)

//go:embed defs/presses/*.yaml defs/stocks/*.yaml
var shipped embed.FS

const (
	pressDir = "defs/presses"
	stockDir = "defs/stocks"
	yamlExt  = ".yaml"
)

// LoadPress reads a press definition file. Faults of the definition are Errors.
func LoadPress(file string) (*Press, error) {
	data, err := readFile(file)
	if err != nil {
		return nil, err
	}
	p, err := ReadPress(file, data)
	if err == nil && p.Profile != "" && !filepath.IsAbs(p.Profile) {
		p.Profile = filepath.Join(filepath.Dir(file), p.Profile)
	}
	if err == nil && p.Characterisation != "" && !filepath.IsAbs(p.Characterisation) {
		p.Characterisation = filepath.Join(filepath.Dir(file), p.Characterisation)
	}
	return p, err
}

// LoadStock reads a stock definition file. Faults of the definition are Errors.
func LoadStock(file string) (*Stock, error) {
	data, err := readFile(file)
	if err != nil {
		return nil, err
	}
	return ReadStock(file, data)
}

// LoadJob reads a job file and resolves the files it names against the folder it lies in. Faults
// of the definition are Errors.
func LoadJob(file string) (*Job, error) {
	data, err := readFile(file)
	if err != nil {
		return nil, err
	}
	j, err := ReadJob(file, data)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(file)
	resolve := func(s string) string {
		if filepath.IsAbs(s) {
			return s
		}
		return filepath.Join(dir, filepath.FromSlash(s))
	}
	j.Artwork = resolve(j.Artwork)
	if isPath(j.Press) {
		j.Press = resolve(j.Press)
	}
	if isPath(j.Stock) {
		j.Stock = resolve(j.Stock)
	}
	return j, nil
}

// Find returns the press and the stock of the job, and checks the names the job uses against them.
func (j *Job) Find() (*Press, *Stock, error) { return j.find(FindPress, FindStock) }

// FindOn is Find for a job whose names are looked for on a shelf, never as files.
func (j *Job) FindOn(shelf *Shelf) (*Press, *Stock, error) { return j.find(shelf.Press, shelf.Stock) }

func (j *Job) find(press func(string) (*Press, error), stock func(string) (*Stock, error)) (*Press, *Stock, error) {
	s := j.src
	if s == nil {
		s = newSource("job", nil)
	}
	s = &source{file: s.file, lines: s.lines, at: s.at}
	p, err := press(j.Press)
	if err != nil {
		return nil, nil, s.wrapFind("press", err)
	}
	k, err := stock(j.Stock)
	if err != nil {
		return nil, nil, s.wrapFind("stock", err)
	}
	s.validateJobNames(j, p)
	if err := s.err(); err != nil {
		return nil, nil, err
	}
	return p, k, nil
}

// wrapFind points a name not found at its line in the job; faults inside the definition stay.
func (s *source) wrapFind(path string, err error) error {
	var nf *NotFoundError
	if errors.As(err, &nf) && s.placeOf(path).line > 0 {
		s.errorAt(path, nf.Remedy, "%s", nf.what())
		return s.err()
	}
	return err
}

// readFile reads a definition, refusing what is far too large to be one.
func readFile(file string) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limits.MaxDefinitionBytes+1))
}

// ReadPress reads a press from data; file names it in errors.
func ReadPress(file string, data []byte) (*Press, error) {
	p := &Press{Pile: Pile{Area: defaultAverage}}
	s := newSource(file, data)
	s.read(data, p)
	if len(s.errs) == 0 {
		s.validatePress(p)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	p.src = s
	return p, nil
}

// ReadStock reads a stock from data; file names it in errors.
func ReadStock(file string, data []byte) (*Stock, error) {
	k := &Stock{}
	s := newSource(file, data)
	s.read(data, k)
	if len(s.errs) == 0 {
		s.validateStock(k)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	k.src = s
	return k, nil
}

// ReadJob reads a job from data without resolving its files; file names it in errors.
func ReadJob(file string, data []byte) (*Job, error) {
	j := &Job{}
	s := newSource(file, data)
	s.read(data, j)
	if len(s.errs) == 0 {
		s.validateJob(j)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	j.src = s
	return j, nil
}

// PressNames lists the shipped presses.
func PressNames() []string { return shippedNames(pressDir) }

// StockNames lists the shipped stocks.
func StockNames() []string { return shippedNames(stockDir) }

func shippedNames(dir string) []string {
	entries, err := shipped.ReadDir(dir)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), yamlExt))
	}
	slices.Sort(out)
	return out
}

// ShippedPress returns the YAML text of a shipped press, to start an own definition from.
func ShippedPress(name string) ([]byte, bool) { return shippedText(pressDir, name) }

// ShippedStock returns the YAML text of a shipped stock.
func ShippedStock(name string) ([]byte, bool) { return shippedText(stockDir, name) }

func shippedText(dir, name string) ([]byte, bool) {
	if strings.ContainsAny(name, `/\`) {
		return nil, false
	}
	b, err := shipped.ReadFile(path.Join(dir, name+yamlExt))
	return b, err == nil
}

// NotFoundError: a name is neither a shipped definition nor a file.
type NotFoundError struct {
	What, Name string // "press", "two-sets"
	Remedy     string
}

func (e *NotFoundError) what() string { return fmt.Sprintf("no %s is named %q", e.What, e.Name) }

func (e *NotFoundError) Error() string { return e.what() + "; " + e.Remedy }

// FindPress returns the shipped press of this name, or reads the file when the argument is a path.
func FindPress(nameOrPath string) (*Press, error) {
	if isPath(nameOrPath) {
		return LoadPress(nameOrPath)
	}
	if b, ok := ShippedPress(nameOrPath); ok {
		return ReadPress(nameOrPath+yamlExt, b)
	}
	return nil, notFound("press", nameOrPath, PressNames())
}

// FindStock returns the shipped stock of this name, or reads the file when the argument is a path.
func FindStock(nameOrPath string) (*Stock, error) {
	if isPath(nameOrPath) {
		return LoadStock(nameOrPath)
	}
	if b, ok := ShippedStock(nameOrPath); ok {
		return ReadStock(nameOrPath+yamlExt, b)
	}
	return nil, notFound("stock", nameOrPath, StockNames())
}

func notFound(what, name string, names []string) error {
	remedy := didYouMean(name, names)
	if remedy != "" {
		remedy += " Or "
	}
	return &NotFoundError{What: what, Name: name, Remedy: remedy + "give a file with its path, as ./" + name + yamlExt}
}

// isPath tells a file from a shipped name: it has a folder or the ending of a definition.
func isPath(s string) bool {
	ext := strings.ToLower(filepath.Ext(s))
	return strings.ContainsAny(s, `/\`) || ext == yamlExt || ext == ".yml"
}
