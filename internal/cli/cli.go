// Package cli is the command line: it reads flags, calls app, and is the only place that writes to
// the terminal. What is asked for goes to standard output, remarks and progress to standard error.
//
// Exit codes: 0 clean or done, 1 findings at or above --fail-on (or something left unseen), 2 could not do it.
package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"runtime/pprof"
	"slices"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"laydown/internal/app"
	"laydown/internal/finding"
	"laydown/internal/instrument"
)

// Exit codes.
const (
	exitClean    = 0
	exitFindings = 1
	exitCannot   = 2
)

// errFindings ends a command that did its work and found faults.
var errFindings = errors.New("findings")

type root struct {
	JSON       bool   `name:"json" help:"Write the result as JSON."`
	Timings    bool   `help:"Show at the end how long each stage took."`
	CPUProfile string `name:"cpuprofile" placeholder:"FILE" help:"Write a Go CPU profile."`
}

// commands are made anew for every command line, for which they hold the flags.
var commands = []struct {
	name, help string
	made       func() any
}{
	{"demo", "Draw the example job, a planetarium ticket with planted faults, and prepare it.", func() any { return &demoCmd{} }},
	{"prepare", "The main job: read, separate, check, look, plan the passes, write the report.", func() any { return &prepareCmd{} }},
	{"check", "Name every fault of the artwork, with place and remedy.", func() any { return &checkCmd{} }},
	{"plan", "Which toners in which pass, why, what fewer passes give up, and what it takes in toner, time and money.", func() any { return &planCmd{} }},
	{"mend", "Take faults out of the artwork, and prove that nothing else changed.", func() any { return &mendCmd{} }},
	{"assign", "Give objects of the artwork to a toner, and prove that nothing else changed.", func() any { return &assignCmd{} }},
	{"plates", "Write one plate per toner.", func() any { return &platesCmd{} }},
	{"sheets", "Lay the pages on the press's sheets: yield, alternatives, marks; write the imposed PDF.", func() any { return &sheetsCmd{} }},
	{"passes", "Write the artwork of each pass as a PDF, and prove that the passes make the whole.", func() any { return &passesCmd{} }},
	{"diff", "Compare the plates of two files.", func() any { return &diffCmd{} }},
	{"look", "Show the printed sheet on its stock as a picture.", func() any { return &lookCmd{} }},
	{"proof", "Write the proof a customer looks at and signs: looks, plates, layers, findings.", func() any { return &proofCmd{} }},
	{"inspect", "Look inside: page, display list, one pixel, operators, objects.", func() any { return &inspectCmd{} }},
	{"open", "Open artwork on the page: look at it, check it, mend it.", func() any { return &openCmd{} }},
	{"serve", "Serve the page on which artwork is looked at, checked and mended.", func() any { return &serveCmd{} }},
	{"handover", "Pack all a print provider needs into one archive, or check such an archive.", func() any { return &handoverCmd{} }},
	{"press", "Presses: list, show, schema.", func() any { return &pressCmd{} }},
	{"stock", "Stocks: list, show, schema.", func() any { return &stockCmd{} }},
	{"version", "Show the version.", func() any { return &versionCmd{} }},
}

// grammar adds the commands to a parser: only the one that args begin with, where they do. Reading the flags of all takes
// more time and memory than a small page.
func grammar(args []string) (options []kong.Option) {
	for _, c := range commands {
		if len(args) > 0 && args[0] == c.name {
			return []kong.Option{kong.DynamicCommand(c.name, c.help, "", c.made())}
		}
		options = append(options, kong.DynamicCommand(c.name, c.help, "", c.made()))
	}
	return options
}

// env is what a command gets besides its flags.
type env struct {
	ctx   context.Context
	out   io.Writer
	err   io.Writer
	json  bool
	timer *instrument.Timer
}

// Run carries out one command line and returns the exit code. The first interrupt lets the command
// tidy up and end, a second one kills it.
func Run(args []string, stdout, stderr io.Writer) int {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryAimed)
	}
	if os.Getenv("GOGC") == "" {
		collectLate()
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	return run(ctx, args, stdout, stderr)
}

// memoryAimed makes the collector work harder before the process grows past it; GOMEMLIMIT overrides it.
const memoryAimed = 600 << 20

// collectLate puts the first collection off until the heap has 6 MB instead of 4, which small pages never reach: a
// collection makes a megabyte of tables of its own. From then on the collector works as ever.
func collectLate() {
	debug.SetGCPercent(150)
	type first struct{ _ *byte }
	runtime.SetFinalizer(&first{}, func(*first) { debug.SetGCPercent(100) })
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) (code int) {
	defer func() {
		if v := recover(); v != nil {
			fmt.Fprintf(stderr, "laydown: internal fault: %v; please report it with the file\n%s", v, debug.Stack())
			code = exitCannot
		}
	}()
	var r root
	exited := -1
	switch {
	case len(args) == 0:
		args = []string{"--help"}
	case args[0] == "help":
		args = append(slices.Clone(args[1:]), "--help")
	}
	parser, err := kong.New(&r, append(grammar(args), kong.Name("laydown"), kong.Writers(stdout, stderr),
		kong.Exit(func(c int) { exited = c; panic(earlyExit{}) }),
		kong.Description("Reads artwork for a toner press with special toners as the press will, and tells the truth about the printed sheet."),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: false}))...)
	if err != nil {
		fmt.Fprintln(stderr, "laydown:", err)
		return exitCannot
	}
	kctx, err := parse(parser, args)
	if errors.Is(err, errEarly) {
		return exited
	}
	if err != nil {
		fmt.Fprintf(stderr, "laydown: %v; `laydown --help` lists the commands\n", err)
		return exitCannot
	}
	e := &env{ctx: ctx, out: stdout, err: stderr, json: r.JSON}
	if r.Timings {
		e.timer = instrument.NewTimer()
	}
	if r.CPUProfile != "" {
		f, err := os.Create(r.CPUProfile)
		if err != nil {
			fmt.Fprintf(stderr, "laydown: the profile cannot be written: %v; choose another name for --cpuprofile\n", err)
			return exitCannot
		}
		defer f.Close()
		if err := pprof.StartCPUProfile(f); err == nil {
			defer pprof.StopCPUProfile()
		}
	}
	err = kctx.Run(e)
	if e.timer != nil {
		e.timer.Write(stderr)
	}
	return exitCode(err, stderr, r.JSON, stdout)
}

type earlyExit struct{}

var errEarly = errors.New("help was shown")

// parse turns kong's exit after --help into an error.
func parse(p *kong.Kong, args []string) (c *kong.Context, err error) {
	defer func() {
		if v := recover(); v != nil {
			if _, ok := v.(earlyExit); !ok {
				panic(v)
			}
			err = errEarly
		}
	}()
	return p.Parse(args)
}

func exitCode(err error, stderr io.Writer, asJSON bool, stdout io.Writer) int {
	switch {
	case err == nil:
		return exitClean
	case errors.Is(err, errFindings):
		return exitFindings
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "laydown: stopped")
		return exitCannot
	}
	if asJSON {
		_ = json.NewEncoder(stdout).Encode(map[string]string{"error": err.Error()})
	}
	fmt.Fprintln(stderr, "laydown:", err)
	return exitCannot
}

// artworkFlags are what every command on an artwork takes.
type artworkFlags struct {
	File  string `arg:"" optional:"" help:"Artwork PDF; left out, the one the job names."`
	Press string `placeholder:"NAME" help:"Press: a shipped name or a YAML file. Without one every colourant of the file has a plate."`
	Stock string `placeholder:"NAME" help:"Stock: a shipped name or a YAML file."`
	Job   string `placeholder:"FILE" help:"Job file (YAML)."`
	passwordFlag
}

// passwordFlag opens encrypted artwork.
type passwordFlag struct {
	Password string `placeholder:"TEXT" help:"Password of the artwork, should it ask for one."`
}

// setup finds the definitions and the artwork's name.
func (f *artworkFlags) setup() (*app.Setup, string, error) {
	s, err := app.NewSetup(app.SetupOptions{Press: f.Press, Stock: f.Stock, Job: f.Job, Password: f.Password})
	if err != nil {
		return nil, "", err
	}
	file := f.File
	if file == "" && s.Job != nil {
		file = s.Job.Artwork
	}
	if file == "" {
		return nil, "", errors.New("no artwork was named; give a PDF file, or a job that names one with --job")
	}
	return s, file, nil
}

// failFlag is the level that makes the exit code 1.
type failFlag struct {
	FailOn string `name:"fail-on" enum:"note,warning,error" default:"warning" help:"Level of finding that makes the exit code 1: note, warning or error."`
}

func (f failFlag) severity() finding.Severity {
	var s finding.Severity
	if err := s.UnmarshalText([]byte(f.FailOn)); err != nil {
		panic(err) // kong's enum lets nothing else in
	}
	return s
}

func (e *env) writeJSON(v any) error {
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

type versionCmd struct{}

func (versionCmd) Run(e *env) error {
	if e.json {
		return e.writeJSON(map[string]string{"version": app.Version()})
	}
	_, err := fmt.Fprintln(e.out, "laydown", app.Version())
	return err
}

// plural writes "1 page", "3 pages".
func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, strings.TrimSuffix(word, "s"))
}
