package storetest

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"ropewalk/service"
)

// Model is a store in memory, written for nothing but being right: every answer is
// worked out from the list of all versions. It has one draft at a time only if its
// user sees to that.
type Model struct {
	now   func() time.Time
	log   []service.Record // Seq i+1 at i
	pubs  []service.Publication
	marks map[string]int64
}

// NewModel makes an empty model that takes its time from now.
func NewModel(now func() time.Time) *Model { return &Model{now: now, marks: map[string]int64{}} }

func copyOf(r service.Record, bodies bool) service.Record {
	r.Body, r.Sets = slices.Clone(r.Body), slices.Clone(r.Sets)
	if !bodies {
		r.Body, r.Keys = nil, ""
	}
	return r
}

// present is the last version at each path.
func (m *Model) present() map[string]service.Record {
	out := map[string]service.Record{}
	for _, r := range m.log {
		out[r.Path] = r
	}
	return out
}

func missing() error { return service.Errorf(service.NotFound, "none") }

// Get implements [service.Store].
func (m *Model) Get(_ context.Context, path string) (*service.Record, error) {
	r, ok := m.present()[path]
	if !ok {
		return nil, missing()
	}
	r = copyOf(r, true)
	return &r, nil
}

// Labels implements [service.Store].
func (m *Model) Labels(_ context.Context, paths []string) (map[string]string, error) {
	out, now := map[string]string{}, m.present()
	for _, p := range paths {
		if r := now[p]; r.State == service.Live {
			out[p] = r.Label
		}
	}
	return out, nil
}

func (m *Model) live() []service.Record {
	var out []service.Record
	for _, r := range m.present() {
		if r.State == service.Live {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b service.Record) int { return strings.Compare(a.Path, b.Path) })
	return out
}

// List implements [service.Store].
func (m *Model) List(_ context.Context, l service.Listing) ([]service.Entry, error) {
	var out []service.Entry
	for _, r := range m.live() {
		if r.Endpoint == l.Endpoint && r.Path > l.After && len(out) < l.Limit {
			out = append(out, service.Entry{IRI: r.IRI, Path: r.Path, Class: r.Class, Label: r.Label})
		}
	}
	return out, nil
}

// Tallies implements [service.Store].
func (m *Model) Tallies(context.Context) ([]service.Tally, error) {
	n := map[string]int{}
	for _, r := range m.live() {
		n[r.Endpoint]++
	}
	var out []service.Tally
	for _, e := range slices.Sorted(maps.Keys(n)) {
		out = append(out, service.Tally{Endpoint: e, Live: n[e]})
	}
	return out, nil
}

// in reports whether a version is in what s asks for.
func in(r service.Record, s service.Selection) bool {
	if s.Endpoint != "" {
		return r.Endpoint == s.Endpoint
	}
	return s.Set == "" || slices.ContainsFunc(r.Sets, func(set string) bool {
		return set == s.Set || strings.HasPrefix(set, s.Set+":")
	})
}

// selected is all that s takes in, After and Limit left aside.
func (m *Model) selected(s service.Selection) []service.Record {
	byPath := map[string][]service.Record{}
	for _, r := range m.log {
		byPath[r.Path] = append(byPath[r.Path], r)
	}
	var out []service.Record
	for _, versions := range byPath {
		r := versions[len(versions)-1]
		if !in(r, s) {
			// The version after the last one that was in it.
			last := -1
			for i, v := range versions {
				if in(v, s) {
					last = i
				}
			}
			if last < 0 {
				continue
			}
			r = versions[last+1]
			r.Left = true
		}
		if (s.Through == 0 || r.Seq <= s.Through) && !r.Modified.Before(s.From) && (s.Until.IsZero() || !r.Modified.After(s.Until)) {
			out = append(out, copyOf(r, s.Bodies))
		}
	}
	slices.SortFunc(out, func(a, b service.Record) int { return cmp.Compare(a.Seq, b.Seq) })
	return out
}

// Changes implements [service.Store].
func (m *Model) Changes(_ context.Context, s service.Selection) ([]service.Record, error) {
	if s.Set != "" && s.Endpoint != "" {
		return nil, service.Errorf(service.Invalid, "both")
	}
	var out []service.Record
	for _, r := range m.selected(s) {
		if r.Seq > s.After && len(out) < s.Limit {
			out = append(out, r)
		}
	}
	return out, nil
}

// Count implements [service.Store].
func (m *Model) Count(_ context.Context, s service.Selection) (int64, bool, error) {
	if s.Set != "" && s.Endpoint != "" {
		return 0, false, service.Errorf(service.Invalid, "both")
	}
	return int64(len(m.selected(s))), true, nil
}

// Log implements [service.Store].
func (m *Model) Log(_ context.Context, after int64, limit int) ([]service.Record, error) {
	var out []service.Record
	for _, r := range m.log {
		if r.Seq > after && len(out) < limit {
			out = append(out, copyOf(r, false))
		}
	}
	return out, nil
}

// Walk implements [service.Store].
func (m *Model) Walk(ctx context.Context, f func(*service.Record) error) (service.Publication, error) {
	for _, r := range m.live() {
		r = copyOf(r, true)
		if err := f(&r); err != nil {
			return service.Publication{}, err
		}
	}
	return m.Current(ctx)
}

// Versions implements [service.Store].
func (m *Model) Versions(_ context.Context, path string, after int64, limit int) ([]service.Record, error) {
	var out []service.Record
	known := false
	for _, r := range m.log {
		known = known || r.Path == path
		if r.Path == path && r.Seq > after && len(out) < limit {
			out = append(out, copyOf(r, false))
		}
	}
	if !known {
		return nil, missing()
	}
	return out, nil
}

// Version implements [service.Store].
func (m *Model) Version(_ context.Context, seq int64) (*service.Record, error) {
	if seq < 1 || seq > int64(len(m.log)) {
		return nil, missing()
	}
	r := copyOf(m.log[seq-1], true)
	return &r, nil
}

// At implements [service.Store].
func (m *Model) At(_ context.Context, path string, t time.Time) (*service.Record, error) {
	var found *service.Record
	for _, r := range m.log {
		if r.Path == path && (found == nil || !r.Modified.After(t)) {
			r = copyOf(r, true)
			found = &r
		}
	}
	if found == nil {
		return nil, missing()
	}
	return found, nil
}

// Current implements [service.Store].
func (m *Model) Current(context.Context) (service.Publication, error) {
	if len(m.pubs) == 0 {
		return service.Publication{}, nil
	}
	return m.pubs[len(m.pubs)-1], nil
}

// Publications implements [service.Store].
func (m *Model) Publications(_ context.Context, before int64, limit int) ([]service.Publication, error) {
	var out []service.Publication
	for _, p := range slices.Backward(m.pubs) {
		if (before == 0 || p.Number < before) && len(out) < limit {
			out = append(out, p)
		}
	}
	return out, nil
}

// Earliest implements [service.Store].
func (m *Model) Earliest(context.Context) (time.Time, error) {
	if len(m.pubs) == 0 {
		return time.Time{}, nil
	}
	return m.pubs[0].Time, nil
}

// Mark implements [service.Store].
func (m *Model) Mark(_ context.Context, name string) (int64, error) { return m.marks[name], nil }

// SetMark implements [service.Store].
func (m *Model) SetMark(_ context.Context, name string, seq int64) error {
	m.marks[name] = seq
	return nil
}

// Close implements [service.Store].
func (m *Model) Close() error { return nil }

// Begin implements [service.Store].
func (m *Model) Begin(context.Context) (service.Draft, error) {
	return &modelDraft{m: m, was: m.present(), put: map[string]service.Record{}}, nil
}

type modelDraft struct {
	m             *Model
	was           map[string]service.Record
	put           map[string]service.Record // with Change
	order         []string
	note, sources string
	ended         bool
}

func clash() error { return service.Errorf(service.Conflict, "clash") }

// target is the path to which a record moved, if that lies below the same base.
func target(r service.Record) (string, bool) {
	return service.Path(strings.TrimSuffix(r.IRI, r.Path), r.MovedTo)
}

// chain is where a record moved to, as published, hop by hop.
func (d *modelDraft) chain(path string) []string {
	var out []string
	for at := path; d.was[at].State == service.Moved; {
		next, ok := target(d.was[at])
		if !ok || next == path || slices.Contains(out, next) {
			break
		}
		out = append(out, next)
		at = next
	}
	return out
}

func (d *modelDraft) Put(r *service.Record) (service.Change, error) {
	if d.ended {
		return 0, service.Errorf(service.Internal, "ended")
	}
	if err := r.Check(); err != nil {
		return 0, err
	}
	if _, ok := d.put[r.Path]; ok {
		return 0, clash()
	}
	was, known := d.was[r.Path]
	if known && was.IRI != r.IRI {
		return 0, clash()
	}
	c := copyOf(*r, true)
	if r.State == service.Live {
		// Whoever is back at an old address, and whatever it moved to.
		live := map[string]bool{r.Path: true}
		for p, o := range d.put {
			live[p] = o.State == service.Live
		}
		for p := range live {
			if live[p] && slices.ContainsFunc(d.chain(p), func(t string) bool { return live[t] }) {
				return 0, clash()
			}
		}
	} else if known && c.Class == "" && c.Label == "" {
		c.Class, c.Endpoint, c.Label = was.Class, was.Endpoint, was.Label
		if len(c.Sets) == 0 {
			c.Sets = slices.Clone(was.Sets)
		}
	}
	slices.Sort(c.Sets)
	c.Prev, c.Digest = was.Seq, c.ContentDigest()
	switch {
	case known && was.Digest == c.Digest:
		c.Change = service.Unchanged
	case known && was.State == c.State:
		c.Change = service.Changed
	case c.State == service.Gone:
		c.Change = service.Withdrawn
	case c.State == service.Moved:
		c.Change = service.Relocated
	case known:
		c.Change = service.Returned
	default:
		c.Change = service.Added
	}
	d.put[c.Path] = c
	if c.Change != service.Unchanged {
		d.order = append(d.order, c.Path)
	}
	return c.Change, nil
}

func (d *modelDraft) end(path string, r service.Record) (service.Change, error) {
	if d.ended {
		return 0, service.Errorf(service.Internal, "ended")
	}
	was, ok := d.was[path]
	if !ok {
		if was, ok = d.put[path]; !ok {
			return 0, missing()
		}
	}
	r.IRI, r.Path = was.IRI, path
	return d.Put(&r)
}

func (d *modelDraft) Withdraw(path, reason string) (service.Change, error) {
	return d.end(path, service.Record{State: service.Gone, Reason: reason})
}

func (d *modelDraft) Move(path, iri string) (service.Change, error) {
	return d.end(path, service.Record{State: service.Moved, MovedTo: iri})
}

func (d *modelDraft) Annotate(note, sources string) { d.note, d.sources = note, sources }

func (d *modelDraft) Last() service.Publication {
	p, _ := d.m.Current(context.Background())
	return p
}

func (d *modelDraft) Live() int { return len(d.m.live()) }

func (d *modelDraft) Review() service.Summary {
	var s service.Summary
	for _, r := range d.put {
		s.Count(r.Change)
	}
	s.Withdrawn += len(d.rest())
	return s
}

// rest are the tombstones of live records that were not put.
func (d *modelDraft) rest() []service.Record {
	var out []service.Record
	for path, r := range d.was {
		if _, ok := d.put[path]; ok || r.State != service.Live {
			continue
		}
		g := service.Record{IRI: r.IRI, Path: path, State: service.Gone, Class: r.Class, Endpoint: r.Endpoint, Label: r.Label,
			Sets: slices.Clone(r.Sets), Prev: r.Seq, Change: service.Withdrawn}
		g.Digest = g.ContentDigest()
		out = append(out, g)
	}
	slices.SortFunc(out, func(a, b service.Record) int { return cmp.Compare(a.Prev, b.Prev) })
	return out
}

func (d *modelDraft) Withdrawals(limit int) []string {
	var out []string
	for _, r := range d.rest() {
		if len(out) < limit {
			out = append(out, r.Path)
		}
	}
	return out
}

func (d *modelDraft) Differences(kind service.Change, limit int) ([]service.Difference, error) {
	if d.ended {
		return nil, service.Errorf(service.Internal, "ended")
	}
	var all []service.Record
	for _, p := range d.order {
		all = append(all, d.put[p])
	}
	var out []service.Difference
	for _, r := range append(all, d.rest()...) {
		if r.Change != kind || len(out) >= limit {
			continue
		}
		diff := service.Difference{Change: kind}
		if was, ok := d.was[r.Path]; ok {
			was = copyOf(was, true)
			diff.Before = &was
		}
		after := copyOf(r, true)
		after.Prev, after.Digest = 0, service.Digest{}
		diff.After = &after
		out = append(out, diff)
	}
	return out, nil
}

func (d *modelDraft) Check() error {
	if d.ended {
		return service.Errorf(service.Internal, "ended")
	}
	final := maps.Clone(d.was)
	for _, r := range d.rest() {
		final[r.Path] = r
	}
	maps.Copy(final, d.put)
	for _, r := range d.put {
		if r.State != service.Moved || r.Change == service.Unchanged {
			continue
		}
		seen := map[string]bool{r.Path: true}
		for at := r; at.State != service.Live; {
			next, ok := target(at)
			if at.State == service.Moved && !ok {
				break
			}
			if at.State != service.Moved || seen[next] {
				return clash()
			}
			seen[next] = true
			at = final[next]
		}
	}
	return nil
}

func (d *modelDraft) Commit(ctx context.Context) (service.Publication, error) {
	if d.ended {
		return service.Publication{}, service.Errorf(service.Internal, "ended")
	}
	err := d.Check()
	d.ended = true
	if err != nil {
		return service.Publication{}, err
	}
	last := d.Last()
	sum := d.Review()
	if sum.Changes() == 0 {
		last.Summary = sum
		return last, nil
	}
	p := service.Publication{Number: last.Number + 1, Time: service.NextTime(last.Time, d.m.now()), Summary: sum,
		First: last.Last + 1, Note: d.note, Sources: d.sources}
	rest := d.rest()
	for _, path := range d.order {
		d.m.add(d.put[path], p)
	}
	for _, r := range rest {
		d.m.add(r, p)
	}
	p.Last = int64(len(d.m.log))
	d.m.pubs = append(d.m.pubs, p)
	return p, nil
}

func (m *Model) add(r service.Record, p service.Publication) {
	r.Seq, r.Publication, r.Modified = int64(len(m.log))+1, p.Number, p.Time
	m.log = append(m.log, r)
}

func (d *modelDraft) Discard() error {
	d.ended = true
	return nil
}
