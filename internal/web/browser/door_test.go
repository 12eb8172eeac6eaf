package browser

import (
	"context"
	"net"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"laydown/internal/web"
)

// The door is a file that leads to the server: the cookie it is given there must go along with all that follows, though a page of
// another site began it.
func TestDoorLeadsToThePage(t *testing.T) {
	browser(t)
	s, err := web.New(web.Options{Temp: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	door, err := s.Door(s.Address(l.Addr()))
	if err != nil {
		t.Fatal(err)
	}
	p := open(t, "file://"+door, 800, 600, 1)
	p.do(chromedp.WaitReady(`link[href="/app.css"]`))
	var got struct {
		Href, Cookie string
		Status       int
	}
	p.eval(`const r = await fetch("/api/state"); return {Href: location.href, Status: r.status, Cookie: document.cookie}`, &got)
	if got.Href != "http://"+l.Addr().String()+"/" || got.Status != 200 {
		t.Errorf("the door led to %s, which answers %d", strings.ReplaceAll(got.Href, s.Token(), "TOKEN"), got.Status)
	}
	if got.Cookie != "" {
		t.Errorf("scripts of the page can read the cookie %s", got.Cookie)
	}
}
