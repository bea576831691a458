package trade

import (
	"cmp"
	"slices"
)

// deed is a change of owner, told by one document or by several alike.
type deed struct {
	from, to          Day
	givers, receivers []ID // sorted
	side              Side
}

// chains goes through the owners of each object.
func (l *Ledger) chains() {
	slices.SortFunc(l.transfers, func(a, b transfer) int {
		return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to), cmp.Compare(a.doc, b.doc), cmp.Compare(a.ev, b.ev))
	})
	slices.SortFunc(l.owners, func(a, b owned) int {
		return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.who, b.who), cmp.Compare(a.ev, b.ev))
	})
	slices.SortFunc(l.accessions, func(a, b accession) int { return cmp.Or(cmp.Compare(a.object, b.object), cmp.Compare(a.ev, b.ev)) })
	owners, numbers := l.owners, l.accessions
	group(l.transfers, func(t *transfer) ID { return t.object }, func(ts []transfer) {
		object := ts[0].object
		owners = skip(owners, func(o *owned) bool { return o.object < object })
		numbers = skip(numbers, func(a *accession) bool { return a.object < object })
		var now []owned
		for i := 0; i < len(owners) && owners[i].object == object; i++ {
			now = append(now, owners[i])
		}
		deeds := l.deeds(ts)
		l.overlaps(object, deeds, now)
		l.gaps(object, deeds, now)
		for i := 0; i < len(numbers) && numbers[i].object == object; i++ {
			l.accession(numbers[i], deeds, now)
		}
	})
}

func skip[T any](list []T, f func(*T) bool) []T {
	for len(list) > 0 && f(&list[0]) {
		list = list[1:]
	}
	return list
}

// deeds puts what several documents tell of one change of owner together: they name
// the same givers or the same receivers, do not differ in the others as far as both
// name any, and there is a day on which both can have been.
func (l *Ledger) deeds(ts []transfer) []deed {
	var out []deed
	for _, t := range ts {
		d := deed{from: t.from, to: t.to, side: Side{t.doc, t.ev}}
		d.givers = sorted(l.parties[t.at : t.at+uint32(t.givers)])
		d.receivers = sorted(l.parties[t.at+uint32(t.givers) : t.at+uint32(t.givers)+uint32(t.receivers)])
		i := slices.IndexFunc(out, func(o deed) bool {
			return sameDeed(&o, &d)
		})
		if i < 0 {
			out = append(out, d)
			continue
		}
		o := &out[i]
		o.from, o.to = max(o.from, d.from), min(o.to, d.to)
		if len(o.givers) == 0 {
			o.givers = d.givers
		}
		if len(o.receivers) == 0 {
			o.receivers = d.receivers
		}
	}
	return out
}

func sorted(ids []ID) []ID {
	out := slices.Clone(ids)
	slices.Sort(out)
	return slices.Compact(out)
}

func sameDeed(a, b *deed) bool {
	agree := func(a, b []ID) bool { return len(a) == 0 || len(b) == 0 || slices.Equal(a, b) }
	same := func(a, b []ID) bool { return len(a) > 0 && slices.Equal(a, b) }
	return a.from <= b.to && b.from <= a.to && agree(a.givers, b.givers) && agree(a.receivers, b.receivers) &&
		(same(a.givers, b.givers) || same(a.receivers, b.receivers))
}

// tenure is the time for which somebody surely owned an object.
type tenure struct {
	who         ID
	gain, loss  int // deeds; loss is -1 for somebody who owns it still
	since, till Day
	still       Side
}

// tenures are those of owners who got the object once and gave it once, or have it
// still. Of others it is not known which of their deeds belong together.
func tenures(deeds []deed, now []owned) []tenure {
	var out []tenure
	seen := map[ID]bool{}
	for i := range deeds {
		for _, who := range deeds[i].receivers {
			if seen[who] {
				continue
			}
			seen[who] = true
			t := tenure{who: who, gain: i, loss: -1, since: deeds[i].to, till: Forever}
			gains, losses := 0, 0
			for k := range deeds {
				if slices.Contains(deeds[k].receivers, who) {
					gains++
				}
				if slices.Contains(deeds[k].givers, who) {
					losses++
					t.loss, t.till = k, deeds[k].from
				}
			}
			still := slices.IndexFunc(now, func(o owned) bool { return o.who == who })
			switch {
			case gains != 1 || losses > 1 || t.loss == t.gain:
				continue
			case losses == 0 && still < 0:
				continue
			case losses == 1 && still >= 0:
				continue // given away and owned again
			case losses == 0:
				t.still = Side{now[still].object, now[still].ev}
			}
			out = append(out, t)
		}
	}
	return out
}

func (l *Ledger) overlaps(object ID, deeds []deed, now []owned) {
	ts := tenures(deeds, now)
	for i := range ts {
		for k := i + 1; k < len(ts); k++ {
			a, b := &ts[i], &ts[k]
			if a.gain == b.gain || a.loss >= 0 && a.loss == b.loss {
				continue // they had it together
			}
			// Those who both own it still are told to own it together.
			since, till := max(a.since, b.since), min(a.till, b.till)
			if till == Forever || !before(since, till) {
				continue
			}
			var sides []Side
			for _, t := range []*tenure{a, b} {
				sides = append(sides, deeds[t.gain].side)
				if t.loss >= 0 {
					sides = append(sides, deeds[t.loss].side)
				} else {
					sides = append(sides, t.still)
				}
			}
			slices.SortFunc(sides, compareSides)
			l.found = append(l.found, Finding{OwnersOverlap, slices.Compact(sides), object})
		}
	}
}

// gaps finds owners who got an object from somebody else than the owner before, where
// it is sure that no other deed lies between.
func (l *Ledger) gaps(object ID, deeds []deed, now []owned) {
	for i := range deeds {
		a := &deeds[i]
		last := len(a.receivers) > 0
		for k := range deeds {
			b := &deeds[k]
			if i == k {
				continue
			}
			if !before(b.to, a.from) {
				last = false
			}
			if len(a.receivers) == 0 || len(b.givers) == 0 || !before(a.to, b.from) || meet(a.receivers, b.givers) {
				continue
			}
			between := false
			for m := range deeds {
				c := &deeds[m]
				if m != i && m != k && !before(c.to, a.from) && !before(b.to, c.from) {
					between = true
				}
			}
			if !between {
				l.found = append(l.found, Finding{OwnerGap, []Side{a.side, b.side}, object})
			}
		}
		if !last || len(now) == 0 {
			continue
		}
		var have []ID
		for _, o := range now {
			have = append(have, o.who)
		}
		if !meet(a.receivers, sorted(have)) {
			l.found = append(l.found, Finding{OwnerGap, []Side{a.side, {now[0].object, now[0].ev}}, object})
		}
	}
}

func meet(a, b []ID) bool {
	return slices.ContainsFunc(a, func(x ID) bool { return slices.Contains(b, x) })
}

// accession holds the year of an accession number against the one change of owner
// that brought the object to those who own it now.
func (l *Ledger) accession(a accession, deeds []deed, now []owned) {
	var it *deed
	for i := range deeds {
		d := &deeds[i]
		if len(now) > 0 && !slices.ContainsFunc(now, func(o owned) bool { return slices.Contains(d.receivers, o.who) }) {
			continue
		}
		if it != nil {
			return
		}
		it = d
	}
	if it == nil || it.from == Never || it.to == Forever {
		return
	}
	if y := int(a.year); y < yearOf(it.from) || y > yearOf(it.to) {
		l.found = append(l.found, Finding{AccessionYear, []Side{{a.object, a.ev}, it.side}, a.object})
	}
}
