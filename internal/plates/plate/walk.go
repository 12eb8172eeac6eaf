package plate

import "errors"

// PairSink takes the common rows of two pages from top to bottom. The bands have the same Y0 and Rows,
// each in the planes and the width of its own page; they must not be kept.
type PairSink interface {
	Begin(a, b Header) error
	Rows(a, b *Band) error
	End() error
}

// Walk runs two painters side by side and hands their rows on in pairs, so that neither page ever
// lies in memory: a painter waits while the other catches up. Bands may be cut differently. Rows that only
// one page has are not handed on. The error is a painter's or the sink's.
func Walk(a, b func(Sink) error, sink PairSink) error {
	pa, pb := startPainter(a), startPainter(b)
	err := walk(pa, pb, sink)
	pa.finish()
	pb.finish()
	return err
}

func walk(a, b *painter, sink PairSink) error {
	ha, err := a.header()
	if err != nil {
		return err
	}
	hb, err := b.header()
	if err != nil {
		return err
	}
	if err := sink.Begin(ha, hb); err != nil {
		return err
	}
	for y, end := 0, min(ha.Height, hb.Height); y < end; {
		if err := a.reach(y); err != nil {
			return err
		}
		if err := b.reach(y); err != nil {
			return err
		}
		next := min(a.band.Y0+a.band.Rows, b.band.Y0+b.band.Rows, end)
		if err := sink.Rows(a.rows(y, next), b.rows(y, next)); err != nil {
			return err
		}
		y = next
	}
	// A painter that is at its end may still fail; one with rows left is told to stop.
	for _, p := range []*painter{a, b} {
		if err := p.settle(min(ha.Height, hb.Height)); err != nil {
			return err
		}
	}
	return sink.End()
}

// errStopped tells a painter that no more of its page is wanted.
var errStopped = errors.New("plates: the rest of the page is not wanted")

// painter is a running painter and the Sink it paints into.
type painter struct {
	progress progress
	head     chan Header
	bands    chan *Band
	taken    chan struct{} // one for every band done with
	stop     chan struct{} // closed when no more is wanted
	done     chan struct{} // closed when the painter has ended
	err      error         // its error, after done

	of   Header
	band *Band // at hand; nil = none yet
}

func startPainter(paint func(Sink) error) *painter {
	p := &painter{head: make(chan Header), bands: make(chan *Band), taken: make(chan struct{}),
		stop: make(chan struct{}), done: make(chan struct{})}
	go func() {
		defer close(p.done)
		p.err = paint(p)
	}()
	return p
}

// Begin implements Sink.
func (p *painter) Begin(h Header) error {
	if err := p.progress.begin(h); err != nil {
		return err
	}
	return give(p, p.head, h)
}

// Band implements Sink; it returns when the band is no longer needed.
func (p *painter) Band(b *Band) error {
	if err := p.progress.band(b); err != nil {
		return err
	}
	if err := give(p, p.bands, b); err != nil {
		return err
	}
	select {
	case <-p.taken:
		return nil
	case <-p.stop:
		return errStopped
	}
}

// End implements Sink.
func (p *painter) End() error { return p.progress.end() }

func give[T any](p *painter, c chan<- T, v T) error {
	select {
	case c <- v:
		return nil
	case <-p.stop:
		return errStopped
	}
}

// header waits for the page's header.
func (p *painter) header() (Header, error) {
	select {
	case p.of = <-p.head:
		return p.of, nil
	case <-p.done:
		return p.of, p.ended()
	}
}

// reach makes the band at hand one that holds row y.
func (p *painter) reach(y int) error {
	if p.band != nil {
		if y < p.band.Y0+p.band.Rows {
			return nil
		}
		p.band = nil
		p.taken <- struct{}{} // the painter is in Band
	}
	select {
	case p.band = <-p.bands:
		return nil
	case <-p.done:
		return p.ended()
	}
}

// settle gives the last band back and, when the page ends at row end, waits for the painter to end.
func (p *painter) settle(end int) error {
	if p.of.Height > end {
		return nil
	}
	p.band = nil
	p.taken <- struct{}{}
	<-p.done
	return p.err
}

// ended is the error of a painter that ended before its page did.
func (p *painter) ended() error {
	if p.err != nil {
		return p.err
	}
	return errors.New("plates: a page ended before its last row")
}

// finish stops the painter and waits for it.
func (p *painter) finish() {
	close(p.stop)
	<-p.done
}

// rows is the part y0 <= y < y1 of the band at hand.
func (p *painter) rows(y0, y1 int) *Band {
	b := &Band{Y0: y0, Rows: y1 - y0, Planes: make([][]byte, len(p.band.Planes))}
	for i, plane := range p.band.Planes {
		if plane != nil {
			b.Planes[i] = plane[(y0-p.band.Y0)*p.of.Width : (y1-p.band.Y0)*p.of.Width]
		}
	}
	return b
}
