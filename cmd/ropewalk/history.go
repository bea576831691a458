package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/service"
	"ropewalk/service/publish"
)

type historyCmd struct {
	Site   string `arg:"" help:"The site's folder."`
	ID     string `arg:"" optional:"" help:"A document: its IRI, or its path below the base. Without it the publications are listed."`
	From   int    `placeholder:"N" help:"Compare this version of the document, counted from 1; the one before --to if not given."`
	To     int    `placeholder:"M" help:"With this version; the last one if not given."`
	Limit  int    `help:"How many publications to list, the newest first; 0 for all." default:"20"`
	Format string `help:"text, or json for programs." enum:"text,json" default:"text"`
}

func (c *historyCmd) Run(a *app) error {
	switch {
	case c.ID == "" && (c.From != 0 || c.To != 0):
		return &failure{exitUsage, "--from and --to compare versions of a document: name it behind the site"}
	case c.From < 0 || c.To < 0 || c.Limit < 0:
		return &failure{exitUsage, "versions and limits are counted from 1"}
	}
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	store, err := openPublished(storePath(c.Site, s), c.Site)
	if err != nil {
		return err
	}
	defer store.Close()
	if c.ID == "" {
		return c.publications(a, store)
	}
	return c.document(a, s, store)
}

// The JSON of history.
type (
	jsonSummary struct {
		Added     int `json:"added"`
		Changed   int `json:"changed"`
		Returned  int `json:"returned"`
		Withdrawn int `json:"withdrawn"`
		Moved     int `json:"moved"`
		Unchanged int `json:"unchanged"`
	}
	jsonPublication struct {
		Number  int64           `json:"number"`
		Time    string          `json:"time"`
		Summary jsonSummary     `json:"summary"`
		Note    string          `json:"note,omitempty"`
		Sources []publish.Input `json:"sources,omitempty"`
	}
	jsonVersion struct {
		Version     int    `json:"version"`
		Publication int64  `json:"publication"`
		Time        string `json:"time"`
		Change      string `json:"change"`
		State       string `json:"state"`
		Label       string `json:"label,omitempty"`
		MovedTo     string `json:"movedTo,omitempty"`
		Reason      string `json:"reason,omitempty"`
		Added       int    `json:"statementsAdded"`
		Removed     int    `json:"statementsRemoved"`
	}
	jsonDifference struct {
		ID      string   `json:"id"`
		From    int      `json:"from"`
		To      int      `json:"to"`
		Removed []string `json:"removed"` // N-Triples, a triple each
		Added   []string `json:"added"`
	}
)

func (a *app) json(v any) error {
	e := json.NewEncoder(a.stdout)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

func (c *historyCmd) publications(a *app, store service.Store) error {
	var all []service.Publication
	const part = 1000
	for before := int64(0); ; {
		n := part
		if c.Limit > 0 {
			n = min(part, c.Limit-len(all))
		}
		ps, err := store.Publications(a.ctx, before, n)
		if err != nil {
			return err
		}
		all = append(all, ps...)
		if len(ps) < n || len(all) == c.Limit {
			break
		}
		before = ps[len(ps)-1].Number
	}
	if len(all) == 0 {
		return fmt.Errorf("nothing is published yet: run ropewalk publish %s", c.Site)
	}
	if c.Format == "json" {
		out := []jsonPublication{}
		for _, p := range all {
			out = append(out, jsonPublication{p.Number, p.Time.Format(time.RFC3339), jsonSummary(p.Summary), p.Note, publish.Inputs(p.Sources)})
		}
		return a.json(map[string]any{"publications": out})
	}
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "publication\ttime\tadded\tchanged\treturned\twithdrawn\tmoved\tunchanged\t")
	for _, p := range all {
		u := p.Summary
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t", p.Number, p.Time.Format(time.RFC3339), thousands(u.Added), thousands(u.Changed),
			thousands(u.Returned), thousands(u.Withdrawn), thousands(u.Moved), thousands(u.Unchanged))
		if p.Note != "" {
			fmt.Fprintf(w, "  %s", p.Note)
		}
		fmt.Fprintln(w)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if last := all[len(all)-1].Number; last > 1 {
		fmt.Fprintf(a.stdout, "%s before these; --limit 0 lists all.\n", count(int(last-1), "publication"))
	}
	return nil
}

// versions are all versions of a record, without bodies.
func versions(ctx context.Context, store service.Store, path string) ([]service.Record, error) {
	const part = 1000
	var all []service.Record
	for after := int64(0); ; {
		vs, err := store.Versions(ctx, path, after, part)
		if err != nil {
			return nil, err
		}
		all = append(all, vs...)
		if len(vs) < part {
			return all, nil
		}
		after = vs[len(vs)-1].Seq
	}
}

func (c *historyCmd) document(a *app, s *site.Site, store service.Store) error {
	iri := c.ID
	if !strings.Contains(iri, "://") {
		iri = s.Base + strings.TrimPrefix(iri, "/")
	}
	path, ok := service.Path(s.Base, iri)
	if !ok {
		return fmt.Errorf("<%s> is not an address of this site", iri)
	}
	vs, err := versions(a.ctx, store, path)
	if service.CodeOf(err) == service.NotFound {
		return fmt.Errorf("nothing was ever published at <%s>", iri)
	}
	if err != nil {
		return err
	}
	if c.From != 0 || c.To != 0 {
		return c.compare(a, store, vs)
	}
	out := make([]jsonVersion, len(vs))
	var before *service.Record
	for i := range vs {
		v, err := store.Version(a.ctx, vs[i].Seq)
		if err != nil {
			return err
		}
		removed, added, err := publish.Statements(before, v)
		if err != nil {
			return err
		}
		out[i] = jsonVersion{i + 1, v.Publication, v.Modified.UTC().Format(time.RFC3339), v.Change.String(), v.State.String(), v.Label, v.MovedTo, v.Reason, len(added), len(removed)}
		before = v
	}
	last := &vs[len(vs)-1]
	if c.Format == "json" {
		return a.json(map[string]any{"id": last.IRI, "versions": out})
	}
	paint := &painter{w: a.stdout, color: colorful(a.stdout)}
	fmt.Fprintf(a.stdout, "%s  %s\n\n", paint.bold("<"+last.IRI+">"), last.Label)
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "version\tpublication\ttime\tchange\tstatements")
	for _, v := range out {
		note := ""
		switch {
		case v.MovedTo != "":
			note = ", to <" + v.MovedTo + ">"
		case v.Reason != "":
			note = ": " + v.Reason
		}
		fmt.Fprintf(w, "%d\t%d\t%s\t%s\t+%d −%d\n", v.Version, v.Publication, v.Time, v.Change+note, v.Added, v.Removed)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if len(out) > 1 {
		fmt.Fprintf(a.stdout, "\nWhat changed: --from %d --to %d\n", len(out)-1, len(out))
	}
	return nil
}

// compare prints what differs between two versions.
func (c *historyCmd) compare(a *app, store service.Store, vs []service.Record) error {
	from, to := c.From, c.To
	if to == 0 {
		to = len(vs)
	}
	if from == 0 {
		from = to - 1
	}
	if from > len(vs) || to > len(vs) {
		return fmt.Errorf("<%s> has %s", vs[0].IRI, count(len(vs), "version"))
	}
	var before *service.Record // nothing, before the first
	var err error
	if from > 0 {
		if before, err = store.Version(a.ctx, vs[from-1].Seq); err != nil {
			return err
		}
	}
	after, err := store.Version(a.ctx, vs[to-1].Seq)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		removed, added, err := publish.Statements(before, after)
		if err != nil {
			return err
		}
		d := jsonDifference{ID: after.IRI, From: from, To: to}
		if d.Removed, err = nTriples(removed); err != nil {
			return err
		}
		if d.Added, err = nTriples(added); err != nil {
			return err
		}
		return a.json(d)
	}
	paint := &painter{w: a.stdout, color: colorful(a.stdout)}
	fmt.Fprintf(a.stdout, "%s  %s\n", paint.bold("<"+after.IRI+">"), after.Label)
	for _, x := range []struct {
		sign string
		n    int
		r    *service.Record
	}{{"−", from, before}, {"+", to, after}} {
		if x.r != nil {
			fmt.Fprintf(a.stdout, "%s version %d: publication %d of %s, %s\n", x.sign, x.n, x.r.Publication, x.r.Modified.UTC().Format(time.RFC3339), x.r.State)
		}
	}
	fmt.Fprintln(a.stdout)
	return a.difference("", before, after, 1<<30)
}

// nTriples writes triples one by one.
func nTriples(ts []entity.Triple) ([]string, error) {
	out := []string{}
	var b bytes.Buffer
	w, err := render.NewTripleWriter(&b, render.FormatByName("nt"))
	if err != nil {
		return nil, err
	}
	for _, t := range ts {
		if err := w.Write(t); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	for l := range strings.Lines(b.String()) {
		out = append(out, strings.TrimSuffix(l, "\n"))
	}
	return out, nil
}
