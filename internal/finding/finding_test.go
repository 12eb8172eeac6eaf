package finding

import (
	"encoding/json"
	"fmt"
	"math/rand"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestCollector_folds_repeats_and_keeps_the_worst(t *testing.T) {
	var c Collector
	c.Add(Finding{ID: "a", Severity: Note, What: "x", Place: Place{Page: 1, Items: []int{1}}})
	c.Add(Finding{ID: "a", Severity: Error, What: "x", Place: Place{Page: 1, Items: []int{2}}, Incomplete: true})
	c.Add(Finding{ID: "a", Severity: Note, What: "x", Place: Place{Page: 2}})
	got := c.Sorted()
	if len(got) != 2 || got[0].Count != 2 || got[0].Severity != Error || !got[0].Incomplete {
		t.Errorf("got %+v", got)
	}
}

func TestCollector_order_does_not_depend_on_arrival(t *testing.T) {
	var fs []Finding
	for i := range 60 {
		fs = append(fs, Finding{ID: ID(fmt.Sprintf("id-%d", i%7)), Severity: Severity(i % 3), What: fmt.Sprintf("what %d", i), Place: Place{Page: i % 4, Object: i % 5}})
	}
	sorted := func(seed int64) []Finding {
		mixed := append([]Finding(nil), fs...)
		rand.New(rand.NewSource(seed)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		var c Collector
		var wg sync.WaitGroup
		for _, f := range mixed {
			wg.Go(func() { c.Add(f) })
		}
		wg.Wait()
		return c.Sorted()
	}
	if d := cmp.Diff(sorted(1), sorted(2)); d != "" {
		t.Error(d)
	}
}

func TestCollector_is_bounded_and_says_so(t *testing.T) {
	var c Collector
	for i := range maxKept + 10 {
		c.Add(Finding{ID: "a", What: fmt.Sprint(i)})
	}
	got := c.Sorted()
	if len(got) != maxKept+1 {
		t.Fatalf("%d kept", len(got))
	}
	for _, f := range got {
		if f.ID == "too-many-findings" && f.Incomplete {
			return
		}
	}
	t.Error("nothing says that findings were left out")
}

func TestFinding_reads_back_from_json(t *testing.T) {
	want := Finding{ID: "a-b", Severity: Warning, Class: OverLimit, What: "w", Why: "y", Remedy: "r", Incomplete: true, Count: 3,
		Place:   Place{Page: 2, Box: &BoxMM{1, 2, 3, 4}, Object: 5, Offset: 6, Items: []int{7}, Colourants: []string{"White"}, Layer: "L"},
		Figures: map[string]float64{"area_mm2": 1.5}, Notes: []string{"n"}}
	b, err := json.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	var got Finding
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if json.Unmarshal([]byte(`{"severity":"bad"}`), &got) == nil || json.Unmarshal([]byte(`{"class":"bad"}`), &got) == nil {
		t.Error("an unknown word is read")
	}
}
