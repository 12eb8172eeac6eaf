package demo

import (
	"bytes"
	"testing"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/press"
)

func ticketBytes(t *testing.T, faulty bool) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteTicket(&b, faulty); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestTicket_is_the_same_bytes_every_time(t *testing.T) {
	for _, faulty := range []bool{false, true} {
		if !bytes.Equal(ticketBytes(t, faulty), ticketBytes(t, faulty)) {
			t.Errorf("faulty %v: two runs differ", faulty)
		}
	}
}

func TestTicket_opens_without_a_finding(t *testing.T) {
	for _, faulty := range []bool{false, true} {
		data := ticketBytes(t, faulty)
		var c finding.Collector
		doc, err := pdf.Open(bytes.NewReader(data), int64(len(data)), pdf.Options{Sink: &c})
		if err != nil {
			t.Fatal(err)
		}
		if doc.NumPages() != 2 || len(c.Sorted()) != 0 {
			t.Errorf("faulty %v: %d pages, findings %v", faulty, doc.NumPages(), c.Sorted())
		}
	}
}

func TestJob_is_read_and_names_what_is_shipped(t *testing.T) {
	j, err := press.ReadJob("job.yaml", []byte(JobYAML()))
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := j.Find(); err != nil {
		t.Error(err)
	}
	if j.Finished == nil || float64(j.Finished.Width) != trimW || float64(j.Bleed) != bleed {
		t.Errorf("sizes are lost: %+v", j)
	}
}

func TestNebula_stays_under_the_pile_of_one_pass(t *testing.T) {
	px := nebula(120, 130, 5)
	for i := 0; i < len(px); i += 4 {
		if sum := int(px[i]) + int(px[i+1]) + int(px[i+2]) + int(px[i+3]); sum > 255*23/10 {
			t.Fatalf("pixel %d has %d %% of toner", i/4, sum*100/255)
		}
	}
}
