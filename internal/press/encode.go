package press

import (
	"encoding"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Marshal writes a press, stock or job as YAML that reads back equal. Lists of single values and
// small groups of keys stand on one line, as a person would write them.
func Marshal(v any) ([]byte, error) {
	rv := reflect.Indirect(reflect.ValueOf(v))
	if rv.Kind() != reflect.Struct {
		return nil, fmt.Errorf("%T is no definition", v)
	}
	var b strings.Builder
	writeStruct(&b, rv, "")
	return []byte(b.String()), nil
}

// writeStruct writes key: value lines, the first without indent (its place is taken already).
func writeStruct(b *strings.Builder, v reflect.Value, indent string) {
	first := true
	for _, f := range written(v) {
		if !first {
			b.WriteString(indent)
		}
		first = false
		b.WriteString(f.key + ":")
		writeValue(b, f.value, indent)
	}
	if first {
		b.WriteString("{}\n")
	}
}

type keyValue struct {
	key   string
	value reflect.Value
}

// written lists the fields of a struct that are not left out.
func written(v reflect.Value) (out []keyValue) {
	fields, names := fieldsOf(v.Type())
	for _, name := range names {
		f := v.Field(fields[name].index)
		empty := f.IsZero() || (f.Kind() == reflect.Slice || f.Kind() == reflect.Map) && f.Len() == 0
		if fields[name].required || !empty {
			out = append(out, keyValue{name, reflect.Indirect(f)})
		}
	}
	return out
}

// writeValue writes what follows a colon, line end included.
func writeValue(b *strings.Builder, v reflect.Value, indent string) {
	if line, ok := onOneLine(v); ok {
		b.WriteString(" " + line + "\n")
		return
	}
	deeper := indent + "  "
	b.WriteString("\n")
	switch v.Kind() {
	case reflect.Struct:
		b.WriteString(deeper)
		writeStruct(b, v, deeper)
	case reflect.Map:
		for _, k := range sortedMapKeys(v) {
			b.WriteString(deeper + quote(k) + ":")
			writeValue(b, v.MapIndex(reflect.ValueOf(k)), deeper)
		}
	case reflect.Slice:
		for i := range v.Len() {
			b.WriteString(deeper + "- ")
			item := reflect.Indirect(v.Index(i))
			if line, ok := onOneLine(item); ok {
				b.WriteString(line + "\n")
				continue
			}
			writeStruct(b, item, deeper+"  ")
		}
	}
}

func sortedMapKeys(v reflect.Value) (keys []string) {
	for _, k := range v.MapKeys() {
		keys = append(keys, k.String())
	}
	slices.Sort(keys)
	return keys
}

// onOneLine gives the flow form of scalars, lists of scalars, and short groups of scalars.
func onOneLine(v reflect.Value) (string, bool) {
	const longest = 72
	if s, ok := scalarWords(v); ok {
		return s, true
	}
	var parts []string
	switch v.Kind() {
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			s, ok := scalarWords(v.Index(i))
			if !ok {
				return "", false
			}
			parts = append(parts, s)
		}
		line := "[" + strings.Join(parts, ", ") + "]"
		sentences := v.Type().Elem().Kind() == reflect.String && len(line) > longest
		return line, !sentences
	case reflect.Struct:
		for _, f := range written(v) {
			s, ok := onOneLine(f.value)
			if !ok {
				return "", false
			}
			parts = append(parts, f.key+": "+s)
		}
		line := "{" + strings.Join(parts, ", ") + "}"
		return line, len(line) <= longest
	}
	return "", false
}

func scalarWords(v reflect.Value) (string, bool) {
	if m, ok := v.Interface().(interface{ MarshalYAML() (any, error) }); ok {
		x, err := m.MarshalYAML()
		return fmt.Sprint(x), err == nil
	}
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		text, err := m.MarshalText()
		return quote(string(text)), err == nil
	}
	switch v.Kind() {
	case reflect.String:
		return quote(v.String()), true
	case reflect.Bool:
		return strconv.FormatBool(v.Bool()), true
	case reflect.Int:
		return strconv.FormatInt(v.Int(), 10), true
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64), true
	}
	return "", false
}

// plain matches text that YAML takes as it stands, inside flow lists too.
var plain = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_./-]*( [A-Za-z0-9_./-]+)*$`)
})

// notText are words YAML takes for something else.
var notText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(?i:true|false|yes|no|on|off|null|y|n)$`)
})

func quote(s string) string {
	if plain().MatchString(s) && !notText().MatchString(s) && !strings.Contains(s, " -") {
		return s
	}
	return strconv.Quote(s)
}
