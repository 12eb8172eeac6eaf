package colourant

import "testing"

func TestSet_starts_with_the_process_colourants_and_keeps_each_name_once(t *testing.T) {
	s := NewSet(Colourant{"White", OpaqueWhite}, Colourant{"Cyan", Spot}, Colourant{"White", Clear}, Colourant{"white", Spot})
	want := []string{Cyan, Magenta, Yellow, Black, "White", "white"}
	if s.Len() != len(want) {
		t.Fatalf("%d colourants", s.Len())
	}
	for i, n := range want {
		if s.At(i).Name != n {
			t.Errorf("plate %d is %s, want %s", i, s.At(i).Name, n)
		}
		if k, ok := s.Lookup(n); !ok || k != i {
			t.Errorf("%s is found at %d", n, k)
		}
	}
	if s.At(4).Kind != OpaqueWhite {
		t.Error("the first definition of a name does not stand")
	}
	if _, ok := s.Lookup("White "); ok {
		t.Error("names are not compared byte for byte")
	}
}

func TestKind_reads_its_own_words(t *testing.T) {
	for k := Spot; k <= Fluorescent; k++ {
		b, err := k.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var got Kind
		if err := got.UnmarshalText(b); err != nil || got != k {
			t.Errorf("%s reads back as %s, %v", k, got, err)
		}
	}
	var k Kind
	if k.UnmarshalText([]byte("varnish")) == nil {
		t.Error("an unknown kind is read")
	}
}
