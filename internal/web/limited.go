package web

import (
	"net"
	"sync"
)

// limited is a listener that holds only so many connections at a time; others wait to be taken.
type limited struct {
	net.Listener
	seats chan struct{}
	done  chan struct{}
	once  sync.Once
}

func newLimited(l net.Listener, most int) *limited {
	return &limited{Listener: l, seats: make(chan struct{}, most), done: make(chan struct{})}
}

func (l *limited) Accept() (net.Conn, error) {
	select {
	case l.seats <- struct{}{}:
	case <-l.done:
		return nil, net.ErrClosed
	}
	c, err := l.Listener.Accept()
	if err != nil {
		<-l.seats
		return nil, err
	}
	return &seated{Conn: c, l: l}, nil
}

func (l *limited) Close() error {
	l.once.Do(func() { close(l.done) })
	return l.Listener.Close()
}

// seated is a connection that gives its seat back.
type seated struct {
	net.Conn
	l    *limited
	once sync.Once
}

func (c *seated) Close() error {
	c.once.Do(func() { <-c.l.seats })
	return c.Conn.Close()
}
