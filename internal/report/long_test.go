package report

import (
	"strings"
	"testing"

	"laydown/internal/finding"
)

// longSample is a document of three pages of which one is shown in full.
func longSample() *Data {
	d := sample()
	on := func(page int, what string) finding.Finding {
		return finding.Finding{ID: "thin-line", Severity: finding.Error, What: what, Place: finding.Place{Page: page, Box: &finding.BoxMM{X: 1, Y: 2, W: 3, H: 4}, Object: page}}
	}
	two, three, four := on(2, "Too thin."), on(3, "Too thin."), on(4, "Far too thin.")
	small := func(n int, fs ...finding.Finding) Small {
		return Small{Number: n, Picture: []byte("jpeg"), Pixels: [2]int{4, 2}, WidthMM: 100, HeightMM: 50, Full: n == 1, Findings: fs}
	}
	gone := small(4, four)
	gone.Picture = nil
	d.Long = &Long{Words: []string{"All 4 pages were checked.", "Page 1 stands for 3 pages."}, Small: []Small{small(1, d.Pages[0].Findings...), small(2, two), small(3, three), gone},
		Rest: finding.Kinds([]finding.Finding{two, three, four})}
	return d
}

func TestReport_shows_every_page_of_a_long_document(t *testing.T) {
	got := write(t, longSample())
	for _, want := range []string{"Page 1 stands for 3 pages.", `href="#page1"`, `id="page1"`, `id="small2"`, `id="small3"`, "Page 3: 1 error", "could not be painted", "4 errors, 1 warning",
		"On 3 pages: 2–4", "Page 2, 3: Too thin.", "Page 4: Far too thin."} {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
}

// Frames of findings lie on the small pictures as they do on the large ones.
func TestReport_frames_findings_on_small_pages(t *testing.T) {
	got := write(t, longSample())
	small := got[strings.Index(got, `id="small2"`):strings.Index(got, `id="small3"`)]
	if !strings.Contains(small, `<rect class="box" x="1" y="2" width="3" height="4"/>`) {
		t.Errorf("no frame on page 2: %s", small)
	}
}
