package cli

import "testing"

func TestBarShowsHowFarTheWorkIs(t *testing.T) {
	for _, tt := range []struct {
		done, total int
		want        string
	}{
		{0, 8, "page 0 of 8 [----------------------------------------]"},
		{3, 8, "page 3 of 8 [===============-------------------------]"},
		{8, 8, "page 8 of 8 [========================================]"},
		{0, 0, "page 0 of 0 [----------------------------------------]"},
	} {
		if got := barText("page", tt.done, tt.total); got != tt.want {
			t.Errorf("%s, want %s", got, tt.want)
		}
	}
}
