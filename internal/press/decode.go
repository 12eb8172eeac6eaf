package press

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"laydown/internal/colourant"
	"laydown/internal/limits"
)

// The decoder walks the YAML tree itself instead of leaving it to the library: it knows the place
// of every value, so that faults found later (a set naming a toner that does not exist) point at
// the line too, and it reports every fault of a file at once.

type decoder struct {
	*source
	anchors map[string]ast.Node
	nodes   int
	depth   int
	full    bool // over a limit: said once
}

// read decodes data into v, a pointer to a struct.
func (s *source) read(data []byte, v any) {
	if len(data) > limits.MaxDefinitionBytes {
		s.errorAtPlace(place{}, "split it or remove what is not a definition",
			"the file has %d bytes, more than the %d a definition may have", len(data), limits.MaxDefinitionBytes)
		return
	}
	if line, deep := nestsTooDeep(data); deep {
		s.errorAtPlace(place{line, 1}, "a definition needs no more than six levels", "lists or keys are nested deeper than %d levels", limits.MaxDefinitionDepth)
		return
	}
	file, err := parse(data)
	if err != nil {
		s.syntaxError(err)
		return
	}
	var body ast.Node
	for _, doc := range file.Docs {
		if doc == nil || doc.Body == nil {
			continue
		}
		if body != nil {
			s.errorAtPlace(placeOfNode(doc.Body), "keep one definition in a file", "a second document starts here")
			return
		}
		body = doc.Body
	}
	if body == nil {
		s.errorAtPlace(place{1, 1}, "", "the file is empty")
		return
	}
	d := &decoder{source: s, anchors: map[string]ast.Node{}}
	d.value(body, reflect.ValueOf(v).Elem(), "")
}

// parse shields from panics of the parser on odd input.
func parse(data []byte) (f *ast.File, err error) {
	defer func() {
		if r := recover(); r != nil {
			f, err = nil, fmt.Errorf("not readable as YAML (%v)", r)
		}
	}()
	// Keys written twice are reported by structValue, in words.
	return parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
}

func (s *source) syntaxError(err error) {
	var ye yaml.Error
	if errors.As(err, &ye) && ye.GetToken() != nil && ye.GetToken().Position != nil {
		remedy := "check the indents, quotes and brackets here and just above"
		if strings.Contains(ye.GetMessage(), "'\t'") {
			remedy = "indent with spaces, not with tabs"
		}
		s.errorAtPlace(placeOfToken(ye.GetToken()), remedy, "%s", firstLine(ye.GetMessage()))
		return
	}
	s.errorAtPlace(place{}, "", "%s", firstLine(err.Error()))
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// nestsTooDeep guards the recursive parser: it counts open brackets and the dashes, question marks
// and indents at the start of each line, text in quotes included, which is harmless.
func nestsTooDeep(data []byte) (line int, deep bool) {
	open := 0
	for i, l := range strings.Split(string(data), "\n") {
		lead := 0
		for j := 0; j < len(l); j++ {
			c := l[j]
			if c == '-' || c == '?' || c == ':' || c == '!' || c == '&' {
				if j+1 == len(l) || l[j+1] == ' ' || l[j+1] == '\t' {
					lead++
				}
			}
			switch c {
			case '[', '{':
				open++
			case ']', '}':
				open = max(open-1, 0)
			}
		}
		indent := len(l) - len(strings.TrimLeft(l, " "))
		if open > limits.MaxDefinitionDepth || lead > limits.MaxDefinitionDepth || indent > 16*limits.MaxDefinitionDepth {
			return i + 1, true
		}
	}
	return 0, false
}

func placeOfToken(t *token.Token) place {
	if t == nil || t.Position == nil {
		return place{}
	}
	return place{t.Position.Line, t.Position.Column}
}

// placeOfNode is where a person sees the value start; the library's own token of a mapping is the
// colon of its first key.
func placeOfNode(n ast.Node) place {
	switch n := n.(type) {
	case *ast.MappingNode:
		if !n.IsFlowStyle && len(n.Values) > 0 {
			return placeOfNode(n.Values[0].Key)
		}
		return placeOfToken(n.Start)
	case *ast.MappingValueNode:
		return placeOfNode(n.Key)
	}
	if n == nil || reflect.ValueOf(n).IsNil() {
		return place{}
	}
	return placeOfToken(n.GetToken())
}

// resolve follows anchors, aliases and tags to the node that holds the value.
func (d *decoder) resolve(n ast.Node) ast.Node {
	for range limits.MaxDefinitionDepth {
		switch t := n.(type) {
		case *ast.AnchorNode:
			if t.Name != nil {
				d.anchors[t.Name.String()] = t.Value
			}
			n = t.Value
		case *ast.AliasNode:
			v, ok := d.anchors[t.Value.String()]
			if !ok {
				d.errorAtPlace(placeOfNode(n), "write the value out", "no anchor named %q comes before this", t.Value.String())
				return nil
			}
			n = v
		case *ast.TagNode:
			n = t.Value
		default:
			return n
		}
	}
	d.errorAtPlace(placeOfNode(n), "write the value out", "this alias leads back to itself")
	return nil
}

func (d *decoder) value(n ast.Node, v reflect.Value, path string) {
	if d.nodes++; d.nodes > limits.MaxDefinitionNodes || d.depth > limits.MaxDefinitionDepth {
		if !d.full {
			d.full = true
			d.errorAtPlace(placeOfNode(n), "write fewer values or nest them less", "the definition is too large or too deep")
		}
		return
	}
	d.depth++
	defer func() { d.depth-- }()
	d.at[path] = placeOfNode(n)
	if n = d.resolve(n); n == nil {
		return
	}
	if _, ok := n.(*ast.NullNode); ok {
		d.errorAt(path, "write the value or remove the key", "%shas no value", keyOf(path))
		return
	}
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		v = v.Elem()
	}
	switch p := v.Addr().Interface().(type) {
	case quantity:
		if text, ok := d.scalar(n, path, "a number with its unit"); ok {
			if err := p.parse(text); err != nil {
				what, remedy, _ := strings.Cut(err.Error(), "; ")
				d.errorAt(path, remedy, "%s", what)
			}
		}
		return
	case *colourant.Kind:
		if text, ok := d.scalar(n, path, "a kind of toner"); ok {
			if p.UnmarshalText([]byte(text)) != nil {
				d.errorAt(path, didYouMean(text, kindWords()), "%q is not a kind of toner", text)
			}
		}
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		d.structValue(n, v, path)
	case reflect.Map:
		d.mapValue(n, v, path)
	case reflect.Slice:
		d.sliceValue(n, v, path)
	case reflect.Array:
		d.arrayValue(n, v, path)
	case reflect.String:
		if text, ok := d.scalar(n, path, "text"); ok {
			v.SetString(text)
		}
	case reflect.Bool:
		if b, ok := n.(*ast.BoolNode); ok {
			v.SetBool(b.Value)
		} else {
			d.errorAt(path, "write true or false", "%sis yes or no", keyOf(path))
		}
	case reflect.Int:
		d.intValue(n, v, path)
	case reflect.Float64:
		if f, ok := number(n); ok {
			v.SetFloat(f)
		} else {
			d.errorAt(path, "write it without a unit, as 12 or 0.5", "%sis a plain number", keyOf(path))
		}
	default:
		panic("press: no decoder for " + v.Type().String())
	}
}

// keyOf names the last key of a path, for sentences.
func keyOf(path string) string {
	if path == "" {
		return "the file "
	}
	key, index, listed := strings.Cut(path[strings.LastIndexByte(path, '.')+1:], "[")
	if i, err := strconv.Atoi(strings.TrimSuffix(index, "]")); listed && err == nil {
		return fmt.Sprintf("entry %d of %q ", i+1, key)
	}
	return fmt.Sprintf("%q ", key)
}

// scalar returns the text as the person wrote it: 0.50 stays "0.50".
func (d *decoder) scalar(n ast.Node, path, want string) (string, bool) {
	switch t := n.(type) {
	case *ast.StringNode:
		return t.Value, true
	case *ast.LiteralNode:
		if t.Value != nil {
			return t.Value.Value, true
		}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	d.errorAt(path, "write one value, not a list or further keys", "%sis %s", keyOf(path), want)
	return "", false
}

func number(n ast.Node) (float64, bool) {
	switch t := n.(type) {
	case *ast.FloatNode:
		return t.Value, !math.IsInf(t.Value, 0)
	case *ast.IntegerNode:
		switch i := t.Value.(type) {
		case int64:
			return float64(i), true
		case uint64:
			return float64(i), true
		}
	}
	return 0, false
}

func (d *decoder) intValue(n ast.Node, v reflect.Value, path string) {
	if t, ok := n.(*ast.IntegerNode); ok {
		switch i := t.Value.(type) {
		case int64:
			if i >= -1e9 && i <= 1e9 {
				v.SetInt(i)
				return
			}
		case uint64:
			if i <= 1e9 {
				v.SetInt(int64(i))
				return
			}
		}
	}
	d.errorAt(path, "write it without a unit, as 250", "%sis a whole number", keyOf(path))
}

// pairs returns the keys and values of a mapping; ok is false when n is none, which is reported.
func (d *decoder) pairs(n ast.Node, path string) ([]*ast.MappingValueNode, bool) {
	switch t := n.(type) {
	case *ast.MappingNode:
		return t.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{t}, true
	}
	d.errorAt(path, "write key: value, one a line", "%sholds keys with values", keyOf(path))
	return nil, false
}

// key returns the text of a mapping key.
func (d *decoder) key(kv *ast.MappingValueNode) (string, bool) {
	switch k := kv.Key.(type) {
	case *ast.StringNode:
		return k.Value, true
	case *ast.MergeKeyNode:
		d.errorAtPlace(placeOfNode(k), "write the keys out", "merging keys with << is not supported")
		return "", false
	}
	if kv.Key != nil && kv.Key.GetToken() != nil {
		if _, complexKey := kv.Key.(*ast.MappingKeyNode); !complexKey {
			return kv.Key.GetToken().Value, true
		}
	}
	d.errorAtPlace(placeOfNode(kv), "write key: value", "this is not a plain key")
	return "", false
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func (d *decoder) structValue(n ast.Node, v reflect.Value, path string) {
	list, ok := d.pairs(n, path)
	if !ok {
		return
	}
	fields, names := fieldsOf(v.Type())
	seen := map[string]bool{}
	misspelt := map[string]bool{}
	for _, kv := range list {
		key, ok := d.key(kv)
		if !ok {
			continue
		}
		f, known := fields[key]
		switch {
		case !known:
			for _, n := range Nearest(key, names) {
				misspelt[n] = true
			}
			d.errorAtPlace(placeOfNode(kv.Key), didYouMean(key, names), "unknown key %q%s", key, within(path))
			continue
		case seen[key]:
			d.errorAtPlace(placeOfNode(kv.Key), "keep one of them", "key %q is written twice", key)
			continue
		}
		seen[key] = true
		d.value(kv.Value, v.Field(f.index), join(path, key))
	}
	for _, name := range names {
		if fields[name].required && !seen[name] && !misspelt[name] {
			d.errorAt(path, "add the line "+name+": …", "key %q is missing%s", name, within(path))
		}
	}
}

func within(path string) string {
	if path == "" {
		return ""
	}
	var words []string
	for _, step := range strings.Split(path, ".") {
		key, index, listed := strings.Cut(step, "[")
		if i, err := strconv.Atoi(strings.TrimSuffix(index, "]")); listed && err == nil {
			key += fmt.Sprintf(" entry %d", i+1)
		}
		words = append(words, key)
	}
	return " in " + strings.Join(words, ", ")
}

type field struct {
	index    int
	required bool
}

// fieldsOf lists the YAML keys of a struct; those without omitempty must be written.
func fieldsOf(t reflect.Type) (map[string]field, []string) {
	m := map[string]field{}
	var names []string
	for i := range t.NumField() {
		tag, ok := t.Field(i).Tag.Lookup("yaml")
		if !ok {
			continue
		}
		name, opts, _ := strings.Cut(tag, ",")
		m[name] = field{i, opts != "omitempty"}
		names = append(names, name)
	}
	return m, names
}

func (d *decoder) mapValue(n ast.Node, v reflect.Value, path string) {
	list, ok := d.pairs(n, path)
	if !ok {
		return
	}
	v.Set(reflect.MakeMap(v.Type()))
	for _, kv := range list {
		key, ok := d.key(kv)
		if !ok {
			continue
		}
		if v.MapIndex(reflect.ValueOf(key)).IsValid() {
			d.errorAtPlace(placeOfNode(kv.Key), "keep one of them", "key %q is written twice", key)
			continue
		}
		d.at[keyPath(join(path, key))] = placeOfNode(kv.Key)
		item := reflect.New(v.Type().Elem()).Elem()
		d.value(kv.Value, item, join(path, key))
		v.SetMapIndex(reflect.ValueOf(key), item)
	}
}

// keyPath is where the place of a free key is kept, beside that of its value.
func keyPath(path string) string { return path + "#key" }

func (d *decoder) sliceValue(n ast.Node, v reflect.Value, path string) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		d.errorAt(path, "write one entry a line, each after a dash", "%sis a list", keyOf(path))
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(seq.Values), len(seq.Values)))
	for i, item := range seq.Values {
		d.value(item, v.Index(i), fmt.Sprintf("%s[%d]", path, i))
	}
}

func (d *decoder) arrayValue(n ast.Node, v reflect.Value, path string) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok || len(seq.Values) != v.Len() {
		example := "[52, 5, 29] for L*, a*, b*"
		if v.Type().Elem() == reflect.TypeFor[Percent]() {
			example = "[0%, 30%, 60%, 10%] for cyan, magenta, yellow, black"
		}
		d.errorAt(path, "write "+example, "%sis a list of %d values", keyOf(path), v.Len())
		return
	}
	for i, item := range seq.Values {
		d.value(item, v.Index(i), fmt.Sprintf("%s[%d]", path, i))
	}
}
