package app

import (
	"bytes"
	"context"
	"io"
	"path/filepath"

	"laydown/internal/demo"
	"laydown/internal/finding"
	"laydown/internal/instrument"
)

// DemoRequest asks for the example job.
type DemoRequest struct {
	Out      string
	FailOn   finding.Severity
	Progress Progress
	Timer    *instrument.Timer
}

// Example is the artwork of the example job, sound or faulty, and the text of its job.
func Example(faulty bool) (pdf []byte, job string, err error) {
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, faulty); err != nil {
		return nil, "", err
	}
	return b.Bytes(), demo.JobYAML(), nil
}

// Demo writes the example artwork and its job, and prepares the faulty ticket.
func Demo(ctx context.Context, req DemoRequest) (*Outcome, error) {
	var made results
	if err := made.folder(filepath.Join(req.Out, "artwork")); err != nil {
		return nil, err
	}
	o, err := demoIn(ctx, req, &made)
	if err != nil {
		made.undo()
	}
	return o, err
}

func demoIn(ctx context.Context, req DemoRequest, made *results) (*Outcome, error) {
	for name, faulty := range map[string]bool{"ticket.pdf": false, "ticket-faulty.pdf": true} {
		pdf, _, err := Example(faulty)
		if err != nil {
			return nil, err
		}
		file := filepath.Join(req.Out, "artwork", name)
		if err := writeFile(file, func(w io.Writer) error { _, err := w.Write(pdf); return err }); err != nil {
			return nil, err
		}
		made.add(file)
	}
	job := filepath.Join(req.Out, "job.yaml")
	if err := writeFile(job, func(w io.Writer) error { _, err := io.WriteString(w, demo.JobYAML()); return err }); err != nil {
		return nil, err
	}
	made.add(job)
	setup, err := NewSetup(SetupOptions{Job: job})
	if err != nil {
		return nil, err
	}
	return Prepare(ctx, PrepareRequest{File: filepath.Join(req.Out, "artwork", "ticket-faulty.pdf"), Setup: setup, Out: req.Out,
		DPI: DefaultDPI, FailOn: req.FailOn, Progress: req.Progress, Timer: req.Timer})
}
