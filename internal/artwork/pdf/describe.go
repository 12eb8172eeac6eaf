package pdf

import (
	"fmt"
	"strconv"
	"strings"
)

// Lookup finds an object by a path as a person types it: steps with dots between them, the first an
// object number, "trailer", "catalog" or "pages", the others a key of a dictionary (without slash;
// a dot in it is written #2E) or an index of an array from 0. "pages.2" is the second page's
// dictionary with inherited entries filled in, "pages.2.Resources.Font" and "14.Kids.0" go on from there. The reference is
// that of the last indirect object on the way, zero when there was none.
func (d *Document) Lookup(path string) (Object, Ref, error) {
	steps := strings.Split(path, ".")
	var o Object
	var ref Ref
	switch first := steps[0]; first {
	case "trailer":
		o = d.trailer
	case "catalog", "catalogue":
		o = d.catalog
		ref, _ = d.trailer["Root"].(Ref)
	case "pages":
		if len(steps) == 1 {
			var a Array
			for _, s := range d.pages {
				a = append(a, s.ref)
			}
			return a, ref, nil
		}
		n, err := strconv.Atoi(steps[1])
		if err != nil {
			return nil, ref, fmt.Errorf("%q is not a page number; write pages.1 for the first page", steps[1])
		}
		p, err := d.Page(n)
		if err != nil {
			return nil, ref, err
		}
		ref = p.Ref
		dict := copyDict(p.Dict)
		in := d.pages[n-1].in.under(p.Dict)
		for k, v := range map[Name]Object{"Resources": in.resources, "MediaBox": in.mediaBox, "CropBox": in.cropBox, "Rotate": in.rotate} {
			if v != nil {
				dict[k] = v
			}
		}
		o, steps = dict, steps[1:]
	default:
		n, err := strconv.Atoi(first)
		if err != nil || n < 1 {
			return nil, ref, fmt.Errorf("%q is no object: start with an object number, trailer, catalog or pages", first)
		}
		ref = Ref{Num: n}
		if o = d.load(n); o == nil {
			return nil, ref, fmt.Errorf("there is no object %d in the file", n)
		}
		if s, ok := o.(*Stream); ok {
			ref = s.Ref
		}
	}
	done := steps[0]
	for _, step := range steps[1:] {
		if r, ok := o.(Ref); ok {
			ref = r
			o = d.Resolve(o)
		}
		switch v := o.(type) {
		case Array:
			n, err := strconv.Atoi(step)
			if err != nil || n < 0 || n >= len(v) {
				return nil, ref, fmt.Errorf("%s is an array of %d entries; %q is not an index from 0 to %d", done, len(v), step, len(v)-1)
			}
			o = v[n]
		case Dict, *Stream:
			dict, _ := d.Dict(v)
			key := Name(NewLexer([]byte("/" + step)).Next().Bytes)
			val, ok := dict[key]
			if !ok {
				return nil, ref, fmt.Errorf("%s has no entry %s; it has %s", done, step, keyList(dict))
			}
			o = val
		default:
			return nil, ref, fmt.Errorf("%s is %s and has no entry %s", done, typeName(o), step)
		}
		done += "." + step
	}
	if r, ok := o.(Ref); ok {
		ref = r
		o = d.Resolve(o)
	}
	return o, ref, nil
}

// maxKeysListed in one line about a dictionary.
const maxKeysListed = 24

func keyList(d Dict) string {
	keys := sortedKeys(d)
	var b []byte
	for i, k := range keys {
		if i == maxKeysListed {
			return string(fmt.Appendf(b, " and %d more", len(keys)-i))
		}
		if i > 0 {
			b = append(b, ' ')
		}
		b = appendName(b, k)
	}
	if len(b) == 0 {
		return "none"
	}
	return string(b)
}

func typeName(o Object) string {
	switch o.(type) {
	case nil:
		return "null"
	case Boolean:
		return "a boolean"
	case Integer:
		return "a whole number"
	case Real:
		return "a number"
	case Name:
		return "a name"
	case String:
		return "a string"
	case Array:
		return "an array"
	case Dict:
		return "a dictionary"
	case Ref:
		return "a reference"
	case *Stream:
		return "a stream"
	}
	return "unknown"
}

// Describe writes an object as text for a person, one entry a line, not more than max bytes long.
// Of what is referred to only the kind is told.
func (d *Document) Describe(o Object, max int) string {
	t := &describer{d: d, max: max}
	switch v := o.(type) {
	case Dict:
		t.line("dictionary, %d entries", len(v))
		t.dict(v)
	case *Stream:
		t.line("stream, %d entries, %s", len(v.Dict), d.describeData(v))
		t.dict(v.Dict)
	case Array:
		t.line("array, %d entries", len(v))
		for i, e := range v {
			if !t.line("%d  %s", i, d.brief(e)) {
				break
			}
		}
	default:
		t.line("%s", d.brief(o))
	}
	return t.b.String()
}

type describer struct {
	d   *Document
	b   strings.Builder
	max int
	cut bool
}

const cutMark = "…\n"

// line adds one line; it reports whether there is room for more.
func (t *describer) line(format string, args ...any) bool {
	if t.cut {
		return false
	}
	s := fmt.Sprintf(format, args...) + "\n"
	if t.b.Len()+len(s) > t.max-len(cutMark) {
		t.cut = true
		if t.b.Len()+len(cutMark) <= t.max {
			t.b.WriteString(cutMark)
		}
		return false
	}
	t.b.WriteString(s)
	return true
}

func (t *describer) dict(d Dict) {
	for _, k := range sortedKeys(d) {
		if !t.line("%s  %s", appendName(nil, k), t.d.brief(d[k])) {
			return
		}
	}
}

func (d *Document) describeData(s *Stream) string {
	_, stored := d.RawReader(s)
	if stored < 0 {
		raw, err := d.RawData(s)
		if err != nil {
			return "data unreadable: " + err.Error()
		}
		stored = int64(len(raw))
	}
	text := fmt.Sprintf("%d bytes stored", stored)
	data, rest, err := d.ImageData(s)
	switch {
	case err != nil:
		text += ", decoding: " + err.Error()
	case len(rest) > 0:
		text += fmt.Sprintf(", holds a %s image", rest[0].Name)
	case int64(len(data)) != stored:
		text += fmt.Sprintf(", %d decoded", len(data))
	}
	return text
}

// maxBrief is the length of an object's syntax in one line.
const maxBrief = 160

// brief tells an object in one line.
func (d *Document) brief(o Object) string {
	r, isRef := o.(Ref)
	if isRef {
		o = d.Resolve(o)
	}
	var text string
	switch v := o.(type) {
	case Dict:
		text = "dictionary " + keyList(v)
		if !isRef {
			text = syntax(v)
		}
	case *Stream:
		text = "stream " + keyList(v.Dict)
	case Array:
		text = syntax(v)
		if len(v) > 8 {
			text = fmt.Sprintf("%d entries %s", len(v), text)
		}
	default:
		text = syntax(v)
	}
	if isRef {
		return fmt.Sprintf("%d %d R = %s", r.Num, r.Gen, text)
	}
	return text
}

func syntax(o Object) string {
	s := string(AppendObject(nil, o))
	if len(s) > maxBrief {
		s = strings.ToValidUTF8(s[:maxBrief], "") + "…"
	}
	return s
}
