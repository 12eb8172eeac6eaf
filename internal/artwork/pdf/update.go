package pdf

import (
	"errors"
	"fmt"
	"io"
	"sort"

	"laydown/internal/limits"
)

// Update collects changes to a document and writes it with them. The document itself stays as it
// is. An Update is not safe for concurrent use.
type Update struct {
	d       *Document
	changed map[int]Object
	deleted map[int]bool
	trailer Dict // changed trailer entries
	next    int
	err     error // what was asked for and cannot be written
}

// NewUpdate starts a set of changes to d.
func NewUpdate(d *Document) *Update {
	u := &Update{d: d, changed: map[int]Object{}, deleted: map[int]bool{}, trailer: Dict{}, next: d.topNumber + 1}
	// Numbers the file has set aside may be referred to, and mean null: they are not taken. A Size far
	// off is a mistake.
	if n, ok := intFrom(d.trailer["Size"]); ok && n > u.next && n-u.next <= 1<<20 {
		u.next = n
	}
	return u
}

// Set replaces the object r. A stream is made by NewStream or WithDict. What is no object of its own, as a
// page that stands in the page tree's /Kids, cannot be replaced: writing the update is then an error.
func (u *Update) Set(r Ref, o Object) {
	if r.Num <= 0 {
		u.err = errors.New("what is to be changed is no object of its own in the file; change the object it lies in")
		return
	}
	u.changed[r.Num] = o
	delete(u.deleted, r.Num)
	u.next = max(u.next, r.Num+1)
}

// Add stores a new object and returns its reference.
func (u *Update) Add(o Object) Ref {
	r := Ref{Num: u.next}
	u.Set(r, o)
	return r
}

// AddStream stores a new stream; see NewStream.
func (u *Update) AddStream(dict Dict, data []byte, compress bool) Ref {
	return u.Add(NewStream(dict, data, compress))
}

// Delete marks object r as not in use; references to it mean null.
func (u *Update) Delete(r Ref) {
	delete(u.changed, r.Num)
	u.deleted[r.Num] = true
}

// SetTrailer replaces an entry of the trailer, such as Info or Root; nil removes it.
func (u *Update) SetTrailer(key Name, o Object) { u.trailer[key] = o }

// Changed reports whether there is anything to write.
func (u *Update) Changed() bool { return len(u.changed)+len(u.deleted)+len(u.trailer) > 0 }

// Resolve is Document.Resolve as the document will be after the update.
func (u *Update) Resolve(o Object) Object {
	for range limits.MaxRefHops {
		r, ok := o.(Ref)
		if !ok {
			return o
		}
		o = u.object(r.Num)
	}
	return nil
}

func (u *Update) object(num int) Object {
	if o, ok := u.changed[num]; ok {
		return o
	}
	if u.deleted[num] {
		return nil
	}
	return u.d.load(num)
}

// gen is the generation of object num in the file.
func (u *Update) gen(num int) int {
	if e, ok := u.d.entries[num]; ok && e.kind == entryAt {
		return int(e.gen)
	}
	return 0
}

// newTrailer is the document's trailer with changes, without what only describes its section.
func (u *Update) newTrailer() Dict {
	t := copyDict(u.d.trailer)
	for _, k := range []Name{"Prev", "XRefStm", "Type", "W", "Index", "Length", "Filter", "DecodeParms", "DL"} {
		delete(t, k)
	}
	for k, v := range u.trailer {
		if k == "Encrypt" { // what stays in the file as it is could not be read without it
			continue
		}
		t[k] = v
		if v == nil {
			delete(t, k)
		}
	}
	return t
}

// WriteTo writes the original bytes, the changed objects and a cross-reference section of the kind
// the file ends with (7.5.6). A file that had to be repaired is written anew instead (WriteFull): there is
// no sound section to add to.
func (u *Update) WriteTo(w io.Writer) (int64, error) {
	if u.err != nil {
		return 0, u.err
	}
	if u.d.Repaired() || len(u.d.sections) == 0 {
		return u.WriteFull(w)
	}
	o := newOutput(w)
	o.base = u.d.base
	if err := u.copyOriginal(o); err != nil || !u.Changed() {
		return o.n, err
	}
	h := newHash()
	o.hash = h
	o.seal = u.sealer()
	nums := make([]int, 0, len(u.changed))
	for n := range u.changed {
		nums = append(nums, n)
	}
	sort.Ints(nums)
	for _, n := range nums {
		o.object(n, u.gen(n), u.changed[n])
	}
	var free []int
	for n := range u.deleted {
		if e, ok := u.d.entries[n]; ok && e.kind != entryFree {
			free = append(free, n)
		}
	}
	newest := u.d.sections[0]
	t := u.newTrailer()
	t["Prev"] = Integer(newest.off)
	u.identify(t, h.Sum(nil))
	size := u.next
	if newest.kind == sectionStream {
		t["Size"] = Integer(size + 1)
		o.stream(size, free, t)
	} else {
		t["Size"] = Integer(size)
		o.table(free, t)
	}
	return o.n, o.err
}

// sealer encrypts what is added as the rest of the file is; nil when it is not encrypted.
func (u *Update) sealer() *sealer {
	s := u.d.security
	if s == nil {
		return nil
	}
	return &sealer{security: s, resolve: u.Resolve, object: s.object}
}

// identify sets the file identifier (14.4). Its first half is part of the key of an encrypted file.
func (u *Update) identify(t Dict, sum []byte) {
	s := u.d.security
	switch {
	case s == nil:
		t["ID"] = identifier(u.d.Resolve(t["ID"]), sum)
	case s.id != "":
		t["ID"] = Array{s.id, String(sum)}
	default:
		delete(t, "ID")
	}
}

func (u *Update) copyOriginal(o *output) error {
	const chunk = 1 << 20
	src := u.d.src
	last := byte('\n')
	for off := int64(0); off < src.size; {
		b := src.bytes(off, chunk)
		if len(b) == 0 {
			return fmt.Errorf("reading the file at byte %d failed", off)
		}
		o.write(b)
		last = b[len(b)-1]
		off += int64(len(b))
	}
	if last != '\n' && last != '\r' && u.Changed() {
		o.write([]byte("\n"))
	}
	return o.err
}

// WriteFull writes a new file of all objects that can be reached, with their numbers, their stream
// data as stored, and one cross-reference table. It is encrypted when the document is, with the same passwords.
func (u *Update) WriteFull(w io.Writer) (int64, error) {
	if u.err != nil {
		return 0, u.err
	}
	u = u.clone() // the new root and page tree are no change of the caller's
	t := u.newTrailer()
	for k := range t { // entries of other programs' making may point at what is gone
		if k != "Root" && k != "Info" && k != "ID" {
			delete(t, k)
		}
	}
	r, _ := t["Root"].(Ref)
	root, ok := u.Resolve(r).(Dict)
	if !ok {
		root = u.d.catalog
	}
	root = copyDict(root)
	if u.d.treeLost {
		root["Pages"] = u.pageTree()
	}
	if !ok { // the catalogue was lost, or written inside the trailer
		root["Type"] = Name("Catalog")
		t["Root"] = u.Add(root)
	} else if u.d.treeLost {
		u.Set(r, root)
	}
	if s := u.d.security; s != nil {
		t["Encrypt"] = s.dict
	}
	nums := u.reachable(t)
	o := newOutput(w)
	h := newHash()
	o.hash = h
	if o.seal = u.sealer(); o.seal != nil {
		o.seal.object = 0
	}
	number := map[int]int{}
	top := 0
	if len(nums) > 0 {
		top = nums[len(nums)-1]
	}
	if top > 4*len(nums)+1000 { // a table has a line for each number: numbers far apart are closed up
		for i, n := range nums {
			number[n] = i + 1
		}
		top = len(nums)
	}
	o.mapRef = func(r Ref) Ref {
		if n, ok := number[r.Num]; ok {
			return Ref{Num: n}
		}
		if len(number) > 0 {
			return Ref{Num: top + 1} // never in use: null
		}
		return Ref{Num: r.Num}
	}
	v := u.d.Version()
	if v == "" || len(v) != 3 {
		v = "1.7"
	}
	o.write([]byte("%PDF-" + v + "\n%\xE2\xE3\xCF\xD3\n"))
	for _, n := range nums {
		o.object(o.mapRef(Ref{Num: n}).Num, 0, u.object(n))
	}
	var free []int
	for n := 0; n <= top; n++ {
		if _, ok := o.offs[n]; !ok {
			free = append(free, n)
		}
	}
	u.identify(t, h.Sum(nil))
	t["Size"] = Integer(top + 1)
	o.table(free, t)
	return o.n, o.err
}

func (u *Update) clone() *Update {
	c := *u
	c.changed = make(map[int]Object, len(u.changed))
	for n, o := range u.changed {
		c.changed[n] = o
	}
	return &c
}

// pageTree adds a flat page tree of the pages found.
func (u *Update) pageTree() Ref {
	tree := Ref{Num: u.next}
	u.next++
	kids := Array{}
	for _, s := range u.d.pages {
		dict := copyDict(u.d.dict(s))
		if c, ok := u.changed[s.ref.Num].(Dict); ok {
			dict = copyDict(c)
		}
		dict["Parent"] = tree
		for k, v := range map[Name]Object{"Resources": s.in.resources, "MediaBox": s.in.mediaBox, "CropBox": s.in.cropBox, "Rotate": s.in.rotate} {
			if dict[k] == nil && v != nil {
				dict[k] = v
			}
		}
		u.Set(s.ref, dict)
		kids = append(kids, s.ref)
	}
	u.Set(tree, Dict{"Type": Name("Pages"), "Kids": kids, "Count": Integer(len(kids))})
	return tree
}

// reachable lists the numbers of the objects that can be reached from the trailer, ascending.
func (u *Update) reachable(t Dict) []int {
	seen := map[int]bool{}
	var queue, out []int
	var visit func(o Object)
	visit = func(o Object) {
		switch v := o.(type) {
		case Ref:
			if !seen[v.Num] && v.Num > 0 {
				seen[v.Num] = true
				queue = append(queue, v.Num)
			}
		case Array:
			for _, e := range v {
				visit(e)
			}
		case Dict:
			for _, e := range v {
				visit(e)
			}
		case *Stream:
			for k, e := range v.Dict {
				if k != "Length" { // written anew
					visit(e)
				}
			}
		}
	}
	visit(t)
	for len(queue) > 0 {
		n := queue[len(queue)-1]
		queue = queue[:len(queue)-1]
		o := u.object(n)
		if o == nil {
			continue
		}
		out = append(out, n)
		visit(o)
	}
	sort.Ints(out)
	return out
}
