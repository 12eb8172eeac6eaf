package ticket

import (
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
)

// element is an XML element as it is written: attributes in the order given, children after text.
type element struct {
	name  string
	attrs []attr
	text  string
	kids  []*element
}

type attr struct{ name, value string }

// el makes an element; attributes follow as name, value, name, value. Those with an empty value are left out.
func el(name string, attrs ...string) *element {
	e := &element{name: name}
	for i := 0; i+1 < len(attrs); i += 2 {
		e.set(attrs[i], attrs[i+1])
	}
	return e
}

func (e *element) set(name, value string) *element {
	if value != "" {
		e.attrs = append(e.attrs, attr{name, value})
	}
	return e
}

func (e *element) add(kids ...*element) *element {
	for _, k := range kids {
		if k != nil {
			e.kids = append(e.kids, k)
		}
	}
	return e
}

// write writes the element and what it holds, indented, with a newline at the end of each line.
func (e *element) write(w io.Writer) error {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	e.append(&b, "")
	_, err := io.WriteString(w, b.String())
	return err
}

func (e *element) append(b *strings.Builder, indent string) {
	b.WriteString(indent + "<" + e.name)
	for _, a := range e.attrs {
		b.WriteString(" " + a.name + `="` + escaped(a.value) + `"`)
	}
	switch {
	case e.text != "":
		b.WriteString(">" + escaped(e.text) + "</" + e.name + ">\n")
	case len(e.kids) > 0:
		b.WriteString(">\n")
		for _, k := range e.kids {
			k.append(b, indent+" ")
		}
		b.WriteString(indent + "</" + e.name + ">\n")
	default:
		b.WriteString("/>\n")
	}
}

// escaped writes text so that it stands in an element and in an attribute; what XML cannot hold becomes U+FFFD.
func escaped(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return ""
	}
	return b.String()
}

// number writes a figure with at most three decimals, never as -0.
func number(v float64) string {
	v = math.Round(v*1000)/1000 + 0
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func numbers(vs ...float64) string {
	parts := make([]string, len(vs))
	for i, v := range vs {
		parts[i] = number(v)
	}
	return strings.Join(parts, " ")
}

// given writes a figure, "" for 0.
func given(v float64) string {
	if v == 0 {
		return ""
	}
	return number(v)
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
