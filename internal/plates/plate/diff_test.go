package plate

import (
	"image"
	"testing"
)

func TestDiffMeasuresPlates(t *testing.T) {
	a := NewStack(testHeader(4, 2, "White", "only a"))
	b := NewStack(testHeader(4, 2, "only b", "White"))
	ia, _ := a.Set.Lookup("White")
	ib, _ := b.Set.Lookup("White")
	a.SetPlane(ia, []byte{0, 0, 100, 100, 0, 0, 100, 100})
	b.SetPlane(ib, []byte{0, 100, 100, 108, 0, 0, 100, 100})
	b.SetPlane(4, []byte{0, 0, 0, 0, 0, 0, 0, 9})
	d := Diff(a, b)
	byName := map[string]PlateDifference{}
	for _, p := range d.Plates {
		byName[p.Name] = p
	}
	w := byName["White"]
	if w.Pixels != 2 || w.Worst != 100 || w.WorstAt != image.Pt(1, 0) || w.Box != image.Rect(1, 0, 4, 1) || !near(w.MAD, 108./8) {
		t.Errorf("White: %+v", w)
	}
	if w.Out != 0 { // the edge moved by one pixel, the tint by 8
		t.Errorf("an edge off by one pixel counts as out: %g", w.Out)
	}
	if p := byName["only b"]; p.InA || !p.InB || p.Pixels != 1 || p.Worst != 9 || !near(p.Out, 1./8) {
		t.Errorf("a plate A lacks: %+v", p)
	}
	if p := byName["only a"]; p.Pixels != 0 || p.InB {
		t.Errorf("an untouched plate B lacks: %+v", p)
	}
	if d.Equal() {
		t.Error("different stacks are called equal")
	}
	if !Diff(a, a).Equal() || Diff(a, a).String() != "equal" {
		t.Error("a stack differs from itself")
	}
}

// An edge off by two pixels is out, whichever way round.
func TestDiffCountsWhatIsOutEitherWayRound(t *testing.T) {
	a := NewStack(testHeader(8, 1))
	b := NewStack(testHeader(8, 1))
	a.SetPlane(0, []byte{255, 255, 0, 0, 0, 0, 0, 0})
	b.SetPlane(0, []byte{255, 255, 255, 255, 0, 0, 0, 0})
	for _, d := range []*Difference{Diff(a, b), Diff(b, a)} {
		if d.Plates[0].Out != 1./8 {
			t.Errorf("out %g, want 1/8", d.Plates[0].Out)
		}
	}
}

func TestDiffComparesTheCommonArea(t *testing.T) {
	a := testStack(testHeader(3, 2), map[string]string{"Cyan": "120 340"})
	b := testStack(testHeader(2, 3), map[string]string{"Cyan": "12 34 99"})
	d := Diff(a, b)
	if d.Plates[0].Pixels != 0 || d.Equal() {
		t.Errorf("%d pixels differ in the common area, equal %v", d.Plates[0].Pixels, d.Equal())
	}
}

func TestDiffPictureShowsBothAndTheDifference(t *testing.T) {
	a := testStack(testHeader(2, 1), map[string]string{"Cyan": "09"})
	b := testStack(testHeader(2, 1), map[string]string{"Cyan": "99"})
	im := DiffPicture(a, b, "Cyan", image.Rectangle{})
	want := []byte{255, 0, 0, 0, 1, 128, 0, 0, 0, 0}
	if string(im.Pix) != string(want) {
		t.Errorf("picture %v, want %v", im.Pix, want)
	}
}
