package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
)

// Exit codes.
const (
	exitClean    = 0 // all is well
	exitProblems = 1 // the mapping, the site or the records have problems, or the work failed
	exitUsage    = 2 // the command was called wrongly
)

// cli is the command line.
type cli struct {
	Init    initCmd        `cmd:"" help:"Write a small, complete site to begin from: the demo collection."`
	Check   checkCmd       `cmd:"" help:"Compile the mappings, read every record, build and validate every document."`
	Export  exportCmd      `cmd:"" help:"Write the documents as JSON-LD, N-Triples, N-Quads, Turtle or RDF/XML."`
	Publish publishCmd     `cmd:"" help:"Write the documents into the store from which serve answers."`
	History historyCmd     `cmd:"" help:"List the publications, or the versions of a document and what changed between any two."`
	Push    pushCmd        `cmd:"" help:"Copy what is published into an RDF store, and later what has changed."`
	Serve   serveCmd       `cmd:"" help:"Serve the store over HTTP."`
	Explain explainCmd     `cmd:"" help:"Show for every statement of a document the mapping line and the cell it came from."`
	Concord concordanceCmd `cmd:"" name:"concordance" help:"Work out which catalogue entry each line of an order list meant, and what is left of it."`
	Read    readCmd        `cmd:"" help:"Try what the readers make of the words of a cell: dates, measures, money, makers, counts."`
	Rules   rulesCmd       `cmd:"" help:"List the rules that sites, mappings and documents are checked against."`
	Pattern patternCmd     `cmd:"" name:"patterns" help:"List the patterns of the library with their holes, or print one."`

	Version kong.VersionFlag `help:"Print the version and stop."`
}

// app is what every command is given.
type app struct {
	ctx    context.Context
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	now    func() time.Time // nil for the clock
}

// time is the time by which it is judged what is public.
func (a *app) time() time.Time {
	if a.now != nil {
		return a.now()
	}
	return time.Now()
}

// failure is an error with an exit code. An empty message says that all has been
// said already.
type failure struct {
	code int
	msg  string
}

func (f *failure) Error() string { return f.msg }

// problems ends a command whose problems have been printed.
func problems() error { return &failure{code: exitProblems} }

func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	var c cli
	exited := -1
	k, err := kong.New(&c, kong.Name("ropewalk"),
		kong.Description("Ropewalk turns a museum's object records into linked data that aggregators harvest and researchers cite: it maps exports to CIDOC CRM (Linked Art 1.0), checks every statement, and serves the result over HTTP."),
		kong.Writers(stdout, stderr), kong.Exit(func(code int) { exited = code }), kong.UsageOnError(),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Vars{"version": version(), "workers": fmt.Sprint(runtime.GOMAXPROCS(0))})
	if err != nil {
		fmt.Fprintln(stderr, "ropewalk:", err)
		return exitUsage
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	kctx, err := k.Parse(args)
	if exited >= 0 { // --help and --version
		return exited
	}
	if err != nil {
		fmt.Fprintf(stderr, "ropewalk: %s\n", usageError(err))
		return exitUsage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err = kctx.Run(&app{ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr})
	if err == nil {
		return exitClean
	}
	code := exitProblems
	var f *failure
	if errors.As(err, &f) {
		code = f.code
	}
	if msg := err.Error(); msg != "" {
		fmt.Fprintln(stderr, "ropewalk:", msg)
	}
	return code
}

// usageError says what is wrong with a command line, and where help is.
func usageError(err error) string {
	msg, help := err.Error(), "Run \"ropewalk --help\" for the commands and their flags."
	var pe *kong.ParseError
	if errors.As(err, &pe) && pe.Context != nil && pe.Context.Selected() != nil {
		name := pe.Context.Selected().Name
		help = fmt.Sprintf("Run \"ropewalk %s --help\" for its flags.", name)
		if rest, ok := strings.CutPrefix(msg, "expected \""); ok {
			what := map[string]string{"<site>": "the folder of a site", "<dir>": "the folder to write", "<id>": "the document's IRI, or its path below the base"}
			var want []string
			for _, arg := range strings.Fields(strings.TrimSuffix(rest, "\"")) {
				want = append(want, what[arg])
			}
			msg = fmt.Sprintf("%s wants %s", name, strings.Join(want, ", and "))
		}
	}
	return msg + "\n" + help
}

func version() string {
	if bi, ok := debug.ReadBuildInfo(); ok && bi.Main.Version != "" {
		return bi.Main.Version
	}
	return "(devel)"
}
