package artwork

import (
	"bytes"
	"context"
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/interp"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/golden"
	"laydown/internal/pdfbuild"
	"laydown/internal/plates/separate"
	"laydown/internal/press"
)

// cases is what an object becomes in the pass of White and in that of the process toners, one line a case: resources are those
// of caseFile, with names that begin with X for objects {1}, {2} … made of the streams given after the content, "dict | data".
var cases = []struct {
	name, content string
	streams       []string
}{
	{"one toner, no overprint", "/W cs .5 scn 0 0 9 9 re f", nil},
	{"one toner, overprint", "/On gs /W cs .5 scn 0 0 9 9 re f", nil},
	{"process, no overprint", ".1 .2 .3 .4 k 0 0 9 9 re f", nil},
	{"process, overprint", "/On gs .1 .2 .3 .4 k 0 0 9 9 re f", nil},
	{"process, overprint mode 1", "/On1 gs 0 .2 0 .4 k 0 0 9 9 re f", nil},
	{"no process toner, overprint mode 1", "/On1 gs 0 0 0 0 k 0 0 9 9 re f", nil},
	{"two toners in two passes", "/WK cs .5 .7 scn 0 0 9 9 re f", nil},
	{"two toners in two passes, overprint", "/On gs /WK cs .5 .7 scn 0 0 9 9 re f", nil},
	{"a name assigned to White", "/Base cs .5 scn 0 0 9 9 re f", nil},
	{"a mix of Silver and Gold", "/Pale cs .5 scn 0 0 9 9 re f", nil},
	{"a name the press does not have", "/Unheard cs .5 scn 0 0 9 9 re f", nil},
	{"All", "/All cs 1 scn 0 0 9 9 re f", nil},
	{"None", "/None cs 1 scn 0 0 9 9 re f", nil},
	{"fill and stroke in two passes", "/W cs 1 scn 0 0 0 1 K 0 0 9 9 re b*", nil},
	{"fill and stroke in two passes, overprint", "/On gs /W cs 1 scn 0 0 0 1 K 0 0 9 9 re b*", nil},
	{"text, overprint, moves on", "/On gs BT /F 9 Tf 0 0 0 1 k (a) Tj /W cs 1 scn (b) Tj ET", nil},
	{"text that clips, overprint", "/On gs BT /F 9 Tf 7 Tr 0 0 0 1 k (a) Tj 6 Tr (b) Tj ET", nil},
	{"a clip stays where nothing is marked", "/On gs 0 0 0 1 k 0 0 9 9 re W f", nil},
	{"overprint is set where it counts", "/W cs 1 scn q /On gs 0 0 4 4 re f Q 0 0 9 9 re f", nil},
	{"under a mode shape counts", "/On gs /Mul gs 0 0 0 1 k 0 0 9 9 re f", nil},
	{"image of the other pass", "/X1 Do", []string{"/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceCMYK | abcd"}},
	{"image of the other pass, overprint", "/On gs /X1 Do", []string{"/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceCMYK | abcd"}},
	{"image in two passes", "/X1 Do", []string{"/Type /XObject /Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace {WK} | ab"}},
	{"form under two states", "/X1 Do /On gs /X1 Do", []string{"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources {res} | 0 0 0 1 k 0 0 9 9 re f"}},
	{"isolated group, overprint inside", "/On gs /X1 Do", []string{"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources {res} /Group << /S /Transparency /I true >> | 0 0 0 1 k 0 0 9 9 re f /W cs .5 scn 0 0 4 4 re f"}},
}

// caseStart marks the page in every pass.
const caseStart = "/All cs 1 scn 0 0 1 1 re f "

// caseFile is a page of one case.
func caseFile(content string, streams []string) []byte {
	f := pdfbuild.New()
	body := "{ 0 0 0 4 3 roll pop pop 0 }"
	fn := pdfbuild.Ref(f.Stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", body))
	wk := pdfbuild.Ref(f.Add("[/DeviceN [/White /Black] /DeviceCMYK " + fn + "]"))
	res := f.Add("null")
	var xobjects strings.Builder
	for i, s := range streams {
		dict, data, _ := strings.Cut(s, " | ")
		dict = strings.NewReplacer("{WK}", wk, "{res}", pdfbuild.Ref(res)).Replace(dict)
		fmt.Fprintf(&xobjects, "/X%d %s ", i+1, pdfbuild.Ref(f.Stream(dict, data)))
	}
	spaces := "/WK " + wk
	for name, of := range map[string]string{"W": "White", "Base": "Undercoat", "Pale": "Pale#20Gold", "Unheard": "Unheard", "All": "All", "None": "None"} {
		spaces += " /" + name + " " + pdfbuild.Ref(f.Add(pdfbuild.Spot(of, .2, 0, .1, 0)))
	}
	text := "/ColorSpace << " + spaces + " >> /ExtGState << /On << /OP true /op true /OPM 0 >> /On1 << /OP true /op true /OPM 1 >> /Mul << /BM /Multiply >> >> " +
		"/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> /XObject << " + xobjects.String() + " >>"
	f.Set(res, "<< "+text+" >>")
	f.Page(9, 9, text, caseStart+content)
	return f.Bytes()
}

// shownPass is the content of a page as a pass has it, with what its names stand for.
func shownPass(doc *pdf.Document, up *pdf.Update) string {
	var b strings.Builder
	pg, _ := doc.Page(1)
	page, _ := up.Resolve(pg.Ref).(pdf.Dict)
	seen := map[string]bool{}
	var show func(indent string, st *pdf.Stream, res pdf.Dict)
	show = func(indent string, st *pdf.Stream, res pdf.Dict) {
		data, _ := doc.Data(st)
		text := strings.Join(strings.Fields(string(data)), " ")
		if _, after, ok := strings.Cut(text, "0 0 1 1 re f"); ok {
			text = strings.TrimSpace(after)
		}
		fmt.Fprintf(&b, "%s%s\n", indent, text)
		for _, category := range []pdf.Name{"ColorSpace", "ExtGState", "XObject"} {
			d, _ := up.Resolve(res[category]).(pdf.Dict)
			for _, k := range sortedKeys(d) {
				used := regexp.MustCompile(`/` + string(k) + `\b`).MatchString(text)
				switch v := up.Resolve(d[k]).(type) {
				case *pdf.Stream:
					if kind := v.Dict["Subtype"]; used && kind == pdf.Name("Form") {
						inner, _ := up.Resolve(v.Dict["Resources"]).(pdf.Dict)
						fmt.Fprintf(&b, "%s  /%s is a form\n", indent, k)
						show(indent+"    ", v, inner)
					} else if used {
						fmt.Fprintf(&b, "%s  /%s is an image of %v x %v in %s\n", indent, k, v.Dict["Width"], v.Dict["Height"], spaceText(up, v.Dict["ColorSpace"]))
					}
				case pdf.Dict:
					if used && strings.HasPrefix(string(k), "L") {
						fmt.Fprintf(&b, "%s  /%s is overprint %v %v mode %v\n", indent, k, v["op"], v["OP"], v["OPM"])
					}
				default:
					if used && !seen[indent+string(k)] {
						fmt.Fprintf(&b, "%s  /%s is %s\n", indent, k, spaceText(up, v))
					}
				}
			}
		}
	}
	res, _ := page["Resources"].(pdf.Dict)
	if st, ok := up.Resolve(page["Contents"]).(*pdf.Stream); ok {
		show("    ", st, res)
	} else {
		b.WriteString("    nothing\n")
	}
	return b.String()
}

func spaceText(up *pdf.Update, o pdf.Object) string {
	a, ok := up.Resolve(o).(pdf.Array)
	if !ok || len(a) < 2 {
		return fmt.Sprint(o)
	}
	return fmt.Sprint(a[0], " ", up.Resolve(a[1]))
}

// TestCases shows what objects become in the passes of a press, case by case.
func TestCases(t *testing.T) {
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	target, err := separate.NewTarget(p, map[string]string{"Undercoat": "White"}, colour.NewConverter(nil))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for _, c := range cases {
		data := caseFile(c.content, c.streams)
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
		if err != nil {
			t.Fatal(err)
		}
		list, err := interp.NewReader(doc, finding.Discard).Page(context.Background(), 1, interp.Options{Sink: finding.Discard})
		if err != nil {
			t.Fatal(err)
		}
		read := func(context.Context, int) (*Page, error) { return &Page{List: list, Target: target}, nil }
		files, err := Split(context.Background(), doc, read, [][]string{{"White"}, {"Cyan", "Magenta", "Yellow", "Black"}, {"Silver", "Gold"}})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%s: %s\n", c.name, c.content)
		for _, f := range files {
			for _, r := range f.Refused {
				t.Errorf("%s: %s", c.name, r.What)
			}
			fmt.Fprintf(&out, "  pass of %s\n%s", textList(f.Toners), shownPass(doc, f.Update))
		}
		out.WriteByte('\n')
	}
	golden.Text(t, "cases.txt", out.String())
}

// TestFileNamesNothingElse: no space a pass can reach names a colourant of another pass, and nothing of the whole is left in the file.
func TestFileNamesNothingElse(t *testing.T) {
	p, err := press.FindPress("two-set")
	if err != nil {
		t.Fatal(err)
	}
	target, err := separate.NewTarget(p, nil, colour.NewConverter(nil))
	if err != nil {
		t.Fatal(err)
	}
	var content []string
	for _, c := range cases {
		if len(c.streams) == 0 && !strings.Contains(c.name, "mode") {
			content = append(content, "q "+c.content+" Q")
		}
	}
	data := caseFile(strings.Join(content, "\n"), nil)
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	list, err := interp.NewReader(doc, finding.Discard).Page(context.Background(), 1, interp.Options{Sink: finding.Discard})
	if err != nil {
		t.Fatal(err)
	}
	read := func(context.Context, int) (*Page, error) { return &Page{List: list, Target: target}, nil }
	passes := [][]string{{"White"}, {"Cyan", "Magenta", "Yellow", "Black"}}
	files, err := Split(context.Background(), doc, read, passes)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range files {
		var b bytes.Buffer
		if _, err := f.Update.WriteFull(&b); err != nil {
			t.Fatal(err)
		}
		d, err := pdf.Open(bytes.NewReader(b.Bytes()), int64(b.Len()), pdf.Options{Sink: finding.Discard})
		if err != nil {
			t.Fatal(err)
		}
		l, err := interp.NewReader(d, finding.Discard).Page(context.Background(), 1, interp.Options{Sink: finding.Discard})
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, n := range l.Names {
			names = append(names, n.Name)
		}
		sort.Strings(names)
		if want := slices.DeleteFunc(slices.Clone(passes[i]), func(n string) bool { return n != "White" }); !slices.Equal(names, want) {
			t.Errorf("the file of %v names %v", passes[i], names)
		}
		for _, n := range []string{"/Pale", "/Unheard", "/Undercoat"} {
			if bytes.Contains(b.Bytes(), []byte(n)) {
				t.Errorf("the file of %v holds %s", passes[i], n)
			}
		}
	}
}
