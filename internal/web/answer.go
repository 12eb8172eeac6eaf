package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"laydown/internal/app"
	"laydown/internal/press"
)

// fault is a request that could not be carried out, as it is answered.
type fault struct {
	status int
	What   string `json:"what"`
	Remedy string `json:"remedy,omitempty"`
	Line   int    `json:"line,omitempty"`
	Column int    `json:"column,omitempty"`
	// Code names what a page acts on: "password".
	Code string `json:"code,omitempty"`
	// Detail is for whoever mends the program: where it failed.
	Detail string `json:"detail,omitempty"`
	// More are further faults of the same text.
	More []*fault `json:"more,omitempty"`
}

func (f *fault) Error() string {
	if f.Remedy != "" {
		return f.What + "; " + f.Remedy
	}
	return f.What
}

// refuse makes a fault.
func refuse(status int, what, remedy string) *fault {
	return &fault{status: status, What: what, Remedy: remedy}
}

// faultOf tells what to answer to an error: of the request where it is one a person can mend, else of the server.
func faultOf(err error) *fault {
	var f *fault
	var definition *press.Error
	var missing *press.NotFoundError
	var cannot *app.CannotError
	switch {
	case errors.As(err, &f):
		return f
	case errors.As(err, &definition):
		return &fault{status: http.StatusUnprocessableEntity, What: definition.What, Remedy: definition.Remedy, Line: definition.Line, Column: definition.Col}
	case errors.As(err, &missing):
		return refuse(http.StatusUnprocessableEntity, fmt.Sprintf("no %s is named %q", missing.What, missing.Name), missing.Remedy)
	case errors.As(err, &cannot):
		remedy := cannot.Remedy
		if own, ok := pageRemedies[remedy]; ok {
			remedy = own
		} else if strings.Contains(remedy, " --") {
			remedy = "on the command line: " + remedy
		}
		return refuse(http.StatusUnprocessableEntity, inside().ReplaceAllString(cannot.What, "a file of the server"), remedy)
	case errors.Is(err, app.ErrBenchClosed):
		return errGone
	case errors.Is(err, context.Canceled):
		return refuse(http.StatusServiceUnavailable, "the work was stopped", "ask again")
	}
	what, detail, _ := strings.Cut(inside().ReplaceAllString(err.Error(), "a file of the server"), "\n")
	var path *fs.PathError
	if errors.As(err, &path) {
		what = fmt.Sprintf("a file cannot be kept: %v", path.Err)
	}
	f = refuse(http.StatusInternalServerError, what, "report this with what you did")
	f.Detail = detail
	return f
}

// pageRemedies are for remedies that name flags: what whoever sits before the page can do.
var pageRemedies = map[string]string{
	"choose a lower --dpi":                              "the page of the program makes such large sheets in one resolution alone; the command line takes a lower one",
	"name one with --press or --job":                    "choose a press for the artwork",
	"name one with --press or a job with --job":         "choose a press for the artwork",
	"name one with --stock or a job with --job":         "choose a stock for the artwork",
	"name some of the pages with --pages":               "plan a shorter document, or some of its pages on the command line",
	"check the artwork with `laydown check`":            "look at what was found",
	"choose another folder with --out or free the name": "close artworks, or free space in the folder for temporary files",
}

// inside matches paths in private folders, which are nobody's business.
var inside = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\S*` + folderPattern + `[^\s;:,]*`) })

// call makes a handler of a function that answers itself or tells what is wrong.
func call(f func(http.ResponseWriter, *http.Request) error) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := f(w, r); err != nil {
			sayFault(w, faultOf(err))
		}
	})
}

func sayFault(w http.ResponseWriter, f *fault) {
	_ = answer(w, f.status, map[string]any{"error": f})
}

// busy refuses what would be done at another time.
func busy(w http.ResponseWriter, what string) error {
	w.Header().Set("Retry-After", "1")
	return refuse(http.StatusTooManyRequests, what, "ask again in a while")
}

// answer sends v as JSON. It is worked out before the first byte goes, so that a value that cannot be written is an error.
func answer(w http.ResponseWriter, status int, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return err
	}
	sendBytes(w, status, "application/json", b.Bytes())
	return nil
}

// sendBytes sends what was worked out, which may have taken long.
func sendBytes(w http.ResponseWriter, status int, kind string, data []byte) {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(usualTimes.answer))
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	w.WriteHeader(status)
	_, _ = w.Write(data) // whoever asked may have gone
}
