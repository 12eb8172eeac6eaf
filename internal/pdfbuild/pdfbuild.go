// Package pdfbuild makes small PDF files for tests out of Go text: content streams and dictionaries
// are written as PDF syntax in string literals, the numbering, lengths and cross-reference table
// are made here. It shares no code with the writer of the product, so that tests of the reader do
// not lean on it.
package pdfbuild

import (
	"bytes"
	"fmt"
	"sort"
)

// File is a PDF under construction. The zero value is not usable; call New.
type File struct {
	objects map[int]string
	next    int
	pages   []int
	catalog string
	trailer string
	Version string // header version, "1.7" unless set
}

// New returns an empty file.
func New() *File {
	return &File{objects: map[int]string{}, next: 3, Version: "1.7"} // 1 = catalogue, 2 = page tree
}

// Add stores an object's PDF syntax and returns its number, to be used as "N 0 R" (see Ref).
func (f *File) Add(body string) int {
	n := f.next
	f.next++
	f.objects[n] = body
	return n
}

// Set replaces object n.
func (f *File) Set(n int, body string) { f.objects[n] = body }

// Stream stores a stream; dict is the inside of its dictionary without /Length.
func (f *File) Stream(dict, data string) int {
	return f.Add(fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data))
}

// Ref writes the reference to object n.
func Ref(n int) string { return fmt.Sprintf("%d 0 R", n) }

// Page adds a page of w x h points. resources is the inside of the resource dictionary, content the
// content stream, extra more entries of the page dictionary. It returns the page's object number.
func (f *File) Page(w, h float64, resources, content string, extra ...string) int {
	c := f.Stream("", content)
	return f.PageWith(w, h, resources, Ref(c), extra...)
}

// PageWith is Page with the value of /Contents given.
func (f *File) PageWith(w, h float64, resources, contents string, extra ...string) int {
	var b bytes.Buffer
	fmt.Fprintf(&b, "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %g %g] /Resources << %s >> /Contents %s", w, h, resources, contents)
	for _, e := range extra {
		b.WriteString(" " + e)
	}
	b.WriteString(" >>")
	n := f.Add(b.String())
	f.pages = append(f.pages, n)
	return n
}

// Catalog adds entries to the catalogue dictionary.
func (f *File) Catalog(extra string) { f.catalog += " " + extra }

// Trailer adds entries to the trailer dictionary.
func (f *File) Trailer(extra string) { f.trailer += " " + extra }

// Bytes writes the file: header, objects in order, a classic cross-reference table, trailer.
func (f *File) Bytes() []byte {
	kids := ""
	for _, p := range f.pages {
		kids += Ref(p) + " "
	}
	f.objects[1] = "<< /Type /Catalog /Pages 2 0 R" + f.catalog + " >>"
	f.objects[2] = fmt.Sprintf("<< /Type /Pages /Kids [ %s] /Count %d >>", kids, len(f.pages))
	nums := make([]int, 0, len(f.objects))
	for n := range f.objects {
		nums = append(nums, n)
	}
	sort.Ints(nums)
	var b bytes.Buffer
	fmt.Fprintf(&b, "%%PDF-%s\n%%\xe2\xe3\xcf\xd3\n", f.Version)
	offset := map[int]int{}
	for _, n := range nums {
		offset[n] = b.Len()
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", n, f.objects[n])
	}
	start := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", f.next)
	for n := 1; n < f.next; n++ {
		if o, ok := offset[n]; ok {
			fmt.Fprintf(&b, "%010d 00000 n \n", o)
		} else {
			b.WriteString("0000000000 65535 f \n")
		}
	}
	fmt.Fprintf(&b, "trailer\n<< /Size %d /Root 1 0 R /ID [<00112233445566778899aabbccddeeff> <00112233445566778899aabbccddeeff>]%s >>\nstartxref\n%d\n%%%%EOF\n", f.next, f.trailer, start)
	return b.Bytes()
}

// Spot is the array of a Separation space called name whose alternate is the CMYK stand-in c m y k.
func Spot(name string, c, m, y, k float64) string {
	return fmt.Sprintf("[ /Separation /%s /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [%g %g %g %g] >> ]", name, c, m, y, k)
}
