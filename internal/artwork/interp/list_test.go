package interp

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"laydown/internal/artwork/displist"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/golden"
	"laydown/internal/pdfbuild"
)

// interpret reads page 1 of a file; the list must be well formed and the same when read again.
func interpret(t testing.TB, f *pdfbuild.File, opt Options) (*displist.List, []finding.Finding) {
	t.Helper()
	var sink finding.Collector
	r := readerOf(t, f.Bytes(), &sink)
	opt.Sink = &sink
	list, err := r.Page(context.Background(), 1, opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := displist.Validate(list); err != nil {
		t.Errorf("list is not well formed: %v", err)
	}
	found := sink.Sorted()
	opt.Sink = nil
	again, err := r.Page(context.Background(), 1, opt)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := text(list), text(again); a != b {
		t.Errorf("read twice, the page gives two lists:\n%s\n%s", a, b)
	}
	return list, found
}

func readerOf(t testing.TB, data []byte, sink finding.Sink) *Reader {
	t.Helper()
	doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: sink})
	if err != nil {
		t.Fatal(err)
	}
	return NewReader(doc, sink)
}

func reader(t testing.TB, f *pdfbuild.File) *Reader { return readerOf(t, f.Bytes(), finding.Discard) }

func text(l *displist.List) string {
	var b strings.Builder
	_ = l.WriteText(&b)
	return b.String()
}

// dump is a list as text, with the findings.
func dump(l *displist.List, found []finding.Finding) string {
	var b strings.Builder
	b.WriteString(text(l))
	for _, n := range l.Names {
		fmt.Fprintf(&b, "colourant %s", n.Name)
		if n.HiddenOnly {
			b.WriteString(" hidden only")
		}
		b.WriteString("\n")
	}
	if l.Blending {
		b.WriteString("blending\n")
	}
	if l.Incomplete {
		b.WriteString("incomplete\n")
	}
	if l.ViewerDiffers {
		b.WriteString("viewer differs\n")
	}
	for _, f := range found {
		fmt.Fprintf(&b, "%s %s x%d object %d byte %d: %s\n", f.Severity, f.ID, max(f.Count, 1), f.Place.Object, f.Place.Offset, f.What)
	}
	return b.String()
}

// check compares the list of a file's first page with a golden file.
func check(t *testing.T, name string, f *pdfbuild.File, opt Options) {
	t.Helper()
	golden.Text(t, name+".txt", dump(interpret(t, f, opt)))
}

const (
	white  = "/White " + whiteSpace
	silver = "/Silver [ /Separation /Silver /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [0 0 0 .4] >> ]"

	whiteSpace = "[ /Separation /White /DeviceCMYK << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0 0] /C1 [.2 0 0 0] >> ]"
)

// simple is one page of 200 x 100 points with two special colourants and the content given.
func simple(content string, more ...string) *pdfbuild.File {
	f := pdfbuild.New()
	f.Page(200, 100, "/ColorSpace << "+white+" "+silver+" >> "+strings.Join(more, " "), content)
	return f
}

// TestContent asks one question of each content stream.
func TestContent(t *testing.T) {
	gs := "/ExtGState << /Op << /OP true /OPM 1 >> /Fop << /op true >> /Half << /CA .5 /ca .5 >> /Two << /CA .5 /ca .25 >> /Mul << /BM /Multiply >> " +
		"/BlackOn << /UseBlackPtComp /ON >> /BlackOff << /UseBlackPtComp /OFF >> /BlackDefault << /UseBlackPtComp /Default >> " +
		"/List << /BM [/Unknown /Screen] >> /Bad << /BM /Glow >> /NoTK << /TK false >> /Pen << /LW 3 /LC 1 /LJ 2 /ML 4 /D [[2 1] 1] /SA true /RI /Perceptual /AIS true >> " +
		"/Tr << /TR2 /Default >> /Trf << /TR << /FunctionType 2 /Domain [0 1] /N 2 >> >> /Ht << /HT << /HalftoneType 1 /TransferFunction << /FunctionType 2 /Domain [0 1] /N 2 >> >> >> >>"
	for _, c := range []struct{ name, content, res string }{
		// Colour: initial colours (8.6), clamping, what a wrong operand does.
		{"colour/initial-separation-is-full-tint", "/White cs 0 0 10 10 re f", ""},
		{"colour/initial-colours-of-every-space",
			"/DeviceCMYK cs 0 0 9 9 re f /DeviceRGB cs 10 0 9 9 re f /DeviceGray cs 20 0 9 9 re f /Lab cs 30 0 9 9 re f /Ix cs 40 0 9 9 re f /Pattern cs 50 0 9 9 re f /DN cs 60 0 9 9 re f",
			"/X << >>"},
		{"colour/components-are-clamped", "2 -1 .5 0 k 0 0 10 10 re f /White cs 7 scn 0 20 10 10 re f", ""},
		{"colour/stroke-and-fill-are-apart", "/White CS .5 SCN 1 0 0 rg 0 0 10 10 re B", ""},
		{"colour/too-few-components-keep-the-colour", "0 1 1 0 k .5 .5 k 0 0 10 10 re f", ""},
		{"colour/unknown-space-is-reported", "/Nowhere cs .5 scn 0 0 10 10 re f", ""},
		{"colour/intent", "/AbsoluteColorimetric ri 0 0 10 10 re f /Odd ri 0 20 10 10 re f", ""},
		{"colour/black-point", "/BlackOn gs 0 0 10 10 re f /Perceptual ri 0 20 10 10 re f /BlackOff gs 0 40 10 10 re f /BlackDefault gs 0 60 10 10 re f", gs},

		// Graphics state (8.4).
		{"state/q-and-Q-nest", "q 1 0 0 rg 2 w q 0 1 0 rg 0 0 9 9 re f Q 10 0 9 9 re f Q 20 0 9 9 re f", ""},
		{"state/unbalanced-is-a-note", "Q q q 0 0 9 9 re f", ""},
		{"state/matrix-scales-the-pen", "2 0 0 3 10 20 cm 1 w 0 0 m 10 0 l S", ""},
		{"state/line-style", "1 J 2 j 5 M [3 2] 1 d 4 w 10 10 m 50 10 l 50 50 l S [] 0 d 10 10 m 50 50 l S [0 0] 0 d 10 10 m 50 50 l S", ""},
		{"state/line-style-from-gs", "/Pen gs 10 10 m 50 10 l 50 50 l S", gs},
		{"state/overprint-OP-sets-both", "/Op gs 0 0 9 9 re f 20 20 m 30 20 l S", gs},
		{"state/overprint-op-sets-fill-only", "/Fop gs 0 0 9 9 re f 20 20 m 30 20 l S", gs},
		{"state/blend-from-array", "/List gs 0 0 9 9 re f", gs},
		{"state/blend-unknown", "/Bad gs 0 0 9 9 re f", gs},
		{"state/transfer-function", "/Tr gs 0 0 9 9 re f /Trf gs 10 0 9 9 re f /Ht gs 20 0 9 9 re f", gs},
		{"state/matrix-that-overflows-is-dropped", "100000000000000 0 0 100000000000000 0 0 cm 0 0 10 10 re f", ""},

		// Paths (8.5).
		{"path/every-segment", "10 10 m 20 10 l 30 10 30 20 20 20 c 15 20 10 15 v 5 5 10 10 y h f", ""},
		{"path/line-after-close-starts-anew", "10 10 m 20 10 l 20 20 l h 30 30 l S", ""},
		{"path/lone-moveto-marks-nothing", "10 10 m S 10 10 m 20 20 m 30 30 l S", ""},
		{"path/even-odd", "0 0 50 50 re 10 10 20 20 re f* 0 0 50 50 re B*", ""},
		{"path/clip", "10 10 50 50 re W n 0 0 20 20 re f 30 30 m 90 30 l 60 90 l h W* n 0 0 200 100 re f", ""},
		{"path/clip-that-holds-the-page-is-left-out", "-5 -5 500 500 re W n 0 0 20 20 re f", ""},
		{"path/nothing-outside-the-clip", "10 10 20 20 re W n 50 50 20 20 re f 5 5 10 10 re f", ""},
		{"path/empty-clip-hides-all", "10 10 m W n 0 0 20 20 re f", ""},
		{"path/outside-the-page", "300 300 10 10 re f -50 -50 10 10 re S 195 95 10 10 re f", ""},
		{"path/line-without-start", "20 20 l 30 20 l S", ""},
		{"path/hairline-fill-stays", "10 10 0 50 re f 20 10 30 0 re f", ""},
		{"path/huge-coordinates-are-bounded", "-1000000000000 10 m 1000000000000 10 l 1000000000000 20 l -1000000000000 20 l f", ""},
		{"path/miter-and-caps-widen-bounds", "10 w 50 50 m 60 50 l S 2 J 80 50 m 90 50 l S 0 J 120 50 m 130 50 l 120 51 l S", ""},

		// One object painted twice (11.7.4.4) and overprint under a blend mode (11.7.4.3).
		{"object/B-opaque", "10 10 20 20 re B", ""},
		{"object/B-with-alpha-knocks-out", "/Half gs 10 10 20 20 re B", gs},
		{"object/B-with-alpha-and-overprint", "/Half gs /Op gs 10 10 20 20 re B", gs},
		{"object/B-with-two-alphas-and-overprint", "/Two gs /Op gs 10 10 20 20 re B", gs},
		{"object/B-with-overprint-opaque", "/Op gs 10 10 20 20 re B", gs},
		{"object/B-with-mode-and-overprint", "/Mul gs /Op gs 10 10 20 20 re B", gs},
		{"object/B-with-mode-and-two-alphas-and-overprint", "/Mul gs /Two gs /Op gs 10 10 20 20 re B", gs},
		{"object/fill-with-mode-and-overprint", "/Mul gs /Op gs 10 10 20 20 re f", gs},
		{"object/stroke-with-mode-alone", "/Mul gs 10 10 20 20 re S", gs},

		// Damage.
		{"damage/unknown-operator", "0 0 9 9 re f Zap BX Zop EX 10 0 9 9 re f", ""},
		{"damage/operands", "/a 1 m (x) w 0 0 9 9 re f 3 Tr 9 Tr 1 2 Tm", ""},
		{"damage/missing-resources", "/No gs /No Do /No sh BT /No 9 Tf (x) Tj ET 0 0 9 9 re f", ""},
		{"damage/text-without-font", "BT (x) Tj ET", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := c.res
			if strings.Contains(res, "/X ") {
				f := pdfbuild.New()
				f.Page(200, 100, "/ColorSpace << /Lab [/Lab << /WhitePoint [.96 1 .82] /Range [10 90 -90 -10] >>] /Ix [/Indexed /DeviceRGB 1 <000000ffffff>] "+
					"/DN [/DeviceN [/White /Black /None] /DeviceCMYK << /FunctionType 4 /Domain [0 1 0 1 0 1] /Range [0 1 0 1 0 1 0 1] /Length 0 >>] >>", c.content)
				check(t, c.name, f, Options{})
				return
			}
			check(t, c.name, simple(c.content, res), Options{})
		})
	}
}
