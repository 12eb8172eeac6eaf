package ticket

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
)

// maxDepth of elements in a ticket; ours have 7.
const maxDepth = 64

// Read is what a ticket names, for whoever wants to check its files.
type Read struct {
	Pass  string
	Files []ReadFile
}

// ReadFile is a file a ticket names.
type ReadFile struct {
	URL      string // as it stands in the ticket
	CheckSum string // MD5 in hexadecimal, upper case; "" = none
	SHA256   string // in hexadecimal, lower case; "" = none
	Size     int64  // 0 = none
}

// Check reads an XJDF ticket and tells what is wrong with it that a schema does not see. No faults: an empty list. The error
// is that of XML that cannot be read.
func Check(r io.Reader) (*Read, []string, error) {
	root, err := parse(r)
	if err != nil {
		return nil, nil, err
	}
	c := &checker{ids: map[string]bool{}, colours: map[string]bool{}}
	if root.XMLName.Space != xjdfSpace || root.XMLName.Local != "XJDF" {
		return nil, nil, errors.New("it is not an XJDF ticket")
	}
	c.types = strings.Fields(root.get("Types"))
	c.gather(root)
	c.look(root, nil)
	c.sets(root)
	c.read.Pass = root.get("JobPartID")
	return &c.read, c.faults, nil
}

// node is an element as read.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Kids    []*node    `xml:",any"`
}

// parse reads with a bound on depth, so that no text makes the reader recurse without end.
func parse(r io.Reader) (*node, error) {
	d := xml.NewDecoder(r)
	var stack []*node
	var root *node
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			n := &node{XMLName: t.Name, Attrs: slices.Clone(t.Attr)}
			if len(stack) == 0 {
				root = n
			} else {
				up := stack[len(stack)-1]
				up.Kids = append(up.Kids, n)
			}
			if stack = append(stack, n); len(stack) > maxDepth {
				return nil, fmt.Errorf("elements lie more than %d deep in each other", maxDepth)
			}
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.Directive:
			return nil, errors.New("it holds a document type definition, which tickets have not")
		}
	}
	if root == nil {
		return nil, errors.New("it is empty")
	}
	return root, nil
}

func (n *node) get(name string) string { return n.in("", name) }

func (n *node) in(space, name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name && a.Name.Space == space {
			return a.Value
		}
	}
	return ""
}

type checker struct {
	types   []string
	ids     map[string]bool
	colours map[string]bool // tokens that have a Color
	read    Read
	faults  []string
}

func (c *checker) fault(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf(format, args...))
}

// gather notes what others refer to.
func (c *checker) gather(n *node) {
	if id := n.get("ID"); id != "" {
		if c.ids[id] {
			c.fault("two elements have the ID %q", id)
		}
		c.ids[id] = true
	}
	if n.XMLName.Local == "ResourceSet" && n.get("Name") == "Color" {
		for _, r := range n.Kids {
			for _, p := range r.Kids {
				if s := p.get("Separation"); p.XMLName.Local == "Part" && s != "" {
					if c.colours[s] {
						c.fault("the colour %q is told twice", s)
					}
					c.colours[s] = true
				}
			}
		}
	}
	for _, k := range n.Kids {
		c.gather(k)
	}
}

// look checks an element and those in it.
func (c *checker) look(n, up *node) {
	for _, a := range n.Attrs {
		switch name := a.Name.Local; {
		case a.Name.Space != "":
		case name == "CombinedProcessIndex":
			for _, f := range strings.Fields(a.Value) {
				if i, err := strconv.Atoi(f); err != nil || i < 0 || i >= len(c.types) {
					c.fault("%s belongs to process %s, and there are %d", n.get("Name"), f, len(c.types))
				}
			}
		case name == "ColorsUsed", name == "ColorantOrder", name == "ColorantParams", name == "ReplacementColorantName", name == "Separation":
			for _, t := range strings.Fields(a.Value) {
				if !c.colours[t] {
					c.fault("%s names the colour %q, which is not told of", name, t)
				}
			}
		case strings.HasSuffix(name, "Ref"):
			if !c.ids[a.Value] {
				c.fault("%s leads to %q, which is not there", name, a.Value)
			}
		case strings.HasSuffix(name, "Refs"):
			for _, id := range strings.Fields(a.Value) {
				if !c.ids[id] {
					c.fault("%s leads to %q, which is not there", name, id)
				}
			}
		}
	}
	switch n.XMLName.Local {
	case "Intent":
		c.named(n, "")
	case "ColorantControl":
		c.control(n)
	case "FileSpec":
		c.file(n)
	case "Media":
		c.media(n)
	}
	for _, k := range n.Kids {
		c.look(k, n)
	}
}

// named checks that an element holds what its Name says, and nothing of another namespace in its place.
func (c *checker) named(n *node, below string) {
	name := n.get("Name")
	for _, k := range n.Kids {
		switch k.XMLName.Local {
		case "AmountPool", "Comment", "GeneralID", "Part":
			continue
		}
		if k.XMLName.Space == xjdfSpace && k.XMLName.Local != name {
			c.fault("%s named %q holds %s", n.XMLName.Local+below, name, k.XMLName.Local)
		}
	}
	if !slices.ContainsFunc(n.Kids, func(k *node) bool { return k.XMLName.Space == xjdfSpace && k.XMLName.Local == name }) {
		c.fault("%s named %q holds none", n.XMLName.Local+below, name)
	}
}

func (c *checker) control(n *node) {
	params, convert, order := strings.Fields(n.get("ColorantParams")), strings.Fields(n.get("ColorantConvertProcess")), strings.Fields(n.get("ColorantOrder"))
	for _, p := range params {
		if slices.Contains(convert, p) {
			c.fault("the colour %q is to be printed and to be converted", p)
		}
		if !slices.Contains(order, p) {
			c.fault("the colour %q is to be printed and has no place in the order", p)
		}
	}
	for i, o := range order {
		if slices.Contains(order[:i], o) {
			c.fault("the colour %q has two places in the order", o)
		}
	}
}

func (c *checker) file(n *node) {
	f := ReadFile{URL: n.get("URL"), CheckSum: strings.ToUpper(n.get("CheckSum")), SHA256: strings.ToLower(n.in(ownSpace, "SHA256"))}
	u, err := url.Parse(f.URL)
	switch {
	case f.URL == "":
		c.fault("a file has no URL")
	case err != nil, u.IsAbs(), u.Host != "", path.IsAbs(u.Path):
		c.fault("the file %q does not lie beside the ticket", f.URL)
	}
	if s := n.get("FileSize"); s != "" {
		if f.Size, err = strconv.ParseInt(s, 10, 64); err != nil || f.Size < 0 {
			c.fault("the file %q has the size %q", f.URL, s)
		}
	}
	c.read.Files = append(c.read.Files, f)
}

// media checks units by what is possible: grams and micrometres are easily given in others.
func (c *checker) media(n *node) {
	for _, q := range []struct {
		name       string
		least, top float64
		unit       string
	}{{"Weight", 20, 1500, "g/m²"}, {"Thickness", 10, 5000, "µm"}} {
		if s := n.get(q.name); s != "" {
			if v, err := strconv.ParseFloat(s, 64); err != nil || v < q.least || v > q.top {
				c.fault("a stock with the %s %s %s is not possible", strings.ToLower(q.name), s, q.unit)
			}
		}
	}
}

// needed is what each process takes in.
var needed = map[string][]string{"Imposition": {"Layout", "RunList"}, "DigitalPrinting": {"ColorantControl", "DigitalPrintingParams", "Media"}}

func (c *checker) sets(root *node) {
	inputs := map[string]bool{}
	printed := false
	for _, n := range root.Kids {
		if n.XMLName.Local != "ResourceSet" {
			continue
		}
		name := n.get("Name")
		if n.get("Usage") == "Input" {
			inputs[name] = true
		}
		printed = printed || name == "Component" && n.get("Usage") == "Output"
		for _, r := range n.Kids {
			if r.XMLName.Local != "Resource" {
				continue
			}
			r.Attrs = append(r.Attrs, xml.Attr{Name: xml.Name{Local: "Name"}, Value: name})
			c.named(r, " of a set")
		}
	}
	for _, t := range c.types {
		for _, name := range needed[t] {
			if !inputs[name] {
				c.fault("%s is given no %s", t, name)
			}
		}
	}
	if !inputs["RunList"] {
		c.fault("there is nothing to print: no RunList")
	}
	if !printed {
		c.fault("nothing comes out: no Component")
	}
}
