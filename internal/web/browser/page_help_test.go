package browser

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"laydown/internal/app"
	"laydown/internal/demo"
	"laydown/internal/web"
)

const pageToken = "token-of-the-page-tests"

// servePage starts the server with the page and gives the address of it without the token.
func servePage(t testing.TB) string {
	t.Helper()
	s, err := web.New(web.Options{Token: pageToken})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s.Handler())
	t.Cleanup(func() {
		h.CloseClientConnections()
		h.Close()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return h.URL
}

// openPage shows the page at its welcome. Nothing on it moves of itself.
func openPage(t testing.TB, address string, width, height int, dark bool) *tab {
	t.Helper()
	p := open(t, address+"/?key="+pageToken, width, height, 1)
	p.wear(dark)
	p.until(`document.body?.dataset.state`)
	return p
}

// wear shows the page light or dark. Nothing on it moves of itself.
func (p *tab) wear(dark bool) {
	p.t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	p.do(func(ctx context.Context, _ *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
			{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
		return chromedp.Void{}, err
	})
}

// longWait is for what the server works on while other tests keep the machine busy.
const longWait = 90 * time.Second

// until waits for a condition of the page: a JavaScript expression.
func (p *tab) until(condition string) {
	p.t.Helper()
	for end := time.Now().Add(longWait); ; time.Sleep(60 * time.Millisecond) {
		var ok bool
		p.eval("return !!("+condition+")", &ok)
		if ok {
			return
		}
		if time.Now().After(end) {
			var text string
			p.eval("return document.querySelector('#notes').textContent + ' | ' + document.querySelector('#now').innerText.slice(0, 400)", &text)
			p.t.Fatalf("waited in vain for %s; the page shows: %s", condition, text)
		}
	}
}

// click presses what a selector finds, once it can be seen.
func (p *tab) click(selector string) {
	p.t.Helper()
	p.until(fmt.Sprintf("document.querySelector(%q)?.checkVisibility() && !document.querySelector(%q).disabled", selector, selector))
	p.eval(fmt.Sprintf("document.querySelector(%q).click()", selector), nil)
}

// text is what an element says.
func (p *tab) text(selector string) string {
	p.t.Helper()
	var s string
	p.eval(fmt.Sprintf("return document.querySelector(%q)?.innerText ?? ''", selector), &s)
	return s
}

// drop lets files fall on the page.
func (p *tab) drop(files map[string][]byte) {
	p.t.Helper()
	coded := map[string]string{}
	for name, data := range files {
		coded[name] = base64.StdEncoding.EncodeToString(data)
	}
	list, err := json.Marshal(coded)
	if err != nil {
		p.t.Fatal(err)
	}
	p.eval(`const all = new DataTransfer()
		for (const [name, text] of Object.entries(`+string(list)+`))
			all.items.add(new File([Uint8Array.from(atob(text), c => c.charCodeAt(0))], name, { type: name.endsWith(".pdf") ? "application/pdf" : "" }))
		dispatchEvent(new DragEvent("drop", { dataTransfer: all, bubbles: true, cancelable: true }))`, nil)
}

// fetched is a file the page links to.
func (p *tab) fetched(selector string) []byte {
	p.t.Helper()
	var text string
	p.eval(fmt.Sprintf(`const b = new Uint8Array(await (await fetch(document.querySelector(%q).href)).arrayBuffer())
		let s = ""
		for (let i = 0; i < b.length; i += 32768) s += String.fromCharCode(...b.subarray(i, i + 32768))
		return btoa(s)`, selector), &text)
	b, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		p.t.Fatal(err)
	}
	return b
}

// ticketPDF is the example ticket.
func ticketPDF(t testing.TB, faulty bool) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := demo.WriteTicket(&b, faulty); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// checkTicket checks a ticket by the example's job.
func checkTicket(t *testing.T, pdf []byte) *app.Outcome {
	t.Helper()
	dir := t.TempDir()
	file, job := filepath.Join(dir, "ticket.pdf"), filepath.Join(dir, "job.yaml")
	for name, data := range map[string][]byte{file: pdf, job: []byte(demo.JobYAML())} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	setup, err := app.NewSetup(app.SetupOptions{Job: job})
	if err != nil {
		t.Fatal(err)
	}
	o, err := app.Check(t.Context(), app.CheckRequest{File: file, Setup: setup})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// shows that the sheet is on the bench and checked.
const checked = `document.body?.dataset.state === "bench" && document.querySelector(".count")`

// quote makes a JavaScript string.
func quote(s string) string {
	b, _ := json.Marshal(s) // strings always can be written
	return string(b)
}
