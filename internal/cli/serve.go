package cli

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"runtime"
	"strings"

	"laydown/internal/web"
)

// serveFlags are what every command takes that serves the page.
type serveFlags struct {
	Listen    string   `default:"127.0.0.1:0" placeholder:"HOST:PORT" help:"Where to listen; port 0 takes a free one (${default})."`
	AllowHost []string `name:"allow-host" sep:"none" placeholder:"NAME" help:"A name besides those of this machine by which the page may be called; needed to listen to other machines. Nothing is encrypted on the way."`
	MaxUpload int      `name:"max-upload" default:"512" placeholder:"MB" help:"Largest file taken, in MB (${default})."`
	UI        string   `name:"ui" hidden:"" placeholder:"DIR" help:"Sources of the page, bundled anew for every request."`
}

// server makes the server and takes hold of its address, so that both are known to work before anything else is done.
func (f *serveFlags) server() (*web.Server, net.Listener, error) {
	if f.MaxUpload < 1 || f.MaxUpload > 4096 {
		return nil, nil, fmt.Errorf("--max-upload %d makes no sense; choose 1 to 4096 MB", f.MaxUpload)
	}
	var hosts []string
	for _, h := range f.AllowHost {
		if h == "" || strings.ContainsAny(h, ":/* ") {
			return nil, nil, fmt.Errorf("--allow-host %q is no host name; give it without port and path", h)
		}
		hosts = append(hosts, strings.ToLower(h))
	}
	at, err := net.ResolveTCPAddr("tcp", f.Listen)
	if err != nil {
		return nil, nil, fmt.Errorf("--listen %s cannot be understood: %v; write it as 127.0.0.1:8000", f.Listen, err)
	}
	if !at.IP.IsLoopback() && len(hosts) == 0 {
		return nil, nil, fmt.Errorf("at %s other machines could reach the page; listen at 127.0.0.1, or name with --allow-host by what name they may", f.Listen)
	}
	l, err := net.ListenTCP("tcp", at)
	if err != nil {
		return nil, nil, fmt.Errorf("nothing can listen at %s: %v; choose another port with --listen", f.Listen, err)
	}
	s, err := web.New(web.Options{Hosts: hosts, Dir: f.UI, MaxUpload: int64(f.MaxUpload) << 20})
	if err != nil {
		l.Close()
		return nil, nil, err
	}
	return s, l, nil
}

type serveCmd struct{ serveFlags }

func (c *serveCmd) Run(e *env) (err error) {
	s, l, err := c.server()
	if err != nil {
		return err
	}
	defer closing(s, &err)
	if err := e.tellAddress(s.Address(l.Addr())); err != nil {
		return err
	}
	return s.Serve(e.ctx, l)
}

// closing closes the server at the end of a command.
func closing(s *web.Server, err *error) {
	if e := s.Close(); *err == nil {
		*err = e
	}
}

func (e *env) tellAddress(address string) error {
	if e.json {
		return e.writeJSON(map[string]string{"address": address})
	}
	_, err := fmt.Fprintln(e.out, address)
	return err
}

type openCmd struct {
	artworkFlags
	serveFlags
	NoBrowser bool `name:"no-browser" help:"Only print the address."`
}

func (c *openCmd) Run(e *env) (err error) {
	if c.File == "" && c.Job == "" {
		return fmt.Errorf("no artwork was named; give a PDF file, or a job that names one with --job")
	}
	s, l, err := c.server()
	if err != nil {
		return err
	}
	defer closing(s, &err)
	if err := s.OpenFile(web.OpenRequest{File: c.File, Press: c.Press, Stock: c.Stock, Job: c.Job, Password: c.Password}); err != nil {
		l.Close()
		return err
	}
	address := s.Address(l.Addr())
	if err := e.tellAddress(address); err != nil {
		l.Close()
		return err
	}
	if !c.NoBrowser && !e.json && isTerminal(e.out) {
		showInBrowser(s, address)
	}
	return s.Serve(e.ctx, l)
}

// showInBrowser asks the system to show the page, where it has a program for that. The address stands on the terminal in any case.
func showInBrowser(s *web.Server, address string) {
	program := "xdg-open"
	switch runtime.GOOS {
	case "darwin":
		program = "open"
	case "windows":
		program = "explorer"
	default:
		if os.Getenv("DISPLAY") == "" && os.Getenv("WAYLAND_DISPLAY") == "" {
			return // it would start a browser inside this terminal
		}
	}
	path, err := exec.LookPath(program)
	if err != nil {
		return
	}
	door, err := s.Door(address)
	if err != nil {
		return
	}
	cmd := exec.Command(path, door)
	if cmd.Start() == nil {
		go func() { _ = cmd.Wait() }()
	}
}
