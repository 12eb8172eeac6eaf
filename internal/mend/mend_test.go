package mend

import (
	"testing"
)

func TestUsesAreReadAsTheyAreWritten(t *testing.T) {
	for _, s := range []string{
		"rename-colourant:from=white,to=White", `merge-colourants:from=Moon Dust|w,to="Silver, light"`, "one-definition", `rename-colourant:from=" white",to="a=b"`,
	} {
		u, err := Parse(s)
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		if got := u.String(); got != s {
			t.Errorf("%s comes back as %s", s, got)
		}
	}
}

func TestUsesThatMakeNoSenseAreRefused(t *testing.T) {
	for _, s := range []string{
		"", "no-such-remedy", "rename-colourant", "rename-colourant:from=a", "rename-colourant:from=a,to=b,tint=3", "rename-colourant:from=a,from=b,to=c",
		`rename-colourant:from="a,to=b`, `rename-colourant:from="a"b,to=c`, "one-definition:colourant", "rename-colourant:from=a,to=",
	} {
		if u, err := Parse(s); err == nil {
			t.Errorf("%q was read as %s", s, u)
		}
	}
}

func TestSplicesTakeTheirPlaces(t *testing.T) {
	got := string(apply([]byte("0123456789"), []splice{{0, 0, "<"}, {2, 3, "-"}, {5, 0, "+"}, {10, 0, ">"}}))
	if want := "<01-+56789>"; got != want {
		t.Fatalf("got %s, want %s", got, want)
	}
}
