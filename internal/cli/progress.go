package cli

import (
	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"

	"laydown/internal/app"
)

// progress shows a bar on long work when standard error is a terminal and the answer is for people;
// the returned function ends it.
func (e *env) progress() (app.Progress, func()) {
	if e.json || !isTerminal(e.err) {
		return nil, func() {}
	}
	p := mpb.New(mpb.WithOutput(e.err), mpb.WithWidth(40))
	var bar *mpb.Bar
	tell := func(what string, done, total int) {
		if bar == nil {
			bar = p.AddBar(int64(total), mpb.BarRemoveOnComplete(),
				mpb.PrependDecorators(decor.Name(what+" "), decor.CountersNoUnit("%d of %d")))
		}
		bar.SetTotal(int64(total), false)
		bar.SetCurrent(int64(done))
	}
	return tell, func() {
		if bar != nil {
			bar.Abort(true)
		}
		p.Wait()
	}
}
