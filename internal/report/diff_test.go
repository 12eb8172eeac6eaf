package report

import (
	"bytes"
	"strings"
	"testing"
)

// Names come from strangers' files and are shown as text; every picture has words for those who cannot see it.
func TestDiffPageShowsNamesAsText(t *testing.T) {
	var b bytes.Buffer
	err := WriteDiff(&b, &Diff{First: "a<b>.pdf", Second: "b.pdf", Version: "v", Verdict: "The page differs.", More: "#0072b2", Less: "#d55e00",
		Pages: []DiffPage{{Number: 2, Remarks: []string{"The sizes differ."}, Picture: "page-2.png",
			Plates: []DiffPlate{{Name: "<script>x</script>", Text: "4 % of the page", Picture: "page-2-_3cscript_3e.png"}}}}})
	if err != nil {
		t.Fatal(err)
	}
	out := b.String()
	for _, want := range []string{"a&lt;b&gt;.pdf", "&lt;script&gt;", "background:#d55e00", "The sizes differ.", `src="page-2-_3cscript_3e.png"`, "4 % of the page"} {
		if !strings.Contains(out, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(out, "<script>") {
		t.Error("a name is taken as code")
	}
	if strings.Count(out, "<img ") != strings.Count(out, "alt=\"") {
		t.Error("a picture has no words")
	}
}
