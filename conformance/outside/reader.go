package outside

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/knakk/rdf"
)

// Syntax is a way of writing RDF down.
type Syntax string

// The syntaxes.
const (
	NTriples Syntax = "ntriples"
	NQuadsSy Syntax = "nquads"
	Turtle   Syntax = "turtle"
	RDFXML   Syntax = "rdfxml"
	JSONLD   Syntax = "jsonld"
)

// Request is a text to be read, with the IRI that relative references start from.
type Request struct {
	Syntax Syntax
	Base   string
	Text   []byte
}

// Answer is what a reader made of a request.
type Answer struct {
	Quads []Quad
	Err   error
}

// Reader is a program or library, not ours, that reads RDF.
type Reader struct {
	Name     string
	Syntaxes []Syntax
	read     func(reqs []Request) []Answer
	rewrites Syntax // see RewritesNumbers
}

// Reads reports whether the reader knows a syntax.
func (r *Reader) Reads(s Syntax) bool { return slices.Contains(r.Syntaxes, s) }

// RewritesNumbers reports whether the reader is known to hand on the numbers of a
// syntax otherwise than they are written: compare with [NumbersByValue] then. The
// tests prove that it still does.
func (r *Reader) RewritesNumbers(s Syntax) bool { return r.rewrites == s }

// Read reads many texts and gives one answer for each, in order.
func (r *Reader) Read(reqs []Request) []Answer { return r.read(reqs) }

// Readers are all independent readers. A program that is not installed ends the
// test as [Missing] does.
func Readers(t testing.TB) []*Reader {
	return []*Reader{Knakk(), N3(t), JSONLDJS(t), RDFLib(t), Rapper(t)}
}

// Knakk is the Go library github.com/knakk/rdf.
func Knakk() *Reader {
	return &Reader{Name: "knakk", Syntaxes: []Syntax{NTriples, NQuadsSy, Turtle, RDFXML}, read: func(reqs []Request) []Answer {
		out := make([]Answer, len(reqs))
		for i, r := range reqs {
			out[i] = knakkRead(r)
		}
		return out
	}}
}

func knakkRead(r Request) (a Answer) {
	defer func() {
		if p := recover(); p != nil {
			a.Err = fmt.Errorf("panic: %v", p)
		}
	}()
	if r.Syntax == NQuadsSy {
		dec := rdf.NewQuadDecoder(bytes.NewReader(r.Text), rdf.NQuads)
		quads, err := dec.DecodeAll()
		for _, q := range quads {
			k := Quad{S: knakkTerm(q.Subj), P: knakkTerm(q.Pred), O: knakkTerm(q.Obj)}
			if q.Ctx != dec.DefaultGraph {
				k.G = knakkTerm(q.Ctx)
			}
			a.Quads = append(a.Quads, k)
		}
		a.Err = err
		return a
	}
	format := map[Syntax]rdf.Format{NTriples: rdf.NTriples, Turtle: rdf.Turtle, RDFXML: rdf.RDFXML}[r.Syntax]
	dec := rdf.NewTripleDecoder(bytes.NewReader(r.Text), format)
	if r.Base != "" && r.Syntax == Turtle {
		base, err := rdf.NewIRI(r.Base)
		if err != nil {
			return Answer{Err: err}
		}
		if err := dec.SetOption(rdf.Base, base); err != nil {
			return Answer{Err: err}
		}
	}
	triples, err := dec.DecodeAll()
	for _, q := range triples {
		a.Quads = append(a.Quads, Quad{S: knakkTerm(q.Subj), P: knakkTerm(q.Pred), O: knakkTerm(q.Obj)})
	}
	a.Err = err
	return a
}

func knakkTerm(t rdf.Term) Term {
	switch t := t.(type) {
	case rdf.IRI:
		return Term{Kind: IRI, Value: t.String()}
	case rdf.Blank:
		return Term{Kind: Blank, Value: strings.TrimPrefix(t.String(), "_:")}
	case rdf.Literal:
		return Term{Kind: Literal, Value: t.String(), Datatype: t.DataType.String(), Language: t.Lang()}
	}
	return Term{}
}

// N3 is the npm package n3.
func N3(t testing.TB) *Reader {
	return piped("n3", []Syntax{NTriples, NQuadsSy, Turtle}, node(t, "read_n3.mjs"))
}

// JSONLDJS is the npm package jsonld, with the published contexts.
func JSONLDJS(t testing.TB) *Reader {
	args := []string{LinkedArtContext, Shared(t, "standards", "linked-art", "context", "linked-art.json")}
	return piped("jsonld", []Syntax{JSONLD}, node(t, "read_jsonld.mjs", args...))
}

// RDFLib is Debian's rdflib.
func RDFLib(t testing.TB) *Reader {
	const python = "/usr/bin/python3" // Debian's, which sees Debian's packages
	if exec.Command(python, "-c", "import rdflib").Run() != nil {
		Missing(t, "rdflib for "+python+" (Debian package python3-rdflib)")
	}
	dir := filepath.Join(Room(t), "outside")
	r := piped("rdflib", []Syntax{NTriples, NQuadsSy, Turtle, RDFXML}, start(t, dir, python, "read_rdflib.py"))
	r.rewrites = Turtle // 4.5E2 without quotation marks comes back as "450.0"
	return r
}

// Node is where Node is. The packages must be installed.
func Node(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("node")
	if err != nil {
		Missing(t, "node")
	}
	if _, err := os.Stat(filepath.Join(Room(t), "node_modules", ".package-lock.json")); err != nil {
		Missing(t, "the npm packages of conformance/package.json (run npm ci there)")
	}
	return path
}

// node starts a script of this folder.
func node(t testing.TB, script string, args ...string) *process {
	t.Helper()
	return start(t, filepath.Join(Room(t), "outside"), append([]string{Node(t), script}, args...)...)
}

func piped(name string, syntaxes []Syntax, p *process) *Reader {
	return &Reader{Name: name, Syntaxes: syntaxes, read: func(reqs []Request) []Answer {
		out := make([]Answer, len(reqs))
		for i, a := range p.ask(reqs) {
			if a.err != nil {
				out[i].Err = a.err
				continue
			}
			out[i].Quads, out[i].Err = ParseNQuads(a.text)
		}
		return out
	}}
}

// Rapper is Debian's rapper, one process for each text.
func Rapper(t testing.TB) *Reader {
	path, err := exec.LookPath("rapper")
	if err != nil {
		Missing(t, "rapper (Debian package raptor2-utils)")
	}
	return &Reader{Name: "rapper", Syntaxes: []Syntax{NTriples, NQuadsSy, Turtle, RDFXML}, read: func(reqs []Request) []Answer {
		out := make([]Answer, len(reqs))
		var wg sync.WaitGroup
		slots := make(chan bool, 2)
		for i, r := range reqs {
			wg.Add(1)
			slots <- true
			go func() {
				defer wg.Done()
				out[i] = rapperRead(path, r)
				<-slots
			}()
		}
		wg.Wait()
		return out
	}}
}

func rapperRead(path string, r Request) Answer {
	base := r.Base
	if base == "" {
		base = "http://base.example/"
	}
	output := "ntriples"
	if r.Syntax == NQuadsSy {
		output = "nquads"
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, path, "-q", "-i", string(r.Syntax), "-o", output, "-", base)
	cmd.Stdin = bytes.NewReader(r.Text)
	var out, problems bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &problems
	if err := cmd.Run(); err != nil {
		return Answer{Err: fmt.Errorf("%w: %s", err, strings.TrimSpace(problems.String()))}
	}
	quads, err := ParseNQuads(out.String())
	return Answer{Quads: quads, Err: err}
}

// RDFCanonize is the npm package rdf-canonize: N-Quads in, the canonical form of
// RDFC-1.0 with SHA-256 out.
func RDFCanonize(t testing.TB) func(texts []string) ([]string, []error) {
	p := node(t, "canonize.mjs")
	return func(texts []string) (out []string, errs []error) {
		reqs := make([]Request, len(texts))
		for i, text := range texts {
			reqs[i] = Request{Syntax: "sha256", Text: []byte(text)}
		}
		for _, a := range p.ask(reqs) {
			out, errs = append(out, a.text), append(errs, a.err)
		}
		return out, errs
	}
}
