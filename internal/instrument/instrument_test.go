package instrument

import (
	"bytes"
	"strings"
	"sync"
	"testing"
)

func TestTimer_off_does_nothing(t *testing.T) {
	var timer *Timer
	timer.Start("x")()
	var b bytes.Buffer
	timer.Write(&b)
	if b.Len() != 0 {
		t.Error("a timer that is off prints")
	}
}

func TestTimer_adds_up_stages_from_many_goroutines(t *testing.T) {
	timer := NewTimer()
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() { timer.Start("paint")() })
	}
	wg.Wait()
	var b bytes.Buffer
	timer.Write(&b)
	if !strings.Contains(b.String(), "paint") || !strings.Contains(b.String(), "x20") {
		t.Errorf("got %q", b.String())
	}
}
