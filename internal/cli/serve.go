package cli

import (
	"fmt"
	"net"

	"laydown/internal/web"
)

type serveCmd struct {
	Listen string `default:"127.0.0.1:0" placeholder:"HOST:PORT" help:"Where to listen; port 0 takes a free one (${default})."`
	UI     string `name:"ui" hidden:"" placeholder:"DIR" help:"Sources of the page, bundled anew for every request."`
}

func (c *serveCmd) Run(e *env) error {
	s, err := web.New(web.Options{Dir: c.UI})
	if err != nil {
		return err
	}
	defer s.Close()
	l, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return fmt.Errorf("nothing can listen at %s: %v; choose another port with --listen", c.Listen, err)
	}
	fmt.Fprintln(e.out, s.Address(l.Addr()))
	return s.Serve(e.ctx, l)
}
