package mq

import (
	"bytes"
	"encoding/hex"
	"testing"
)

// The test sequence of ITU-T T.88, H.2: one context, 256 decisions.
func TestSequenceOfTheStandard(t *testing.T) {
	data, _ := hex.DecodeString("84c73bfce1a1430402200000410dbb86f4317fff88ff37471adb6adfffac")
	want, _ := hex.DecodeString("00020051000000c00352872aaaaaaaaa82c02000fcd79ef6bf7fed904f46a3bf")
	var d Decoder
	d.Init(data)
	var cx Context
	got := make([]byte, len(want))
	for i := range got {
		for range 8 {
			got[i] = got[i]<<1 | byte(d.Bit(&cx))
		}
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%x", got)
	}
	if d.Overrun() > 4 {
		t.Errorf("%d bytes beyond the end", d.Overrun())
	}
}

func TestOverrunGrowsWhereThereIsNoData(t *testing.T) {
	var d Decoder
	d.Init(nil)
	cx := make([]Context, 7)
	for i := range 10_000 {
		d.Bit(&cx[i%7])
	}
	if d.Overrun() < 8 {
		t.Errorf("%d", d.Overrun())
	}
}
