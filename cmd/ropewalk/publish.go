package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
	"ropewalk/service"
	"ropewalk/service/harvest"
	"ropewalk/service/publish"
	"ropewalk/service/store/postgres"
	"ropewalk/service/store/sqlite"
)

type publishCmd struct {
	Site             string `arg:"" help:"The site's folder."`
	DryRun           bool   `help:"Show what would change, statement by statement, and write nothing."`
	First            int    `help:"With --dry-run: how many documents of each kind of change to show." default:"1"`
	AllowWithdrawals *int   `placeholder:"N" help:"Publish although it looks as if something were missing, as long as at most N documents are withdrawn."`
	Lenient          bool   `help:"Exit with 0 although documents were left out or stay as they were. They are reported all the same."`
	Note             string `help:"A note on this publication, kept in its history."`
	Workers          int    `help:"How many processors to use." default:"${workers}"`
}

func (c *publishCmd) Run(a *app) error {
	allowed := -1
	if c.AllowWithdrawals != nil {
		if allowed = *c.AllowWithdrawals; allowed < 0 {
			return &failure{exitUsage, "--allow-withdrawals takes the number of documents that may be withdrawn"}
		}
	}
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	name := storePath(c.Site, s)
	if c.DryRun && !postgres.IsAddress(name) {
		if _, err := os.Stat(name); errors.Is(err, os.ErrNotExist) {
			// Even an empty store would be something written.
			tmp, err := os.MkdirTemp("", "ropewalk-plan-")
			if err != nil {
				return err
			}
			defer os.RemoveAll(tmp)
			name = filepath.Join(tmp, "plan.db")
		}
	}
	store, err := openStore(name)
	if err != nil {
		return err
	}
	defer store.Close()
	if !c.DryRun {
		// While a draft is open, nobody else can write.
		if err := harvest.Prepare(a.ctx, store); err != nil {
			return err
		}
	}
	p, err := a.plan(a.ctx, s, store, c.Workers)
	if err != nil {
		return err
	}
	defer func() { _ = p.Discard() }()
	if c.DryRun {
		if err := a.showPlan(s.Base, p, c.First); err != nil {
			return err
		}
	}
	a.matters(p)
	if !p.Allows(allowed) {
		return stopped(p, allowed, c.DryRun)
	}
	if !c.DryRun {
		pub, err := p.Commit(a.ctx, c.Note)
		if err != nil {
			return untouched(err)
		}
		a.published(pub)
		if err := a.downloads(s, store, downloadsPath(c.Site, name), c.Workers, pub); err != nil {
			return err
		}
	}
	a.held(p)
	if len(p.left) > 0 {
		fmt.Fprintln(a.stdout, "Harvested in some formats only:")
		p.left.print(a.stdout, "  ")
	}
	if !c.Lenient && len(p.Kept)+len(p.LeftOut)+len(p.Unknown)+len(p.Undated)+len(p.Clashes) > 0 {
		return problems()
	}
	return nil
}

func untouched(err error) error {
	return fmt.Errorf("%w\nNothing was published; what was published before is untouched", err)
}

// openStore opens the store at a database's address, or in a file, whose folder it
// makes if there is none.
func openStore(name string) (service.Store, error) {
	if postgres.IsAddress(name) {
		return postgres.Open(name)
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		return nil, err
	}
	return sqlite.Open(name)
}

// openPublished opens a store that a publication of the site must have made before.
func openPublished(name, dir string) (service.Store, error) {
	if !postgres.IsAddress(name) {
		if _, err := os.Stat(name); errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("nothing is published yet: run ropewalk publish %s", dir)
		}
	}
	return openStore(name)
}

// plan works out what publishing all that the site's records give would do.
func (a *app) plan(ctx context.Context, s *site.Site, store service.Store, workers int) (*sitePlan, error) {
	rules := publish.Rules{Base: s.Base, Most: s.Publish.Most}
	for _, w := range s.Publish.Withdrawn {
		reason := w.Reason
		if w.Date != "" && reason != "" {
			reason += " (" + w.Date + ")"
		} else if w.Date != "" {
			reason = w.Date
		}
		rules.Withdrawn = append(rules.Withdrawn, publish.Withdrawn{IRI: w.IRI, Reason: reason, Where: row(w.Place)})
	}
	for _, m := range s.Publish.Moved {
		rules.Moved = append(rules.Moved, publish.Moved{From: m.From, To: m.To, Where: row(m.Place)})
	}
	checker := validate.NewChecker()
	found := 0
	var left viewNotes
	look := views(s)
	now := a.time()
	walk := func(ctx context.Context, into *publish.Sink) ([]publish.Input, error) {
		found, left = 0, nil
		rep := &source.Report{}
		opt := line.Options{Workers: workers, Report: rep, Describe: true, Trade: true, Now: now,
			NewEncoder: func() line.Encoder {
				return &publishEncoder{formatEncoder{render.NewEncoder(render.FormatByName("jsonld"), render.Options{})}, checkEncoder{checker: checker, views: look}}
			},
			Problem: func(r mapping.RecordProblem) {
				if left.add(r) {
					return
				}
				if r.Severity == mapping.Problem {
					found++
				}
				if r.Rule == line.ProblemTwice {
					into.Twice(r.IRI, row(r.Places[1]), row(r.Places[0]))
				}
			},
			Missed: func(m mapping.Missed) {
				switch m.Why {
				case mapping.Embargoed:
					into.Hold(m.IRI, m.From)
				case mapping.Undated:
					into.Undate(m.IRI, row(m.Place))
				default:
					into.Spoilt(m.IRI, row(m.Place))
				}
			}}
		bar := a.progress("publishing", s)
		opt.Progress = bar.set
		_, err := line.Run(ctx, s.Program, opt, func(it *line.Item) error {
			where := row(it.Place())
			if len(it.Data) == 0 {
				into.Spoilt(it.IRI, where) // not valid
				return nil
			}
			return into.Put(&service.Record{IRI: it.IRI, State: service.Live, Class: it.Class.Key,
				Endpoint: it.Endpoint.Name, Label: it.Label, Body: it.Data, Keys: it.Keys, Sets: it.Sets}, where)
		})
		bar.done()
		if err != nil {
			return nil, err
		}
		var in []publish.Input
		for _, f := range rep.Files() {
			in = append(in, publish.Input{Source: f.Source, File: f.Name, Bytes: f.Size, Records: f.Records})
		}
		return in, nil
	}
	p, err := publish.Prepare(ctx, store, rules, walk)
	if err != nil {
		return nil, untouched(err)
	}
	return &sitePlan{Plan: p, found: found, left: left}, nil
}

// sitePlan is a plan, with the number of problems that the records have.
type sitePlan struct {
	*publish.Plan
	found int
	left  viewNotes
}

// publishEncoder writes JSON-LD, and nothing for a document that is not valid.
type publishEncoder struct {
	formatEncoder
	check checkEncoder
}

func (e *publishEncoder) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	bad := false
	note := func(r mapping.RecordProblem) {
		bad = bad || r.Rule != ruleLeftOut
		tell(r)
	}
	e.check.Encode(nil, d, m, note)
	if bad {
		return dst
	}
	from := len(dst)
	if dst = e.formatEncoder.Encode(dst, d, m, note); bad {
		return dst[:from]
	}
	return dst
}

// row says which row a record is.
func row(p source.Place) string {
	p.Column = ""
	return place(p)
}

// published says what a publication has done.
func (a *app) published(pub service.Publication) {
	sum, when := pub.Summary, pub.Time.Format(time.RFC3339)
	if sum.Changes() == 0 {
		fmt.Fprintf(a.stdout, "Nothing has changed: %s as in publication %d of %s.\n", count(sum.Unchanged, "document"), pub.Number, when)
		return
	}
	moved := ""
	if sum.Moved > 0 {
		moved = fmt.Sprintf(", %s moved", thousands(sum.Moved))
	}
	fmt.Fprintf(a.stdout, "Publication %d of %s: %s added, %s changed, %s unchanged, %s withdrawn, %s returned%s.\n", pub.Number, when,
		thousands(sum.Added), thousands(sum.Changed), thousands(sum.Unchanged), thousands(sum.Withdrawn), thousands(sum.Returned), moved)
}
