package app

import (
	"bufio"
	"io"
	"os"

	"laydown/internal/handover/starter"
)

// StarterRequest asks for the colours of a press as a document to start from.
type StarterRequest struct {
	Press string // a shipped name or a file
	Out   string // PDF with every colourant and mix
	Sheet string // PDF: the set-up sheet for designers; "" = not wanted
}

// StarterResult tells what was written.
type StarterResult struct {
	Press string `json:"press"`
	Out   string `json:"out"`
	Sheet string `json:"sheet,omitempty"`
	*starter.Contents
}

func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// WriteStarter writes the starter of a press, and its set-up sheet where wanted. When one cannot be made, none is left behind.
func WriteStarter(req StarterRequest) (res *StarterResult, err error) {
	p, err := FindPress(req.Press)
	if err != nil {
		return nil, err
	}
	for _, out := range []string{req.Out, req.Sheet} {
		if out == "" {
			continue
		}
		if sameFile(req.Press, out) {
			return nil, cannot(nil, "choose another name", "%s is the press definition itself and is not overwritten", out)
		}
		if err := singleOutput("", out); err != nil {
			return nil, err
		}
	}
	if req.Out == req.Sheet {
		return nil, cannot(nil, "name another file with --sheet", "%s cannot be both the starter and the set-up sheet", req.Out)
	}
	s := &Setup{Press: p}
	intent, err := s.intent()
	if err != nil {
		return nil, err
	}
	var made results
	defer func() {
		if err != nil {
			made.undo()
		}
	}()
	res = &StarterResult{Press: p.Title, Out: req.Out, Sheet: req.Sheet}
	err = writeFile(req.Out, func(w io.Writer) (err error) {
		b := bufio.NewWriter(w)
		if res.Contents, err = starter.Write(b, p, intent); err != nil {
			return err
		}
		return b.Flush()
	})
	if err != nil || req.Sheet == "" {
		return res, err
	}
	made.add(req.Out)
	err = writeFile(req.Sheet, func(w io.Writer) error {
		b := bufio.NewWriter(w)
		if err := starter.WriteSheet(b, p, intent); err != nil {
			return err
		}
		return b.Flush()
	})
	return res, err
}
