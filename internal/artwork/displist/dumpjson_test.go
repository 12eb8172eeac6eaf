package displist

import (
	"encoding/json"
	"strings"
	"testing"

	"laydown/internal/artwork/colour"
	"laydown/internal/geom"
	"laydown/internal/golden"
)

// facts is a page that uses every field of the page's JSON.
func facts(t testing.TB) *List {
	l := sound(t)
	l.Page.Object, l.Page.Rotate, l.Page.UserUnit = 4, 90, 2
	l.Page.Crop, l.Page.HasCrop = geom.Rect{X0: 1, Y0: 2, X1: 99, Y1: 48}, true
	l.Page.Trim, l.Page.HasTrim = geom.Rect{X0: 5, Y0: 5, X1: 95, Y1: 45}, true
	l.Page.Contents = []ContentPart{{Object: 7, Start: 0}, {Object: 8, Start: 1200}}
	l.Group = &Group{Isolated: true, Space: colour.CMYK}
	white := &colour.Separation{Name: "White", Alternate: colour.CMYK}
	l.Names = []NamedColourant{{Name: "White", Spaces: []colour.Space{white}, Object: 11},
		{Name: "Gl\xe4nzend <&>", Spaces: []colour.Space{white, colour.Gray}, HiddenOnly: true}}
	l.Blending, l.Incomplete, l.ViewerDiffers = true, true, true
	return l
}

func pageJSON(t *testing.T, l *List) string {
	t.Helper()
	var b strings.Builder
	if err := l.WritePageJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestWritePageJSON(t *testing.T) {
	golden.Text(t, "page/every-fact.json", pageJSON(t, facts(t)))
}

// An empty page has empty lists, not null, so that readers need not ask.
func TestWritePageJSONOfAnEmptyPage(t *testing.T) {
	golden.Text(t, "page/empty.json", pageJSON(t, &List{}))
}

// What is written can be read back with the values it had.
func TestWritePageJSONReadsBack(t *testing.T) {
	l := facts(t)
	var got jsonList
	d := json.NewDecoder(strings.NewReader(pageJSON(t, l)))
	d.DisallowUnknownFields()
	if err := d.Decode(&got); err != nil {
		t.Fatal(err)
	}
	if d.More() {
		t.Error("more than one value is written")
	}
	if got.ItemCount != len(l.Items) || got.Items != nil {
		t.Errorf("item count %d, %d items written; want %d, none", got.ItemCount, len(got.Items), len(l.Items))
	}
	if got.Page.Trim != rectJSON(l.Page.Trim) || got.Page.Contents[1] != (jsonPart{8, 1200}) {
		t.Errorf("trim %v, contents %v", got.Page.Trim, got.Page.Contents)
	}
	// Names are bytes in the file; each is written as the character of its number.
	var name []byte
	for _, r := range got.Colourants[1].Name {
		name = append(name, byte(r))
	}
	if string(name) != l.Names[1].Name {
		t.Errorf("name %q, want %q", name, l.Names[1].Name)
	}
}

// Items are on the list's own JSON, masks once.
func TestWriteJSONHasItems(t *testing.T) {
	l := sound(t)
	l.Items[0].SoftMask = l.Items[6].SoftMask
	var b strings.Builder
	if err := l.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	golden.Text(t, "list/items.json", b.String())
}
