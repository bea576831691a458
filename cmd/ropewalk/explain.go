package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
)

type explainCmd struct {
	Site string `arg:"" help:"The site's folder."`
	ID   string `arg:"" help:"The document: its IRI, or its path below the base, such as object/KQ.1911.4."`
}

var errFound = errors.New("found")

func (c *explainCmd) Run(a *app) error {
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	want := c.ID
	if !strings.Contains(want, "://") {
		want = s.Base + strings.TrimPrefix(want, "/")
	}
	run := s.Program.NewRun()
	run.Trace, run.Early = true, true
	var held string
	run.Missed = func(m mapping.Missed) {
		if m.IRI != want {
			return
		}
		switch m.Why {
		case mapping.Embargoed:
			held = "not public before " + m.From.Format(time.RFC3339)
		case mapping.Undated:
			held = "not public: its date of publication can't be read"
		}
	}
	var near []string
	for _, sp := range s.Program.Sources {
		err := sp.Source.Read(a.ctx, sp.Layout, source.Options{}, func(b *source.Batch) error {
			defer b.Release()
			for i := range b.Rows {
				err := run.Record(sp, &b.Rows[i], func(d *entity.Document, m mapping.Meta) error {
					if d.IRI() == want {
						c.print(a, s.Program, run, d, held)
						return errFound
					}
					if len(near) < 200_000 {
						near = append(near, strings.Clone(strings.TrimPrefix(d.IRI(), s.Base)))
					}
					return nil
				})
				if err != nil {
					return err
				}
			}
			return nil
		})
		if errors.Is(err, errFound) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	hint := mapping.DidYouMean(strings.TrimPrefix(want, s.Base), near)
	if hint != "" {
		hint = "; " + hint
	}
	return fmt.Errorf("no record makes the document <%s>%s", want, hint)
}

// print shows the triples of a document, each with its origin.
func (c *explainCmd) print(a *app, p *mapping.Program, run *mapping.Run, d *entity.Document, held string) {
	paint := &painter{w: a.stdout, color: colorful(a.stdout)}
	fmt.Fprintf(a.stdout, "%s  %s\n", paint.bold("<"+d.IRI()+">"), d.Label())
	if held != "" {
		fmt.Fprintf(a.stdout, "%s\n", paint.red(held))
	}
	proofs := run.Evidence(d)
	subject := ""
	for i, t := range d.Triples() {
		if t.Subject.Value != subject {
			subject = t.Subject.Value
			fmt.Fprintf(a.stdout, "\n%s\n", paint.bold(shorten(d.IRI(), subject)))
		}
		fmt.Fprintf(a.stdout, "  %s %s\n", shortIRI(t.Predicate.Value), object(d.IRI(), t.Object))
		ev := d.Events()[i]
		o, ok := p.Origin(ev.Origin)
		if !ok {
			fmt.Fprintf(a.stdout, "      %s\n", paint.faint("made by Ropewalk for a word without an authority"))
			continue
		}
		fmt.Fprintf(a.stdout, "      %s\n", paint.faint(fmt.Sprintf("mapped at %s:%d:%d%s", o.File, o.Line, o.Col, via(o.Via))))
		places := run.Places(i)
		for _, pl := range places {
			fmt.Fprintf(a.stdout, "      %s\n", paint.faint(fmt.Sprintf("from %s = %s", place(pl), quote(pl.Value))))
		}
		if len(places) == 0 && ev.Kind != entity.Open {
			fmt.Fprintf(a.stdout, "      %s\n", paint.faint("the same for every record"))
		}
		if ev.Kind == entity.Open {
			for _, e := range proofs {
				if e.Statement == i && t.Object.Value == d.Names()[i] { // not at its class
					fmt.Fprintf(a.stdout, "      %s\n", paint.faint("evidence: "+strings.Join(e.Words, "; ")))
				}
			}
		}
	}
	for i, e := range proofs {
		if i == 0 {
			fmt.Fprintf(a.stdout, "\n%s\n", paint.bold("evidence"))
		}
		stands := "asserted"
		if e.Statement < 0 {
			stands = "not asserted, only claimed"
		}
		fmt.Fprintf(a.stdout, "  %s, of %s: %s\n", shorten(d.IRI(), d.Names()[e.Assignment]), e.Of, stands)
		for _, w := range e.Words {
			fmt.Fprintf(a.stdout, "      %s\n", w)
		}
		if o, ok := p.Origin(d.Events()[e.Assignment].Origin); ok {
			fmt.Fprintf(a.stdout, "      %s\n", paint.faint(fmt.Sprintf("mapped at %s:%d:%d%s", o.File, o.Line, o.Col, via(o.Via))))
		}
		for _, pl := range e.Places {
			fmt.Fprintf(a.stdout, "      %s\n", paint.faint(fmt.Sprintf("from %s = %s", place(pl), quote(pl.Value))))
		}
	}
}

func via(spans []mapping.Span) string {
	var b strings.Builder
	for _, s := range spans {
		fmt.Fprintf(&b, ", used at %s:%d:%d", s.File, s.Line, s.Col)
	}
	return b.String()
}

// shorten writes a node of the document by its fragment.
func shorten(doc, iri string) string {
	if rest, ok := strings.CutPrefix(iri, doc); ok && (rest == "" || rest[0] == '#') {
		if rest == "" {
			return "this"
		}
		return rest
	}
	return "<" + iri + ">"
}

// shortIRI writes a property by its last part.
func shortIRI(iri string) string {
	if i := strings.LastIndexAny(iri, "/#"); i >= 0 && i+1 < len(iri) {
		return iri[i+1:]
	}
	return iri
}

func object(doc string, t entity.RDFTerm) string {
	if t.Kind == entity.IRI {
		if strings.HasPrefix(t.Value, doc) {
			return shorten(doc, t.Value)
		}
		return "<" + t.Value + ">"
	}
	s := quote(t.Value)
	if t.Datatype != "" && !strings.HasSuffix(t.Datatype, "#string") {
		s += "^^" + shortIRI(t.Datatype)
	}
	return s
}
