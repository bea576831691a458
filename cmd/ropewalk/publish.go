package main

import (
	"context"
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
	"ropewalk/service/store/postgres"
	"ropewalk/service/store/sqlite"
)

type publishCmd struct {
	Site    string `arg:"" help:"The site's folder."`
	Workers int    `help:"How many processors to use." default:"${workers}"`
}

func (c *publishCmd) Run(a *app) error {
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	store, err := openStore(storePath(c.Site, s))
	if err != nil {
		return err
	}
	defer store.Close()
	pub, found, err := a.publish(a.ctx, s, store, c.Workers)
	if err != nil {
		return err
	}
	sum := pub.Summary
	if sum.Added+sum.Changed+sum.Withdrawn+sum.Returned == 0 {
		fmt.Fprintf(a.stdout, "Nothing has changed: %s as in publication %d of %s.\n", count(sum.Unchanged, "document"), pub.Number, pub.Time.Format(time.RFC3339))
	} else {
		fmt.Fprintf(a.stdout, "Publication %d of %s: %s added, %s changed, %s unchanged, %s withdrawn, %s returned.\n", pub.Number,
			pub.Time.Format(time.RFC3339), thousands(sum.Added), thousands(sum.Changed), thousands(sum.Unchanged), thousands(sum.Withdrawn), thousands(sum.Returned))
	}
	if found > 0 {
		fmt.Fprintf(a.stderr, "The records have %s; ropewalk check shows %s. What has a problem was left out or kept in words.\n", count(found, "problem"), them(found))
	}
	return nil
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

// publish makes a publication of all that the site's records give.
func (a *app) publish(ctx context.Context, s *site.Site, store service.Store, workers int) (service.Publication, int, error) {
	found := 0
	checker := validate.NewChecker()
	draft, err := store.Begin(ctx)
	if err != nil {
		return service.Publication{}, 0, err
	}
	defer func() { _ = draft.Discard() }()
	opt := line.Options{Workers: workers, Report: &source.Report{}, Describe: true,
		NewEncoder: func() line.Encoder {
			return &publishEncoder{formatEncoder{render.NewEncoder(render.FormatByName("jsonld"), render.Options{})}, checkEncoder{checker: checker}}
		},
		Problem: func(mapping.RecordProblem) { found++ }}
	bar := a.progress("publishing", s)
	opt.Progress = bar.set
	_, err = line.Run(ctx, s.Program, opt, func(it *line.Item) error {
		if len(it.Data) == 0 {
			return nil // not valid: left out and counted
		}
		path, ok := service.Path(s.Base, it.IRI)
		if !ok {
			found++
			return nil // not an address of this site
		}
		_, err := draft.Put(&service.Record{IRI: it.IRI, Path: path, State: service.Live, Class: it.Class.Key,
			Endpoint: it.Endpoint.Name, Label: it.Label, Body: it.Data, Keys: it.Keys, Sets: it.Sets})
		return err
	})
	bar.done()
	if err != nil {
		return service.Publication{}, found, fmt.Errorf("%w\nNothing was published; what was published before is untouched", err)
	}
	pub, err := draft.Commit(ctx)
	return pub, found, err
}

// publishEncoder writes JSON-LD, and nothing for a document that is not valid.
type publishEncoder struct {
	formatEncoder
	check checkEncoder
}

func (e *publishEncoder) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	bad := false
	e.check.Encode(nil, d, m, func(r mapping.RecordProblem) {
		bad = true
		tell(r)
	})
	if bad {
		return dst
	}
	return e.formatEncoder.Encode(dst, d, m, tell)
}
