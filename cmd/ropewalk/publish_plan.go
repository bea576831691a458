package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/service/publish"
)

const (
	mattersShown = 5  // documents of each kind that are named
	changesShown = 40 // statements of a document that changes
	newShown     = 12 // of one that comes
)

// kindsOfChange are the kinds in the order in which a plan shows them.
var kindsOfChange = []service.Change{service.Added, service.Changed, service.Returned, service.Withdrawn, service.Relocated}

func countOf(s service.Summary, k service.Change) int {
	return map[service.Change]int{service.Added: s.Added, service.Changed: s.Changed, service.Returned: s.Returned,
		service.Withdrawn: s.Withdrawn, service.Relocated: s.Moved, service.Unchanged: s.Unchanged}[k]
}

// showPlan prints what a publication would do.
func (a *app) showPlan(base string, p *sitePlan, first int) error {
	if p.Last.Number == 0 {
		fmt.Fprintln(a.stdout, "Plan for publication 1; nothing is published yet.")
	} else {
		fmt.Fprintf(a.stdout, "Plan for publication %d, compared with publication %d of %s (%s).\n", p.Last.Number+1, p.Last.Number,
			p.Last.Time.Format(time.RFC3339), count(p.Live, "document"))
	}
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	for _, k := range append(kindsOfChange, service.Unchanged) {
		fmt.Fprintf(w, "  %s\t%s\t\n", k, thousands(countOf(p.Summary, k)))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	paint := &painter{w: a.stdout, color: colorful(a.stdout)}
	for _, k := range kindsOfChange {
		list, err := p.Differences(k, first)
		if err != nil {
			return err
		}
		if len(list) == 0 {
			continue
		}
		fmt.Fprintf(a.stdout, "\n%s (%d of %s)\n", paint.bold(k.String()), len(list), thousands(countOf(p.Summary, k)))
		for _, d := range list {
			fmt.Fprintf(a.stdout, "  %s\n", titled(base, d.After))
			if d.After.MovedTo != "" {
				fmt.Fprintf(a.stdout, "    moves to <%s>\n", d.After.MovedTo)
			}
			if d.After.Reason != "" {
				fmt.Fprintf(a.stdout, "    reason: %s\n", d.After.Reason)
			}
			if err := a.change("    ", k, d); err != nil {
				return err
			}
		}
	}
	fmt.Fprintln(a.stdout, "\nNothing was written.")
	return nil
}

// titled names a record by its path and label.
func titled(base string, r *service.Record) string {
	name := "<" + r.IRI + ">"
	if rest, ok := strings.CutPrefix(r.IRI, base); ok {
		name = rest
	}
	if r.Label != "" {
		name += "  " + r.Label
	}
	return name
}

// change prints what a change does to the statements of a document. Of one that goes
// there is no more to say than that they all go.
func (a *app) change(lead string, k service.Change, d service.Difference) error {
	switch k {
	case service.Withdrawn, service.Relocated:
		removed, _, err := publish.Statements(d.Before, d.After)
		if err == nil && len(removed) > 0 {
			fmt.Fprintf(a.stdout, "%s- all its %s\n", lead, count(len(removed), "statement"))
		}
		return err
	case service.Changed:
		return a.difference(lead, d.Before, d.After, changesShown)
	}
	return a.difference(lead, d.Before, d.After, newShown)
}

// difference prints the statements that went and came, at most so many, in short
// form: those about the document's own nodes, then those about others.
func (a *app) difference(lead string, before, after *service.Record, most int) error {
	removed, added, err := publish.Statements(before, after)
	if err != nil {
		return err
	}
	own := func(t entity.Triple) bool {
		rest, ok := strings.CutPrefix(t.Subject.Value, after.IRI)
		return ok && (rest == "" || rest[0] == '#')
	}
	p := &painter{w: a.stdout, color: colorful(a.stdout)}
	n := 0
	show := func(sign, code string, t entity.Triple, object string) {
		if n++; n <= most {
			fmt.Fprintf(a.stdout, "%s%s\n", lead, p.style(code, fmt.Sprintf("%s %s  %s  %s", sign, shorten(after.IRI, t.Subject.Value), shortIRI(t.Predicate.Value), object)))
		}
	}
	for _, mine := range []bool{true, false} {
		var gone, come []entity.Triple
		for _, t := range removed {
			if own(t) == mine {
				gone = append(gone, t)
			}
		}
		for _, t := range added {
			if own(t) == mine {
				come = append(come, t)
			}
		}
		for len(gone) > 0 || len(come) > 0 {
			switch {
			case len(gone) > 0 && len(come) > 0 && sameSlot(gone[0], come[0]):
				x, y := bothObjects(after.IRI, gone[0].Object, come[0].Object)
				show("-", "31", gone[0], x)
				show("+", "32", come[0], y)
				gone, come = gone[1:], come[1:]
			case len(come) == 0 || len(gone) > 0 && earlier(gone[0], come[0]):
				show("-", "31", gone[0], object(after.IRI, gone[0].Object))
				gone = gone[1:]
			default:
				show("+", "32", come[0], object(after.IRI, come[0].Object))
				come = come[1:]
			}
		}
	}
	if n > most {
		fmt.Fprintf(a.stdout, "%sand %s more\n", lead, count(n-most, "statement"))
	}
	return nil
}

func sameSlot(a, b entity.Triple) bool { return a.Subject == b.Subject && a.Predicate == b.Predicate }

// earlier reports whether a comes before b in the order of subject and predicate.
func earlier(a, b entity.Triple) bool {
	if a.Subject.Value != b.Subject.Value {
		return a.Subject.Value < b.Subject.Value
	}
	return a.Predicate.Value < b.Predicate.Value
}

// bothObjects writes two objects so that one sees where they differ: of long texts
// that begin alike it shows the stretch in which they do.
func bothObjects(iri string, a, b entity.RDFTerm) (string, string) {
	const long, around = 100, 40
	x, y := []rune(a.Value), []rune(b.Value)
	if a.Kind != entity.Literal || b.Kind != entity.Literal || len(x) <= long && len(y) <= long {
		return object(iri, a), object(iri, b)
	}
	same := 0
	for same < len(x) && same < len(y) && x[same] == y[same] {
		same++
	}
	if cut := same - around; cut > 0 {
		a.Value, b.Value = "…"+string(x[cut:]), "…"+string(y[cut:])
	}
	return object(iri, a), object(iri, b)
}

// matters reports the documents that are not published as the records have them.
func (a *app) matters(p *sitePlan) {
	w := a.stderr
	clashes(w, p.Clashes)
	list(w, p.Kept, "stays as it is published: its record does not make a valid document any more",
		"stay as they are published: their records do not make valid documents any more")
	list(w, p.LeftOut, "was left out: its record does not make a valid document", "were left out: their records do not make valid documents")
	list(w, p.Undated, "is not public: from when it may be can't be read", "are not public: from when they may be can't be read")
	list(w, p.Unknown, "makes no document, and does not say which it should have made", "make no documents, and do not say which they should have made")
	for i, where := range p.New {
		if i == mattersShown {
			fmt.Fprintf(w, "and %s more\n", count(len(p.New)-i, "row"))
			break
		}
		fmt.Fprintf(w, "%s: nothing was ever published there; the address gets its end all the same.\n", where)
	}
	if p.found > 0 {
		fmt.Fprintf(w, "The records have %s; ropewalk check shows %s. What has a problem was left out or kept in words.\n", count(p.found, "problem"), them(p.found))
	}
}

func list(w io.Writer, ms []publish.Matter, one, several string) {
	if len(ms) == 0 {
		return
	}
	what := "documents"
	if ms[0].IRI == "" {
		what = "records"
	}
	if len(ms) == 1 {
		fmt.Fprintf(w, "1 %s %s:\n", strings.TrimSuffix(what, "s"), one)
	} else {
		fmt.Fprintf(w, "%s %s %s:\n", thousands(len(ms)), what, several)
	}
	for i, m := range ms {
		if i == mattersShown {
			fmt.Fprintf(w, "  and %s more\n", thousands(len(ms)-i))
			break
		}
		switch {
		case m.IRI == "":
			fmt.Fprintf(w, "  %s\n", m.Where)
		case m.Why != "":
			fmt.Fprintf(w, "  <%s> (%s): %s\n", m.IRI, m.Where, m.Why)
		default:
			fmt.Fprintf(w, "  <%s> (%s)\n", m.IRI, m.Where)
		}
	}
}

func clashes(w io.Writer, cs []publish.Clash) {
	if len(cs) == 0 {
		return
	}
	fmt.Fprintf(w, "%s claimed by more than one thing. An IRI is never given to another thing, so these are not published from this run:\n", areIRIs(len(cs)))
	for i, c := range cs {
		if i == 4*mattersShown {
			fmt.Fprintf(w, "  and %s more\n", thousands(len(cs)-i))
			break
		}
		fmt.Fprintf(w, "  <%s> (%s): %s\n", c.IRI, c.Where, c.Why)
		if c.OtherWhere != "" {
			fmt.Fprintf(w, "    in its way: <%s> (%s)\n", c.Other, c.OtherWhere)
		}
		if c.Kept {
			fmt.Fprintln(w, "    what is published there stays as it is")
		}
	}
}

func areIRIs(n int) string {
	if n == 1 {
		return "1 IRI is"
	}
	return thousands(n) + " IRIs are"
}

// held says what becomes public later.
func (a *app) held(p *sitePlan) {
	if p.Held == 0 {
		return
	}
	day := p.Next.Format(time.DateOnly)
	if !p.Next.Equal(p.Next.Truncate(24 * time.Hour)) {
		day = p.Next.Format(time.RFC3339)
	}
	if p.Held == 1 {
		fmt.Fprintf(a.stdout, "1 document is held back until %s.\n", day)
		return
	}
	fmt.Fprintf(a.stdout, "%s are held back, the first of them until %s.\n", count(p.Held, "document"), day)
}

// stopped says why a plan is not carried out.
func stopped(p *sitePlan, allowed int, dry bool) error {
	var b strings.Builder
	if dry {
		b.WriteString("this would not be published:\n")
	} else {
		b.WriteString("nothing was published:\n")
	}
	for _, s := range p.Stops {
		b.WriteString("  " + s + "\n")
	}
	if p.Strays > 0 {
		b.WriteString("Would be withdrawn:\n")
		for _, path := range p.Unmade(mattersShown) {
			b.WriteString("  " + path + "\n")
		}
		if more := p.Strays - mattersShown; more > 0 {
			fmt.Fprintf(&b, "  and %s more\n", thousands(more))
		}
	}
	if allowed >= 0 {
		fmt.Fprintf(&b, "--allow-withdrawals %d is not enough: it would be %d.", allowed, p.Strays)
	} else {
		fmt.Fprintf(&b, "If that is right, say so with --allow-withdrawals %d, or write into withdrawn.csv what is withdrawn, and why.", p.Strays)
	}
	return &failure{exitProblems, b.String()}
}
