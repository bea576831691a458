// Package publish makes a publication of a run, with care: what would be withdrawn
// by accident stops it, what has a problem leaves the published document as it is,
// and no IRI is given to another thing. Begin with [Prepare]; its [Plan] says what a
// publication would do, and [Plan.Commit] does it.
//
// # Documents with problems
//
// A document that the run could not make, or that is not valid, is left out. If it is
// published already, it stays as it is ([Plan.Kept]). So does one whose IRI two
// records claim ([Plan.Clashes]): neither gets it. Only a document that no record
// speaks of any more is withdrawn, and one whose day of publication can't be read
// ([Plan.Undated]), since it may be private.
//
// # Lists
//
// What stands in [Rules].Withdrawn and [Rules].Moved has come to an end, whatever the
// run makes; a run that makes it nevertheless is a clash. These withdrawals don't count
// when it is judged whether a run withdraws too much: somebody wrote them down. What
// was never published gets its tombstone or redirection all the same, for the sake of
// addresses that were published by other means before.
package publish

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"time"

	"ropewalk/service"
)

// Rules are what a site says about publishing.
type Rules struct {
	Base      string
	Most      float64 // share of the published documents that a run may withdraw, in percent
	Withdrawn []Withdrawn
	Moved     []Moved
}

// Withdrawn is an IRI that is withdrawn on purpose.
type Withdrawn struct {
	IRI    string
	Reason string // for the public; may be empty
	Where  string // file and row that say so
}

// Moved is an IRI that gave way to another.
type Moved struct {
	From, To string
	Where    string // file and row that say so
}

// Input is a file that was read.
type Input struct {
	Source  string `json:"source"`
	File    string `json:"file"`
	Bytes   int64  `json:"bytes"`
	Records int    `json:"records"`
}

// Walk makes the documents of a run and tells into of them. It is called again, with
// the same result, where the first time shows that records claim the same IRI.
type Walk func(ctx context.Context, into *Sink) ([]Input, error)

// Matter is a document about which there is something to say.
type Matter struct {
	IRI   string // "" if the record does not say which
	Where string // the record
	Label string // as published; "" if it is not
	Why   string // "" if it was told as a problem of the record
}

// Clash is an IRI that was to be given to another thing than its own.
type Clash struct {
	IRI, Where   string // that was refused, and the record
	Other        string // the IRI that stands in its way, often the same
	OtherWhere   string // the record, list or publication that has it; "" if not known
	Why          string
	Kept         bool // the published document stays as it is
	wantsPlace   bool
	fromOneOfRun bool
}

// Plan is what a publication would do.
type Plan struct {
	Last    service.Publication // with which the run is compared
	Live    int                 // documents published now
	Summary service.Summary
	Strays  int // withdrawals that no list explains

	Kept    []Matter // not made or not valid by now: they stay as published
	LeftOut []Matter // not made or not valid, and not published before
	Unknown []Matter // records that do not say which document they should have made
	Undated []Matter // not public, because "from when" can't be read
	Clashes []Clash
	Held    int       // documents that become public later
	Next    time.Time // when the first of them does
	New     []string  // files and rows of the lists about what was never published

	Stops []string // reasons not to publish without being told

	draft  service.Draft
	inputs []Input
}

// Sink takes what a walk makes.
type Sink struct {
	ctx   context.Context
	store service.Store
	rules *Rules
	draft service.Draft

	skip    map[string]bool   // IRIs that clash: nobody gets them
	watch   map[string]string // IRIs of which the record is wanted
	ends    map[string]end    // by path
	clashes []Clash
	spoilt  []Matter
	unknown []Matter
	undated []Matter
	held    int
	next    time.Time
	fresh   []string
	listed  int // withdrawn by the list
	again   bool
}

type end struct{ iri, where, what string }

// Put takes a document that is fit to be published, and sets its Path. where is the
// record that made it.
func (s *Sink) Put(r *service.Record, where string) error {
	var ok bool
	if r.Path, ok = service.Path(s.rules.Base, r.IRI); !ok {
		s.spoilt = append(s.spoilt, Matter{IRI: r.IRI, Where: where, Why: "it is not an address below " + s.rules.Base})
		return nil
	}
	if w, ok := s.watch[r.IRI]; ok && w == "" {
		s.watch[r.IRI] = where
	}
	if s.skip[r.IRI] {
		return nil
	}
	if e, ok := s.ends[r.Path]; ok {
		s.clashes = append(s.clashes, Clash{IRI: r.IRI, Where: where, Other: e.iri, OtherWhere: e.where, Why: e.what})
		return nil
	}
	_, err := s.draft.Put(r)
	switch service.CodeOf(err) {
	case "":
		return nil
	case service.Invalid:
		s.spoilt = append(s.spoilt, Matter{IRI: r.IRI, Where: where, Why: err.Error()})
		return nil
	case service.Conflict:
		return s.refused(r, where, err)
	}
	return err
}

var iris = regexp.MustCompile(`<([^<>]+)>`)

// refused works out what the IRI of a record was refused for. The error names the
// other IRI.
func (s *Sink) refused(r *service.Record, where string, err error) error {
	c := Clash{IRI: r.IRI, Where: where, Other: r.IRI, Why: err.Error()}
	for _, m := range iris.FindAllStringSubmatch(err.Error(), -1) {
		if m[1] != r.IRI {
			c.Other = m[1]
		}
	}
	was, gerr := s.store.Get(s.ctx, r.Path)
	path, _ := service.Path(s.rules.Base, c.Other)
	switch {
	case gerr != nil && service.CodeOf(gerr) != service.NotFound:
		return gerr
	case c.Other == r.IRI: // the run makes it twice
		c.wantsPlace, c.fromOneOfRun = true, true
		s.refuse(r.IRI)
	case gerr == nil && was.IRI == c.Other: // its address belongs to what was published there
		c.OtherWhere = fmt.Sprintf("published by publication %d", was.Publication)
	case gerr == nil && was.State == service.Moved: // it moved to the other
		c.wantsPlace = true
	case path == r.Path: // two of the run: neither gets the address
		c.wantsPlace, c.fromOneOfRun = true, true
		s.refuse(r.IRI)
		s.refuse(c.Other)
	default: // the other moved here, and is back
		c.IRI, c.Other, c.Where, c.OtherWhere = c.Other, c.IRI, "", where
		c.wantsPlace, c.fromOneOfRun = true, true
		s.refuse(c.IRI)
	}
	if c.wantsPlace {
		for _, iri := range []string{c.IRI, c.Other} {
			if _, ok := s.watch[iri]; !ok {
				s.watch[iri] = ""
				s.again = true
			}
		}
	}
	s.clashes = append(s.clashes, c)
	return nil
}

// refuse keeps an IRI out of the publication. As it may be in the draft already, the
// walk is begun again.
func (s *Sink) refuse(iri string) {
	if !s.skip[iri] {
		s.skip[iri], s.again = true, true
	}
}

// Twice says that two records make one IRI. Neither gets it.
func (s *Sink) Twice(iri, first, second string) {
	if s.skip[iri] {
		return
	}
	s.refuse(iri)
	s.clashes = append(s.clashes, Clash{IRI: iri, Where: second, Other: iri, OtherWhere: first, fromOneOfRun: true,
		Why: "two records make it, and an IRI stands for one thing"})
}

// Spoilt says that a document can't be published, though a record should make it.
func (s *Sink) Spoilt(iri, where string) {
	if iri == "" {
		s.unknown = append(s.unknown, Matter{Where: where})
		return
	}
	s.spoilt = append(s.spoilt, Matter{IRI: iri, Where: where})
}

// Hold says that a document becomes public later.
func (s *Sink) Hold(_ string, from time.Time) {
	s.held++
	if s.next.IsZero() || from.Before(s.next) {
		s.next = from
	}
}

// Undate says that the day from which a document is public can't be read.
func (s *Sink) Undate(iri, where string) {
	s.undated = append(s.undated, Matter{IRI: iri, Where: where})
}

// rounds is how often a walk is begun again at most; each time more IRIs are refused.
const rounds = 5

// Prepare makes a plan of what a walk brings. The plan holds the store's draft: end it
// with Commit or Discard. Errors are those of the walk and of the store; then there
// is no draft.
func Prepare(ctx context.Context, store service.Store, rules Rules, walk Walk) (*Plan, error) {
	skip, watch := map[string]bool{}, map[string]string{}
	var told []Clash
	for round := 1; ; round++ {
		draft, err := store.Begin(ctx)
		if err != nil {
			return nil, err
		}
		s := &Sink{ctx: ctx, store: store, rules: &rules, draft: draft, skip: skip, watch: watch, ends: map[string]end{}}
		p, err := s.prepare(walk)
		told = append(told, s.clashes...)
		if err != nil {
			return nil, errors.Join(err, draft.Discard())
		}
		if !s.again {
			s.told(p, told)
			if err := s.keepAll(p); err != nil {
				return nil, errors.Join(err, draft.Discard())
			}
			p.guard(&rules)
			return p, nil
		}
		if err := draft.Discard(); err != nil {
			return nil, err
		}
		if round == rounds {
			return nil, service.Errorf(service.Conflict, "the records claim one another's IRIs in too many ways; begin with <%s> (%s)", told[0].IRI, told[0].Where)
		}
	}
}

func (s *Sink) prepare(walk Walk) (*Plan, error) {
	if err := s.lists(); err != nil {
		return nil, err
	}
	inputs, err := walk(s.ctx, s)
	if err != nil {
		return nil, err
	}
	return &Plan{Last: s.draft.Last(), Live: s.draft.Live(), Unknown: s.unknown, Undated: s.undated, Held: s.held, Next: s.next, New: s.fresh,
		draft: s.draft, inputs: inputs}, nil
}

// told gives the plan the clashes of all rounds, each once, with the places that were
// found later.
func (s *Sink) told(p *Plan, all []Clash) {
	seen := map[[2]string]bool{}
	for _, c := range all {
		if c.Where == "" {
			c.Where = s.watch[c.IRI]
		}
		if c.OtherWhere == "" {
			c.OtherWhere = s.watch[c.Other]
		}
		if k := [2]string{c.IRI, c.Other}; !seen[k] {
			seen[k] = true
			p.Clashes = append(p.Clashes, c)
		}
	}
}

// lists brings about the ends that the lists demand.
func (s *Sink) lists() error {
	say := func(where string, err error) error {
		return &service.Error{Code: service.CodeOf(err), Message: where, Err: err}
	}
	for i := range s.rules.Withdrawn {
		w := &s.rules.Withdrawn[i]
		r := &service.Record{IRI: w.IRI, State: service.Gone, Reason: w.Reason}
		c, err := s.finish(r, w.Where, "it is withdrawn")
		if err != nil {
			return say(w.Where, err)
		}
		if c == service.Withdrawn {
			s.listed++
		}
	}
	for i := range s.rules.Moved {
		m := &s.rules.Moved[i]
		r := &service.Record{IRI: m.From, State: service.Moved, MovedTo: m.To}
		if _, err := s.finish(r, m.Where, "it moved to <"+m.To+">"); err != nil {
			return say(m.Where, err)
		}
	}
	return nil
}

func (s *Sink) finish(r *service.Record, where, what string) (service.Change, error) {
	path, ok := service.Path(s.rules.Base, r.IRI)
	if !ok {
		return 0, service.Errorf(service.Invalid, "<%s> can't be the address of a document", r.IRI)
	}
	if first, twice := s.ends[path]; twice {
		return 0, service.Errorf(service.Conflict, "<%s> and <%s> (%s) are the same address", r.IRI, first.iri, first.where)
	}
	r.Path = path
	was, err := s.store.Get(s.ctx, path)
	switch service.CodeOf(err) {
	case "":
		r.IRI = was.IRI
	case service.NotFound:
		was = nil
		s.fresh = append(s.fresh, where)
	default:
		return 0, err
	}
	s.ends[path] = end{r.IRI, where, what}
	if was != nil && was.State == r.State && was.MovedTo == r.MovedTo && was.Reason == r.Reason {
		return service.Unchanged, nil
	}
	return s.draft.Put(r)
}

// keepAll puts what can't be published anew as it is published, and closes the plan.
func (s *Sink) keepAll(p *Plan) error {
	done := map[string]bool{}
	// keep reports whether the document of an IRI is published, and puts it again.
	keep := func(iri string) (label string, live bool, err error) {
		path, ok := service.Path(s.rules.Base, iri)
		if !ok {
			return "", false, nil
		}
		if _, ended := s.ends[path]; ended {
			return "", false, nil
		}
		was, err := s.store.Get(s.ctx, path)
		if service.CodeOf(err) == service.NotFound {
			return "", false, nil
		}
		if err != nil {
			return "", false, err
		}
		if was.State != service.Live || was.IRI != iri {
			return "", false, nil
		}
		if done[path] {
			return was.Label, true, nil
		}
		done[path] = true
		if _, err = s.draft.Put(was); service.CodeOf(err) == service.Conflict {
			return "", false, nil // the run makes something else of this address
		}
		return was.Label, true, err
	}
	slices.SortStableFunc(s.spoilt, func(a, b Matter) int { return cmp.Compare(a.IRI, b.IRI) })
	for i, m := range s.spoilt {
		if i > 0 && s.spoilt[i-1].IRI == m.IRI || s.skip[m.IRI] {
			continue
		}
		var live bool
		var err error
		if m.Label, live, err = keep(m.IRI); err != nil {
			return err
		}
		if live {
			p.Kept = append(p.Kept, m)
		} else {
			p.LeftOut = append(p.LeftOut, m)
		}
	}
	for i := range p.Clashes {
		c := &p.Clashes[i]
		var err error
		if _, c.Kept, err = keep(c.IRI); err != nil {
			return err
		}
		if c.fromOneOfRun && s.skip[c.Other] {
			if _, _, err = keep(c.Other); err != nil {
				return err
			}
		}
	}
	p.Summary = s.draft.Review()
	p.Strays = p.Summary.Withdrawn - s.listed
	return s.check()
}

// check finds out whether the draft could be committed, and names the row of a move
// that leads nowhere.
func (s *Sink) check() error {
	err := s.draft.Check()
	if err == nil {
		return nil
	}
	if m := iris.FindStringSubmatch(err.Error()); m != nil {
		for _, row := range s.rules.Moved {
			if row.From == m[1] {
				return &service.Error{Code: service.CodeOf(err), Message: row.Where, Err: err}
			}
		}
	}
	return err
}

// Differences are the first records that the plan changes in one way.
func (p *Plan) Differences(kind service.Change, limit int) ([]service.Difference, error) {
	return p.draft.Differences(kind, limit)
}

// Unmade are the paths of the first documents that the plan withdraws because no
// record makes them and no list speaks of them.
func (p *Plan) Unmade(limit int) []string { return p.draft.Withdrawals(limit) }

// Allows reports whether the plan may be carried out by one who expects up to n
// withdrawals; n is below 0 for one who has said nothing.
func (p *Plan) Allows(n int) bool { return len(p.Stops) == 0 || n >= 0 && p.Strays <= n }

// Commit publishes. The note is kept with the publication, and the sizes of what was
// read, for the next run to be measured by.
func (p *Plan) Commit(ctx context.Context, note string) (service.Publication, error) {
	p.draft.Annotate(note, writeInputs(p.inputs))
	return p.draft.Commit(ctx)
}

// Discard forgets the plan. After Commit it does nothing.
func (p *Plan) Discard() error { return p.draft.Discard() }
