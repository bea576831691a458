package trade

import (
	"cmp"
	"slices"
)

// Finding is that documents break a rule.
type Finding struct {
	Rule  RuleID
	Sides []Side // what contradicts what
	About ID     // the object of which the sides speak, if they need not be its own; else 0
}

// Docs are the documents whose waivers count for a finding: those of its sides, and that
// of the object of which they speak.
func (f *Finding) Docs() []ID {
	var out []ID
	for _, s := range f.Sides {
		if !slices.Contains(out, s.Doc) {
			out = append(out, s.Doc)
		}
	}
	if f.About != 0 && !slices.Contains(out, f.About) {
		out = append(out, f.About)
	}
	return out
}

// Side is a place in a document: the node at the index Ev of its events.
type Side struct {
	Doc ID
	Ev  int32
}

type waiver struct {
	doc  ID
	rule RuleID
}

// Ledger keeps what the rules have to know of all documents. Batches may be taken in
// any order: what it tells is the same.
type Ledger struct {
	lives map[ID]life
	notes // of takes, those of which it is not known yet whether they hold
}

// NewLedger returns an empty ledger.
func NewLedger() *Ledger { return &Ledger{lives: map[ID]life{}} }

// Take takes over the facts of the document that is number i of a batch.
func (l *Ledger) Take(b *Batch, i int) {
	var from mark
	if i > 0 {
		from = b.marks[i-1]
	}
	to := b.marks[i]
	for _, x := range b.lives[from.lives:to.lives] {
		l.lives[x.who] = x.life
	}
	for _, t := range b.takes[from.takes:to.takes] {
		if x, ok := l.lives[t.who]; ok {
			l.judge(&t, &x)
		} else if t.who != t.doc { // nothing but its own document tells of a life
			l.takes = append(l.takes, t)
		}
	}
	for _, t := range b.transfers[from.transfers:to.transfers] {
		n := uint32(t.givers) + uint32(t.receivers)
		at := uint32(len(l.parties))
		l.parties = append(l.parties, b.parties[t.at:t.at+n]...)
		t.at = at
		l.transfers = append(l.transfers, t)
	}
	l.owners = append(l.owners, b.owners[from.owners:to.owners]...)
	l.stays = append(l.stays, b.stays[from.stays:to.stays]...)
	l.shows = append(l.shows, b.shows[from.shows:to.shows]...)
	l.homes = append(l.homes, b.homes[from.homes:to.homes]...)
	l.insides = append(l.insides, b.insides[from.insides:to.insides]...)
	l.sizes = append(l.sizes, b.sizes[from.sizes:to.sizes]...)
	l.accessions = append(l.accessions, b.accessions[from.accessions:to.accessions]...)
	l.found = append(l.found, b.found[from.found:to.found]...)
	l.waivers = append(l.waivers, b.waivers[from.waivers:to.waivers]...)
}

// judge holds an event against the life of somebody or something in it.
func (l *Ledger) judge(t *take, x *life) {
	early := before(t.to, x.begin)
	late := before(x.end, t.from)
	if !early && !late {
		return
	}
	rule := BeforeParticipant
	switch {
	case early && (t.role == thing || t.role == used):
		rule = BeforeMaking
	case early:
	case t.role == thing:
		rule = AfterDestruction
	case t.role == giver || t.role == participant || t.role == used:
		return // estates give, the dead are remembered, and what is gone is claimed
	case t.class == making || t.class == creating:
		rule = PosthumousMaking
	default:
		rule = AfterParticipant
	}
	ev := x.evBegin
	if !early {
		ev = x.evEnd
	}
	l.found = append(l.found, Finding{Rule: rule, Sides: []Side{{t.doc, t.ev}, {t.who, ev}}})
}

// Findings tells what breaks the rules, in an order that does not depend on that of
// the batches: by rule, then by the documents. The ledger takes nothing after it.
func (l *Ledger) Findings() []Finding {
	for i := range l.takes {
		if x, ok := l.lives[l.takes[i].who]; ok {
			l.judge(&l.takes[i], &x)
		}
	}
	l.takes = nil
	l.chains()
	l.whereabouts()
	l.lives = nil
	l.parts()
	slices.SortFunc(l.found, compareFindings)
	return slices.CompactFunc(l.found, func(a, b Finding) bool { return compareFindings(a, b) == 0 })
}

func compareFindings(a, b Finding) int {
	return cmp.Or(cmp.Compare(a.Rule, b.Rule), slices.CompareFunc(a.Sides, b.Sides, compareSides), cmp.Compare(a.About, b.About))
}

func compareSides(a, b Side) int { return cmp.Or(cmp.Compare(a.Doc, b.Doc), cmp.Compare(a.Ev, b.Ev)) }

// Waivers calls f for every waiver that a record has of its own.
func (l *Ledger) Waivers(f func(doc ID, rule RuleID)) {
	for _, w := range l.waivers {
		f(w.doc, w.rule)
	}
}

// group calls f for each run of elements with one key, of a sorted list.
func group[T any](list []T, key func(*T) ID, f func([]T)) {
	for from := 0; from < len(list); {
		to := from + 1
		for to < len(list) && key(&list[to]) == key(&list[from]) {
			to++
		}
		f(list[from:to])
		from = to
	}
}
