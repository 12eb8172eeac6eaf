package browser

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// patience is how long one step in the browser may take on a busy machine.
const patience = 120 * time.Second

// chromium is the one browser of the package, started when first asked for.
var chromium struct {
	once sync.Once
	ctx  context.Context
	stop []context.CancelFunc
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, stop := range chromium.stop {
		stop()
	}
	for _, f := range closers {
		f()
	}
	os.Exit(code)
}

// browser starts Chromium: software drawing, so that pictures are the same on every machine, and no network of its own.
func browser(t testing.TB) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("needs a browser")
	}
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("LAYDOWN_REQUIRE_ORACLES") == "1" {
			t.Fatal("Chromium is not installed")
		}
		t.Skip("Chromium is not installed")
	}
	chromium.once.Do(func() {
		flags := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
			chromedp.Flag("use-angle", "swiftshader"), chromedp.Flag("enable-unsafe-swiftshader", true), chromedp.Flag("disable-background-networking", true),
			chromedp.Flag("disable-component-update", true), chromedp.Flag("no-pings", true), chromedp.Flag("hide-scrollbars", true),
			// A busy machine is no reason to give up drawing.
			chromedp.Flag("disable-gpu-watchdog", true), chromedp.Flag("disable-gpu-process-crash-limit", true),
			chromedp.Flag("force-color-profile", "srgb"), chromedp.Flag("enable-precise-memory-info", true), chromedp.Flag("js-flags", "--expose-gc"))
		alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), flags...)
		ctx, stop := chromedp.NewContext(alloc)
		chromium.ctx, chromium.stop = ctx, []context.CancelFunc{stop, stopAlloc}
		chromium.err = chromedp.Do(ctx)
	})
	if chromium.err != nil {
		t.Fatalf("Chromium does not start: %v", chromium.err)
	}
	return chromium.ctx
}

// tab is one open page.
type tab struct {
	t   testing.TB
	ctx context.Context

	mu   sync.Mutex
	said []string // errors and exceptions of the page
}

// open shows an address in a new tab whose window has so many CSS pixels and so many pixels of the screen for each. What the page
// complains of on its console fails the test at its end.
func open(t testing.TB, url string, width, height int, ratio float64) *tab {
	t.Helper()
	ctx, stop := chromedp.NewContext(browser(t))
	p := &tab{t: t, ctx: ctx}
	// Tab and listener live as long as the context they are made with, so no deadline here.
	err := chromedp.Do(ctx)
	if err == nil {
		err = chromedp.Listen(ctx, p.hear)
	}
	if err == nil {
		_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	}
	if err == nil {
		_, err = chromedp.Call(ctx, runtime.Enable, cdp.Empty{})
	}
	if err != nil {
		t.Fatalf("no new tab: %v", err)
	}
	t.Cleanup(func() {
		for _, text := range p.complaints() {
			t.Errorf("the page says: %s", text)
		}
		stop()
	})
	p.do(chromedp.EmulateViewport(int64(width), int64(height), chromedp.EmulateScale(ratio)), chromedp.Navigate(url))
	return p
}

// hear collects what the page complains of.
func (p *tab) hear(e any) {
	var text string
	switch e := e.(type) {
	case *runtime.EventExceptionThrown:
		text = e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			text += " " + x.Description
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			for _, a := range e.Args {
				text += string(a.Value) + a.Description + " "
			}
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError {
			text = e.Entry.Text + " " + e.Entry.URL
		}
	}
	if text != "" {
		p.mu.Lock()
		p.said = append(p.said, text)
		p.mu.Unlock()
	}
}

// complaints takes what the page said so far.
func (p *tab) complaints() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	said := p.said
	p.said = nil
	return said
}

// do carries actions out.
func (p *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		p.t.Fatalf("in the browser: %v; the page says: %s", err, strings.Join(p.complaints(), "; "))
	}
}

// eval runs a script, waits for what it promises, and puts what it returns into out unless that is nil.
func (p *tab) eval(script string, out any) {
	p.t.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string]("(async () => {"+script+"\n})().then(v => JSON.stringify(v ?? null))", chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("in the browser: %v; the page says: %s", err, strings.Join(p.complaints(), "; "))
	}
	if out != nil {
		if err := json.Unmarshal([]byte(text), out); err != nil {
			p.t.Fatalf("the script gave %.200s: %v", text, err)
		}
	}
}

// shown is what a script that gives ImageData has drawn.
func (p *tab) shown(script string) *image.NRGBA {
	p.t.Helper()
	var got struct {
		Width, Height int
		Data          string
	}
	p.eval(`const of = await (async () => {`+script+`})()
		let text = ""
		for (let i = 0; i < of.data.length; i += 32768) text += String.fromCharCode(...of.data.subarray(i, i + 32768))
		return { Width: of.width, Height: of.height, Data: btoa(text) }`, &got)
	pix, err := base64.StdEncoding.DecodeString(got.Data)
	if err != nil || len(pix) != 4*got.Width*got.Height {
		p.t.Fatalf("a picture of %d x %d pixels with %d bytes: %v", got.Width, got.Height, len(pix), err)
	}
	return &image.NRGBA{Pix: pix, Stride: 4 * got.Width, Rect: image.Rect(0, 0, got.Width, got.Height)}
}

// keep writes pictures beside each other into the folder of the test's artifacts when the test fails.
func keep(t *testing.T, name string, pictures map[string]image.Image) {
	t.Helper()
	dir := t.ArtifactDir() // asked for before the clean-up is, which then comes before the folder goes
	t.Cleanup(func() {
		if !t.Failed() && os.Getenv("LAYDOWN_KEEP_PICTURES") == "" {
			return
		}
		if d := os.Getenv("LAYDOWN_KEEP_PICTURES"); d != "" {
			dir = d
		}
		for which, img := range pictures {
			file := filepath.Join(dir, fmt.Sprintf("%s-%s.png", name, which))
			f, err := os.Create(file)
			if err != nil {
				t.Error(err)
				continue
			}
			if err := png.Encode(f, img); err != nil {
				t.Error(err)
			}
			if err := f.Close(); err != nil {
				t.Error(err)
			}
			t.Logf("picture: %s", file)
		}
	})
}
