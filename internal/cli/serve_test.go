package cli

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"laydown/internal/demo"
	"laydown/internal/press"
)

// served runs a command that serves, and gives the address it prints and a function that interrupts it and gives the exit code.
func served(t *testing.T, args ...string) (address string, end func() int) {
	t.Helper()
	ctx, interrupt := context.WithCancel(t.Context())
	out, w := io.Pipe()
	code := make(chan int, 1)
	var said strings.Builder
	go func() {
		code <- run(ctx, args, w, &said)
		w.Close()
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("%v: %s", err, said.String())
	}
	return strings.TrimSpace(line), func() int {
		interrupt()
		select {
		case c := <-code:
			if said.Len() > 0 {
				t.Errorf("it said %s", said.String())
			}
			return c
		case <-time.After(20 * time.Second):
			t.Fatal("it does not end")
			return -1
		}
	}
}

func TestOpen_serves_the_artwork_until_it_is_interrupted(t *testing.T) {
	temp, dir := t.TempDir(), t.TempDir()
	t.Setenv("TMPDIR", temp)
	yaml, _ := press.ShippedPress("two-set")
	for name, data := range map[string][]byte{
		"sound.pdf": ticket(t, false), "own.yaml": yaml,
		"job.yaml": []byte(strings.NewReplacer("artwork/ticket.pdf", "sound.pdf", "press: "+demo.PressName, "press: ./own.yaml").Replace(demo.JobYAML())),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	address, end := served(t, "open", "--job", filepath.Join(dir, "job.yaml"), "--no-browser")
	at, key, ok := strings.Cut(address, "/?key=")
	if !ok || !strings.HasPrefix(at, "http://127.0.0.1:") || len(key) < 20 {
		t.Fatalf("the address is %s", address)
	}
	req, err := http.NewRequest("GET", at+"/api/state", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+key)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"name":"sound.pdf"`, `"pages":2`, `"press":"draft-1"`, `"id":"draft-1"`, `"stock":"` + demo.StockName + `"`} {
		if !strings.Contains(string(b), want) {
			t.Errorf("%s is not in %s", want, b)
		}
	}
	if list, _ := os.ReadDir(temp); len(list) != 1 {
		t.Errorf("the folder for temporary files holds %v", list)
	}
	if code := end(); code != exitClean {
		t.Errorf("exit code %d", code)
	}
	if list, _ := os.ReadDir(temp); len(list) != 0 {
		t.Errorf("%v was left behind", list)
	}
}
