//go:build ignore

// This program packs published CMap files into cmapdata/predefined.bin, whose form predefined.go
// describes. It reads a folder that holds them, one folder a character collection, as Debian's package
// poppler-data lays them out:
//
//	go run cmapgen.go /usr/share/poppler/cMap
//
// A file is taken only when it carries the text of the BSD licence that cmapdata/LICENSE repeats.
package main

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
)

// entry maps the codes lo..hi, n bytes long, to value and its successors; in notdef ranges all to value.
type entry struct{ n, lo, hi, value int }

type cmap struct {
	name, ordering, use string
	vertical            bool
	spaces              []entry
	codes               []entry // to CIDs, or from CIDs to characters
	notdef              []entry
}

func check(err error) {
	if err != nil {
		panic(err)
	}
}

func main() {
	if len(os.Args) != 2 {
		panic("usage: go run cmapgen.go FOLDER")
	}
	var maps []*cmap
	check(filepath.WalkDir(os.Args[1], func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		check(err)
		if m := read(string(b)); m != nil && wanted(m.name) {
			maps = append(maps, m)
		}
		return nil
	}))
	sort.Slice(maps, func(i, j int) bool { return maps[i].name < maps[j].name })
	check(os.WriteFile("cmapdata/predefined.bin", pack(maps), 0o644))
}

// unwanted are names of what no PDF asks for: ways from CIDs or one encoding to another, codes in UTF-8
// and UTF-32, which are no encoding of PDF text (Table 116), and the identities, which need no table.
var unwanted = regexp.MustCompile(`^UCS2-|-UTF8-|-UTF32-|^Identity-|^Adobe-\w+-(H|PS|9\d|B5|ET|GB|KS)|^[^A].*-UCS2C?$`)

func wanted(name string) bool { return !unwanted.MatchString(name) }

var (
	nameOf  = regexp.MustCompile(`/CMapName\s+/(\S+)\s+def`)
	orderOf = regexp.MustCompile(`/Ordering\s+\((\S+)\)\s+def`)
	useOf   = regexp.MustCompile(`/(\S+)\s+usecmap`)
	wmodeOf = regexp.MustCompile(`/WMode\s+(\d)\s+def`)
	blocks  = regexp.MustCompile(`(?s)\d+\s+begin(codespacerange|cidrange|cidchar|notdefrange|notdefchar|bfrange|bfchar)\s(.*?)\send(\w+)`)
	words   = regexp.MustCompile(`<[0-9A-Fa-f\s]*>|\d+|\[|\]`)
)

// read takes one CMap file apart; nil when it is not one, or not under the licence.
func read(s string) *cmap {
	name := nameOf.FindStringSubmatch(s)
	if name == nil || !strings.Contains(s, "Redistributions of source code must retain") {
		return nil
	}
	m := &cmap{name: name[1], ordering: orderOf.FindStringSubmatch(s)[1]}
	if u := useOf.FindStringSubmatch(s); u != nil {
		m.use = u[1]
	}
	if w := wmodeOf.FindStringSubmatch(s); w != nil {
		m.vertical = w[1] == "1"
	}
	for _, b := range blocks.FindAllStringSubmatch(s, -1) {
		w := words.FindAllString(b[2], -1)
		for i := 0; i < len(w); {
			n, lo := hex(w[i])
			switch b[1] {
			case "codespacerange":
				_, hi := hex(w[i+1])
				m.spaces = append(m.spaces, entry{n, lo, hi, 0})
				i += 2
			case "cidrange", "notdefrange":
				_, hi := hex(w[i+1])
				e := entry{n, lo, hi, number(w[i+2])}
				if b[1] == "cidrange" {
					m.codes = append(m.codes, e)
				} else {
					m.notdef = append(m.notdef, e)
				}
				i += 3
			case "cidchar":
				m.codes = append(m.codes, entry{n, lo, lo, number(w[i+1])})
				i += 2
			case "notdefchar":
				m.notdef = append(m.notdef, entry{n, lo, lo, number(w[i+1])})
				i += 2
			case "bfchar":
				m.char(n, lo, lo, w[i+1])
				i += 2
			case "bfrange":
				_, hi := hex(w[i+1])
				i += 2
				if w[i] != "[" {
					m.char(n, lo, hi, w[i])
					i++
					continue
				}
				for i++; w[i] != "]"; i++ {
					m.char(n, lo, lo, w[i])
					lo++
				}
				i++
			}
		}
	}
	return m
}

// char notes the character of a code; codes that stand for several characters, or for none that is
// known, are left out.
func (m *cmap) char(n, lo, hi int, dst string) {
	size, v := hex(dst)
	switch {
	case size == 4 && v>>26 == 0xD800>>10:
		v = (v>>16-0xD800)<<10 + (v&0xFFFF - 0xDC00) + 0x10000
	case size != 2 || v == 0xFFFD:
		return
	}
	m.codes = append(m.codes, entry{n, lo, hi, v})
}

func hex(s string) (size, v int) {
	s = strings.Join(strings.Fields(strings.Trim(s, "<>")), "")
	if len(s) > 8 {
		return len(s) / 2, 0
	}
	u, err := strconv.ParseUint(s, 16, 32)
	check(err)
	return len(s) / 2, int(u)
}

func number(s string) int {
	v, err := strconv.Atoi(s)
	check(err)
	return v
}

// normal sorts entries and joins neighbours; of two for one code the later in the file holds.
func normal(in []entry, constant bool) []entry {
	type key struct{ n, code int }
	last := map[key]int{}
	for _, e := range in {
		for c := e.lo; c <= e.hi; c++ {
			v := e.value
			if !constant {
				v += c - e.lo
			}
			last[key{e.n, c}] = v
		}
	}
	keys := make([]key, 0, len(last))
	for k := range last {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		return keys[i].n < keys[j].n || keys[i].n == keys[j].n && keys[i].code < keys[j].code
	})
	var out []entry
	for _, k := range keys {
		v := last[k]
		if i := len(out) - 1; i >= 0 && out[i].n == k.n && out[i].hi+1 == k.code {
			e := &out[i]
			if constant && e.value == v || !constant && e.value+k.code-e.lo == v {
				e.hi = k.code
				continue
			}
		}
		out = append(out, entry{k.n, k.code, k.code, v})
	}
	return out
}

// table writes entries of one kind: for each length of code the number of ranges, then the gaps before
// them, their lengths less one, and the steps of their values, each in a column of its own.
func table(b []byte, in []entry, constant bool) []byte {
	for n := 1; n <= 4; n++ {
		var gaps, sizes, steps []byte
		count, next, value := 0, 0, 0
		for _, e := range in {
			if e.n != n {
				continue
			}
			count++
			gaps = binary.AppendUvarint(gaps, uint64(e.lo-next))
			sizes = binary.AppendUvarint(sizes, uint64(e.hi-e.lo))
			steps = binary.AppendVarint(steps, int64(e.value-value))
			next, value = e.hi+1, e.value
			if !constant {
				value += e.hi - e.lo + 1
			}
		}
		b = binary.AppendUvarint(b, uint64(count))
		b = append(append(append(b, gaps...), sizes...), steps...)
	}
	return b
}

// pack writes the whole file.
func pack(maps []*cmap) []byte {
	var index, data []byte
	index = binary.AppendUvarint(index, uint64(len(maps)))
	word := func(s string) {
		index = append(binary.AppendUvarint(index, uint64(len(s))), s...)
	}
	for _, m := range maps {
		var raw []byte
		raw = binary.AppendUvarint(raw, uint64(len(m.spaces)))
		for _, s := range m.spaces {
			raw = append(raw, byte(s.n))
			raw = binary.BigEndian.AppendUint32(raw, uint32(s.lo))
			raw = binary.BigEndian.AppendUint32(raw, uint32(s.hi))
		}
		raw = table(raw, normal(m.codes, false), false)
		raw = table(raw, normal(m.notdef, true), true)
		var z bytes.Buffer
		w, err := flate.NewWriter(&z, flate.BestCompression)
		check(err)
		_, err = w.Write(raw)
		check(err)
		check(w.Close())
		word(m.name)
		word(m.ordering)
		word(m.use)
		index = append(index, map[bool]byte{true: 1}[m.vertical])
		index = binary.AppendUvarint(index, uint64(len(raw)))
		index = binary.AppendUvarint(index, uint64(z.Len()))
		data = append(data, z.Bytes()...)
	}
	return append(index, data...)
}
