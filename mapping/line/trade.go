package line

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/cespare/xxhash/v2"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
	"ropewalk/mapping/trade"
)

// Waived is something that breaks a rule of the trade and is waived.
type Waived struct {
	Rule    string
	Because string
	Sides   []mapping.Side
}

// ProblemIdle is a waiver that waives nothing.
const ProblemIdle mapping.ProblemRule = "idle-waiver"

func newLedger(opt Options) *trade.Ledger {
	if !opt.Trade {
		return nil
	}
	return trade.NewLedger()
}

// wants says which facts can matter: measures where the program makes objects that are
// parts of others, places where it moves or shows things.
func wants(p *mapping.Program) trade.Wants {
	moves := p.Makes("Move")
	return trade.Wants{Measures: p.Fills("HumanMadeObject", "part_of"), Moves: moves,
		Stays: moves || p.Fills("HumanMadeObject", "used_for") || p.Fills("Activity", "used_specific_object")}
}

// take notes what the rules of the trade have to know of a document.
func (w *worker) take(d *entity.Document, m mapping.Meta) int {
	var own []trade.RuleID
	for _, v := range m.Waivers {
		if r, ok := trade.ByName(v.Rule); ok && v.Own {
			own = append(own, r)
		}
	}
	return w.from.TakeWaived(&w.res.facts, d, own)
}

// breach is a finding with what its documents say.
type breach struct {
	trade.Finding
	sides   []mapping.Side
	waivers []mapping.Waiver
}

// scene is a document about which there is something to say, made again with the
// cells of its statements.
type scene struct {
	iri, label string
	evs        map[int32]mapping.Side
	waivers    []mapping.Waiver
}

// breaches tells what breaks the rules of the trade. Which cells are to blame nobody
// has kept: the records concerned are read again.
func (g *gatherer) breaches(ctx context.Context, p *mapping.Program) error {
	if g.ledger == nil {
		return nil
	}
	found := g.ledger.Findings()
	scenes := map[trade.ID]*scene{}
	want := func(id trade.ID) *scene {
		s := scenes[id]
		if s == nil {
			s = &scene{evs: map[int32]mapping.Side{}}
			scenes[id] = s
		}
		return s
	}
	for _, f := range found {
		for _, s := range f.Sides {
			want(s.Doc).evs[s.Ev] = mapping.Side{}
		}
		for _, doc := range f.Docs() {
			want(doc)
		}
	}
	type own struct {
		doc  trade.ID
		rule trade.RuleID
	}
	idle := map[own]bool{}
	g.ledger.Waivers(func(doc trade.ID, rule trade.RuleID) {
		want(doc)
		idle[own{doc, rule}] = true
	})
	general := map[mapping.Span]bool{}
	if len(scenes) > 0 {
		if err := g.revisit(ctx, p, scenes); err != nil {
			return err
		}
	}
	var told []breach
	for _, f := range found {
		b := breach{Finding: f}
		for _, s := range f.Sides {
			b.sides = append(b.sides, scenes[s.Doc].evs[s.Ev])
		}
		rule := f.Rule.Rule().Name
		for _, doc := range f.Docs() {
			for _, w := range scenes[doc].waivers {
				if w.Rule != rule {
					continue
				}
				b.waivers = append(b.waivers, w)
				if w.Own {
					delete(idle, own{doc, f.Rule})
				} else {
					general[w.Span] = true
				}
			}
		}
		told = append(told, b)
	}
	slices.SortStableFunc(told, func(a, b breach) int {
		return cmp.Or(cmp.Compare(a.Rule, b.Rule), slices.CompareFunc(a.sides, b.sides, compareSides))
	})
	for i := range told {
		g.breach(&told[i])
	}
	var left []mapping.RecordProblem
	for o := range idle {
		s := scenes[o.doc]
		for _, w := range s.waivers {
			if w.Own && w.Rule == o.rule.Rule().Name {
				left = append(left, mapping.RecordProblem{Rule: ProblemIdle, Severity: mapping.Notice, IRI: s.iri, Places: w.Places, Span: w.Span, Value: w.Rule,
					Message: fmt.Sprintf("the rule %q is waived, and the document does not break it", w.Rule)})
			}
		}
	}
	slices.SortFunc(left, func(a, b mapping.RecordProblem) int {
		return cmp.Or(cmp.Compare(a.IRI, b.IRI), cmp.Compare(a.Value, b.Value), cmp.Compare(a.Span.Line, b.Span.Line))
	})
	for _, w := range p.Waivers() {
		if !general[w.Span] {
			left = append(left, mapping.RecordProblem{Rule: ProblemIdle, Severity: mapping.Notice, Span: w.Span, Value: w.Rule,
				Message: fmt.Sprintf("the mapping waives the rule %q, and none of its documents breaks it", w.Rule)})
		}
	}
	g.tell(left)
	return nil
}

func compareSides(a, b mapping.Side) int {
	return cmp.Or(cmp.Compare(a.IRI, b.IRI), cmp.Compare(a.What, b.What), cmp.Compare(a.Says, b.Says))
}

// breach tells of one, if it is not waived.
func (g *gatherer) breach(b *breach) {
	rule := b.Rule.Rule()
	if len(b.waivers) > 0 {
		if g.opt.Waived != nil {
			g.opt.Waived(Waived{Rule: rule.Name, Because: b.waivers[0].Because, Sides: b.sides})
		}
		return
	}
	r := mapping.RecordProblem{Rule: mapping.ProblemRule(rule.Name), Severity: rule.Severity, Message: rule.About, Sides: b.sides, IRI: b.sides[0].IRI}
	for _, s := range b.sides {
		r.Places = append(r.Places, s.Places...)
		if r.Span.File == "" {
			r.Span = s.Span
		}
	}
	g.tell([]mapping.RecordProblem{r})
}

var errEnough = errors.New("all records found")

// revisit makes the documents of some records again, and notes what they say and from
// which cells.
func (g *gatherer) revisit(ctx context.Context, p *mapping.Program, scenes map[trade.ID]*scene) error {
	type record struct {
		file string
		row  int
	}
	rows := map[record]bool{}
	left := 0
	for id := range scenes {
		if at, ok := g.seen.find(uint64(id)); ok { // an object may have no record of its own
			left++
			file, row := g.seen.place(at)
			rows[record{file, row}] = true
		}
	}
	run := p.NewRun()
	run.Now, run.Trace = g.opt.Now, true
	emit := func(d *entity.Document, m mapping.Meta) error {
		s := scenes[trade.ID(xxhash.Sum64String(d.IRI()))]
		if s == nil || s.iri != "" {
			return nil
		}
		s.iri, s.label, s.waivers = strings.Clone(d.IRI()), strings.Clone(d.Label()), m.Waivers
		for ev := range s.evs {
			s.evs[ev] = side(p, run, d, int(ev))
		}
		if left--; left == 0 {
			return errEnough
		}
		return nil
	}
	for _, sp := range p.Sources {
		err := sp.Source.Read(ctx, sp.Layout, source.Options{Rows: g.opt.Rows}, func(b *source.Batch) error {
			defer b.Release()
			for i := range b.Rows {
				row := &b.Rows[i]
				if row.File == nil || !rows[record{row.File.Name, row.Num}] {
					continue
				}
				if err := run.Record(sp, row, emit); err != nil {
					return err
				}
			}
			return nil
		})
		if errors.Is(err, errEnough) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// side says what stands at a node of a document.
func side(p *mapping.Program, run *mapping.Run, d *entity.Document, at int) mapping.Side {
	evs := d.Events()
	s := mapping.Side{IRI: strings.Clone(d.IRI()), Label: strings.Clone(d.Label()), What: trade.What(evs, at), Says: strings.Clone(trade.Says(evs, at))}
	if o, ok := p.Origin(evs[at].Origin); ok {
		s.Span = o.Span
	}
	trade.Cells(evs, at, func(i int) {
		for _, pl := range run.Places(i) {
			pl.Value = strings.Clone(pl.Value)
			if !slices.Contains(s.Places, pl) {
				s.Places = append(s.Places, pl)
			}
		}
	})
	return s
}
