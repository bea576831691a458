package termlist

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/knakk/rdf"

	"ropewalk/vocab"
)

var formats = map[string]rdf.Format{
	".ttl": rdf.Turtle,
	".nt":  rdf.NTriples,
	".rdf": rdf.RDFXML,
	".xml": rdf.RDFXML,
	".owl": rdf.RDFXML,
}

const (
	skosNS  = "http://www.w3.org/2004/02/skos/core#"
	rdfType = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"
)

// wordRanks are the properties whose values are words (SKOS Reference §5 and §6),
// the best claim first.
var wordRanks = map[string]int{
	skosNS + "prefLabel":   0,
	skosNS + "altLabel":    1,
	skosNS + "hiddenLabel": 2,
	skosNS + "notation":    3,
}

// concept is what a file says of a subject.
type concept struct {
	iri   string
	term  Term
	words []word
}

type word struct {
	text string
	rank rank
}

// skos reads the concepts of an RDF file.
func (b *builder) skos(data []byte, format rdf.Format) {
	by := map[string]*concept{}
	var order []*concept
	err := triples(data, format, "", func(tr rdf.Triple) {
		s := tr.Subj.String()
		if tr.Subj.Type() != rdf.TermIRI {
			s = "_:" + s
		}
		c := by[s]
		if c == nil {
			c = &concept{iri: s}
			by[s] = c
			order = append(order, c)
		}
		c.say(tr.Pred.String(), tr.Obj)
	})
	if err != nil {
		line, reason := rdfFault(err)
		b.fault(line, reason)
		return
	}
	b.ranks = map[string]rank{}
	for _, c := range order {
		if b.full() {
			return
		}
		if len(c.words) > 0 {
			b.concept(c)
		}
	}
	if len(b.list.words) == 0 && len(b.errs) == 0 {
		b.fault(0, "no subject has a skos:prefLabel, altLabel, hiddenLabel or notation")
	}
}

// say takes in one statement about the concept.
func (c *concept) say(pred string, obj rdf.Object) {
	value := obj.String()
	if n, ok := wordRanks[pred]; ok {
		lit, ok := obj.(rdf.Literal)
		if !ok || strings.TrimSpace(value) == "" {
			return
		}
		c.words = append(c.words, word{strings.TrimSpace(value), rank{n, strings.ToLower(lit.Lang())}})
		return
	}
	switch pred {
	case rdfType:
		for _, cl := range vocab.Classes() {
			if cl.IRI == value {
				c.term.Type = cl.Key
			}
		}
	case skosNS + "broader":
		if c.term.Broader == "" && obj.Type() == rdf.TermIRI {
			c.term.Broader = value
		}
	case skosNS + "scopeNote", skosNS + "definition":
		if c.term.Note == "" && obj.Type() == rdf.TermLiteral {
			c.term.Note = value
		}
	}
}

// concept adds a concept and its words.
func (b *builder) concept(c *concept) {
	if strings.HasPrefix(c.iri, "_:") {
		b.fault(0, fmt.Sprintf("the concept %q is a blank node; a term needs an IRI", c.words[0].text))
		return
	}
	if reason := badIRI(c.iri); reason != "" {
		b.fault(0, fmt.Sprintf("the concept %q: %q is not an IRI: %s", c.words[0].text, c.iri, reason))
		return
	}
	t := &c.term
	t.IRI = c.iri
	t.Label = c.label()
	b.list.terms = append(b.list.terms, t)
	for _, w := range c.words {
		old, there := b.list.exact[w.text]
		if !there {
			b.list.words = append(b.list.words, w.text)
			b.list.exact[w.text], b.ranks[w.text] = t, w.rank
			continue
		}
		r := b.ranks[w.text]
		switch {
		case old == t:
			if w.rank.n < r.n {
				b.ranks[w.text] = w.rank
			}
		case w.rank.n < r.n:
			b.list.exact[w.text], b.ranks[w.text] = t, w.rank
		case w.rank.n > r.n:
		case old != nil && w.rank.n == 0 && w.rank.lang == r.lang:
			b.fault(0, fmt.Sprintf("the word %q is the preferred label of <%s> and of <%s>", w.text, old.IRI, t.IRI))
		default:
			b.list.exact[w.text] = nil
		}
	}
}

// label is the preferred label in English, or else without a language, or else
// the first, or else the first word of any kind.
func (c *concept) label() string {
	best, score := c.words[0].text, 5
	for _, w := range c.words {
		s := 4
		switch {
		case w.rank.n != 0:
		case w.rank.lang == "en" || strings.HasPrefix(w.rank.lang, "en-"):
			s = 1
		case w.rank.lang == "":
			s = 2
		default:
			s = 3
		}
		if s < score {
			best, score = w.text, s
		}
	}
	return best
}

// triples decodes all statements of a file; base is what relative IRIs are below
// until the file says otherwise, or "". The decoder of Turtle and N-Triples
// runs a goroutine that ends only when its input does, so after a fault the rest
// is cut off and what is in its buffer is drained.
func triples(data []byte, format rdf.Format, base string, see func(rdf.Triple)) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the decoder gave up: %v", p)
		}
	}()
	if format != rdf.RDFXML {
		tidied, fault := tidy(data, base)
		if fault != nil {
			return fault
		}
		data = tidied
	}
	in := &cutter{data: data}
	dec := rdf.NewTripleDecoder(in, format)
	if format != rdf.RDFXML {
		defer in.drain(dec, len(data))
	} else if iri, e := rdf.NewIRI(base); e == nil {
		if err := dec.SetOption(rdf.Base, iri); err != nil {
			return err
		}
	}
	for {
		tr, err := dec.Decode()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		see(tr)
	}
}

// cutter gives out lines and can be made to end after one, from another
// goroutine. It never ends within a line, which could be the end of the program
// (see tidy).
type cutter struct {
	data   []byte
	inside bool // the last byte given out was not a line's end
	cut    atomic.Bool
}

func (c *cutter) Read(p []byte) (int, error) {
	if len(c.data) == 0 || c.cut.Load() && !c.inside {
		return 0, io.EOF
	}
	n := min(len(p), len(c.data))
	if i := bytes.LastIndexByte(c.data[:n], '\n'); i >= 0 {
		n = i + 1
	}
	n = copy(p, c.data[:n])
	c.inside = n > 0 && c.data[n-1] != '\n'
	c.data = c.data[n:]
	return n, nil
}

// drain ends the input and takes what the decoder still has, so that its
// goroutine ends. What is left is at most a buffer of lines, or nothing. A decoder
// whose goroutine has stopped at a fault of its own may wait for it for ever (as
// after "..0.0`."): it is left alone then.
func (c *cutter) drain(dec rdf.TripleDecoder, size int) {
	c.cut.Store(true)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range size + 1 {
			if end := decodeQuietly(dec); end == io.EOF {
				return
			}
		}
	}()
	select {
	case <-done:
	case <-time.After(200 * time.Millisecond):
		abandoned.Add(1)
	}
}

// abandoned counts decoders that were left alone, each with two goroutines at most.
var abandoned atomic.Int64

func decodeQuietly(dec rdf.TripleDecoder) (err error) {
	defer func() {
		if recover() != nil {
			err = nil
		}
	}()
	_, err = dec.Decode()
	return err
}

// rdfFault takes the line out of a decoder's error.
func rdfFault(err error) (line int, reason string) {
	var own *Error
	if errors.As(err, &own) {
		return own.Line, own.Reason
	}
	var se *xml.SyntaxError
	if errors.As(err, &se) {
		return se.Line, "XML: " + se.Msg
	}
	reason = err.Error()
	if first, rest, ok := strings.Cut(reason, ":"); ok {
		if n, e := strconv.Atoi(first); e == nil {
			if i := strings.IndexFunc(rest, func(r rune) bool { return (r < '0' || r > '9') && r != ':' && r != ' ' }); i >= 0 {
				return n, "RDF: " + rest[i:]
			}
		}
	}
	return 0, "RDF: " + reason
}
