package trade

import (
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/cespare/xxhash/v2"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// ID stands for a document or an entity: the hash of its IRI.
type ID uint64

// IDOf gives the ID of an IRI.
func IDOf(iri string) ID { return ID(xxhash.Sum64String(iri)) }

// life is when somebody or something can have existed: from the earliest day of the
// beginning to the latest of the end.
type life struct {
	begin, end     Day
	evBegin, evEnd int32
	person         bool
}

// take is that somebody or something took part in an event.
type take struct {
	who, doc ID
	from, to Day // the outer corners of the event
	ev       int32
	role     role
	class    eventClass
}

// transfer is a change of owner of an object.
type transfer struct {
	object, doc ID
	from, to    Day
	ev          int32
	at          uint32 // of its parties: givers first, then receivers
	givers      uint16
	receivers   uint16
}

// owned is that somebody owns an object now.
type owned struct {
	object, who ID
	ev          int32
}

type inside struct {
	part, whole ID
	ev          int32
	kind        insideKind
}

// insideKind says of what an inside is a part.
type insideKind uint8

const (
	thingIn insideKind = iota
	placeIn
	placeSame
	eventIn
)

// size is one measure of an object, in millimetres or grams.
type size struct {
	object  ID
	low, up float32
	ev      int32
	kind    uint8
}

type accession struct {
	object ID
	year   int32
	ev     int32
}

// Batch is what documents say that the rules ask for.
type Batch struct {
	marks []mark
	lives []lifeOf
	notes
}

// notes are facts that are kept as they come.
type notes struct {
	takes      []take
	transfers  []transfer
	parties    []ID
	owners     []owned
	stays      []stay
	shows      []show
	homes      []home
	insides    []inside
	sizes      []size
	accessions []accession
	found      []Finding
	waivers    []waiver
}

type lifeOf struct {
	who ID
	life
}

// mark says where the facts of a document end.
type mark struct {
	lives, takes, transfers, owners, stays, shows, homes, insides, sizes, accessions, found, waivers int
}

// Reset empties the batch and keeps its memory.
func (b *Batch) Reset() {
	*b = Batch{b.marks[:0], b.lives[:0], notes{b.takes[:0], b.transfers[:0], b.parties[:0], b.owners[:0], b.stays[:0],
		b.shows[:0], b.homes[:0], b.insides[:0], b.sizes[:0], b.accessions[:0], nil, b.waivers[:0]}}
}

func (b *Batch) close() int {
	b.marks = append(b.marks, mark{len(b.lives), len(b.takes), len(b.transfers), len(b.owners), len(b.stays),
		len(b.shows), len(b.homes), len(b.insides), len(b.sizes), len(b.accessions), len(b.found), len(b.waivers)})
	return len(b.marks) - 1
}

// Extractor takes facts from documents. It is for one goroutine.
type Extractor struct {
	now   Day
	wants Wants
	lives []string // beginnings of the IRIs of those whose life may be told; nil: of any
	plans map[uint64]*plan
	last  uint64
	plan  *plan

	vals  []string
	evs   []entity.Event
	spans []Span
}

// plansMost is how many shapes an extractor remembers; then it begins anew.
const plansMost = 5000

// Wants says of what an extractor keeps the facts that matter to some sites only.
type Wants struct {
	Measures bool // of objects: some are parts of others
	Stays    bool // where objects were: some things were shown or moved at places
	Moves    bool // where objects are now: some were moved
}

// NewExtractor returns an extractor. Whether somebody may be living is judged by now.
func NewExtractor(now time.Time, wants Wants) *Extractor {
	y, m, d := now.UTC().Date()
	return &Extractor{now: dayOf(y, int(m), d), wants: wants, plans: map[uint64]*plan{}}
}

// Lives says with what the IRIs begin of all whose beginning or end a document may
// tell. Of others nothing is kept, since nothing could be held against it.
func (x *Extractor) Lives(prefixes []string) { x.lives = append([]string{}, prefixes...) }

// LifeKeys are the keys under which a document tells the beginning or end of its
// subject.
var LifeKeys = []string{"born", "died", "formed_by", "dissolved_by", "produced_by", "destroyed_by"}

func (x *Extractor) mayLive(iri string) bool {
	if x.lives == nil {
		return true
	}
	for _, p := range x.lives {
		if strings.HasPrefix(iri, p) {
			return true
		}
	}
	return false
}

// Take adds the facts of a document to b, and tells under which number; -1 if it has
// none.
func (x *Extractor) Take(b *Batch, d *entity.Document) int { return x.take(b, d, nil) }

// TakeWaived is Take for a document whose record waives rules of its own.
func (x *Extractor) TakeWaived(b *Batch, d *entity.Document, rules []RuleID) int {
	return x.take(b, d, rules)
}

func (x *Extractor) take(b *Batch, d *entity.Document, waived []RuleID) int {
	p := x.find(d)
	if p.idle && len(waived) == 0 {
		return -1
	}
	x.evs = nil
	if vals, ok := d.Values(); ok && len(vals) == p.vals {
		x.vals = vals
	} else {
		x.vals, x.evs = nil, d.Events()
		if len(x.evs) != p.size { // a collision of hashes, if ever
			p = newPlan(d)
		}
	}
	f := &filler{x: x, p: p, b: b, id: IDOf(d.IRI())}
	if !p.idle {
		f.fill()
	}
	for _, r := range waived {
		b.waivers = append(b.waivers, waiver{doc: f.id, rule: r})
	}
	return b.close()
}

func (x *Extractor) find(d *entity.Document) *plan {
	id, ok := d.Shape()
	if !ok {
		return newPlan(d)
	}
	if x.plan != nil && id == x.last {
		return x.plan
	}
	p := x.plans[id]
	if p == nil {
		if len(x.plans) >= plansMost {
			clear(x.plans)
		}
		p = newPlan(d)
		x.plans[id] = p
	}
	x.last, x.plan = id, p
	return p
}

func (x *Extractor) get(v *value) string {
	switch {
	case v.nth < 0:
		return v.fixed
	case x.evs != nil:
		return x.evs[v.ev].Value
	}
	return x.vals[v.nth]
}

// filler fills a plan with the values of a document.
type filler struct {
	x  *Extractor
	p  *plan
	b  *Batch
	id ID
}

func (f *filler) fill() {
	x, p, b := f.x, f.p, f.b
	x.spans = x.spans[:0]
	for i := range p.events {
		x.spans = append(x.spans, f.span(&p.events[i]))
	}
	f.lifetime()
	for i := range p.events {
		f.event(i)
	}
	for i := range p.owners {
		b.owners = append(b.owners, owned{f.id, IDOf(x.get(&p.owners[i])), p.owners[i].ev})
	}
	for i := range p.wholes {
		kind := thingIn
		if p.place {
			kind = placeIn
		}
		b.insides = append(b.insides, inside{f.id, IDOf(x.get(&p.wholes[i])), p.wholes[i].ev, kind})
	}
	for i := range p.alike {
		b.insides = append(b.insides, inside{f.id, IDOf(x.get(&p.alike[i])), p.alike[i].ev, placeSame})
	}
	if p.home != nil && x.wants.Moves {
		b.homes = append(b.homes, home{f.id, IDOf(x.get(p.home)), p.home.ev})
	}
	if x.wants.Measures {
		for i := range p.measures {
			f.measure(&p.measures[i])
		}
	}
	for i := range p.numbers {
		n := &p.numbers[i]
		if f.isKind(n.kinds, accessionNumber) {
			if y, ok := numberYear(x.get(&n.content)); ok {
				b.accessions = append(b.accessions, accession{f.id, int32(y), n.ev})
			}
		}
	}
}

// span is when an event happened, as far as its document tells.
func (f *filler) span(e *event) Span {
	s := Always
	for i, at := range [...]*Day{&s.BB, &s.EB, &s.BE, &s.EE} {
		if e.has[i] {
			if d, ok := parseDay(f.x.get(&e.corners[i]), i == 1 || i == 3); ok {
				*at = d
			}
		}
	}
	if !s.tidy() {
		s = Always // the check of values speaks of it
	}
	if e.whole >= 0 {
		s = s.within(f.x.spans[e.whole])
	}
	return s
}

// when is the time span that says when an event was: its own or that of its whole.
func (f *filler) when(i int) int32 {
	for ; i >= 0; i = f.p.events[i].whole {
		if w := f.p.events[i].when; w >= 0 {
			return w
		}
	}
	return -1
}

func (f *filler) lifetime() {
	p, x := f.p, f.x
	l := lifeOf{f.id, life{Never, Forever, -1, -1, p.person}}
	var born Span
	if p.born >= 0 {
		born = x.spans[p.born]
		l.begin, l.evBegin = born.BB, f.when(p.born)
	}
	if p.died >= 0 {
		l.end, l.evEnd = x.spans[p.died].EE, f.when(p.died)
	}
	if l.begin != Never || l.end != Forever {
		f.b.lives = append(f.b.lives, l)
	}
	if p.born < 0 {
		return
	}
	if p.died >= 0 && before(l.end, l.begin) {
		f.b.found = append(f.b.found, Finding{Rule: EndBeforeBeginning, Sides: []Side{{f.id, l.evBegin}, {f.id, l.evEnd}}})
	}
	// Within a month's length, a birthday; a year alone says much less.
	if p.person && p.events[p.born].class == beginning && !p.diedKnown && born.BB != Never && born.EE != Forever &&
		born.EE-born.BB < 100 && born.BB > x.now-livingYears && p.human {
		f.b.found = append(f.b.found, Finding{Rule: PossiblyLiving, Sides: []Side{{f.id, l.evBegin}}})
	}
}

// livingYears is how long somebody may live: 110 years (common practice, no source).
const livingYears = 110*365 + 27

func (f *filler) event(i int) {
	p, x, b := f.p, f.x, f.b
	e, s := &p.events[i], x.spans[i]
	known := s.BB != Never || s.EE != Forever
	when := f.when(i)
	add := func(who ID, r role) {
		if known {
			b.takes = append(b.takes, take{who, f.id, s.BB, s.EE, when, r, e.class})
		}
	}
	object := ID(0)
	if e.ofRoot {
		if r := f.usedAs(i, e.usedFor); r != 0 {
			add(f.id, r)
		}
		object = f.id
	}
	if e.byRoot {
		add(f.id, actor)
	}
	if x.wants.Stays {
		f.stays(i)
	}
	from := len(b.parties)
	givers, receivers := 0, 0
	for k := range e.roles {
		t := &e.roles[k]
		iri := x.get(&t.who)
		who := IDOf(iri)
		add := add
		if !x.mayLive(iri) {
			add = func(ID, role) {}
		}
		switch t.role {
		case place, origin, destination:
		case thing:
			if e.class == getting {
				object = who
			}
			add(who, thing)
		case used:
			if r := f.usedAs(i, true); r != 0 {
				add(who, r)
			}
		case titleGiver:
			add(who, giver)
			if e.class == getting {
				b.parties = append(b.parties, who)
				givers++
			}
		case titleReceiver:
			add(who, receiver)
		default:
			add(who, t.role)
		}
	}
	if e.class != getting || object == 0 {
		b.parties = b.parties[:from]
		return
	}
	for k := range e.roles {
		if t := &e.roles[k]; t.role == titleReceiver {
			b.parties = append(b.parties, IDOf(x.get(&t.who)))
			receivers++
		}
	}
	pass := func(object ID) {
		b.transfers = append(b.transfers, transfer{object, f.id, s.BB, s.EE, e.ev, uint32(from), uint16(givers), uint16(receivers)})
	}
	if e.ofRoot {
		pass(f.id)
	}
	for k := range e.roles {
		if t := &e.roles[k]; t.role == thing {
			pass(IDOf(x.get(&t.who)))
		}
	}
}

// usedAs says what an event tells of a thing that it names as used; 0: nothing. A dealing
// names what it is about, such as the thing that is ordered and not yet made, or what
// proves it. Any activity may be about what is gone. What was shown or worked with was
// there.
func (f *filler) usedAs(i int, isUsed bool) role {
	e := &f.p.events[i]
	if !isUsed {
		return thing
	}
	for k := i; k >= 0; k = f.p.events[k].whole {
		if f.isKind(f.p.events[k].kinds, provenanceActivity, promise) {
			return 0
		}
	}
	if (e.name == "Activity" || e.name == "Event") && !f.isKind(e.kinds, exhibition, travellingExhibition) {
		return used
	}
	return thing
}

// The authority terms that the rules know.
var (
	accessionNumber      = authority("300312355")
	exhibition           = authority("300054766")
	travellingExhibition = authority("300054773")
	provenanceActivity   = authority("300055863")
	promise              = authority("300435599")
)

func authority(n string) string { return "http://vocab.getty.edu/aat/" + n }

func (f *filler) isKind(kinds []value, want ...string) bool {
	for i := range kinds {
		k := f.x.get(&kinds[i])
		for _, w := range want {
			if k == w {
				return true
			}
		}
	}
	return false
}

// The kinds of measures that the rules compare. Weights are in grams, all others in
// millimetres.
const (
	noKind uint8 = iota
	weight
	height
	width
	depth
	length
	diameter
	thickness
)

var kindOf = map[string]uint8{
	authority("300056240"): weight, authority("300055644"): height, authority("300055647"): width, authority("300072633"): depth,
	authority("300055645"): length, authority("300055624"): diameter, authority("300055646"): thickness,
}

// factors give millimetres or grams; the codes are those of UCUM.
var factors = func() map[string]float64 {
	m := map[string]float64{}
	for code, f := range map[string]float64{"mm": 1, "cm": 10, "m": 1000, "[in_i]": 25.4, "[ft_i]": 304.8,
		"g": 1, "kg": 1000, "[lb_av]": 453.59237, "[oz_av]": 28.349523125} {
		if a, ok := vocab.AuthorityByCode("MeasurementUnit", code); ok {
			m[a.IRI] = f
		}
	}
	return m
}()

func (f *filler) measure(m *measure) {
	kind := noKind
	for i := range m.kinds {
		kind = max(kind, kindOf[f.x.get(&m.kinds[i])])
	}
	by := factors[f.x.get(&m.unit)]
	if kind == noKind || by == 0 {
		return
	}
	val := func(v *value) float64 {
		n, err := strconv.ParseFloat(f.x.get(v), 64)
		if err != nil {
			return math.NaN()
		}
		return n * by
	}
	low := val(&m.value)
	up := low
	if m.hasLow {
		low = val(&m.low)
	}
	if m.hasTop {
		up = val(&m.top)
	}
	if low <= up {
		f.b.sizes = append(f.b.sizes, size{f.id, float32(low), float32(up), m.ev, kind})
	}
}

// numberYear reads the year of an accession number that begins with one: letters or
// nothing, a year from 1500 to 2099, and more behind a mark ("1926.17", "KQ.1911.4",
// "M 1903-2"). Other numbers have no year that could be told from a running number.
func numberYear(s string) (int, bool) {
	s = strings.TrimLeft(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz")
	s = strings.TrimLeft(s, " .:-/_")
	if len(s) < 6 || strings.IndexByte(".-/:_ ", s[4]) < 0 {
		return 0, false
	}
	y, err := strconv.Atoi(s[:4])
	if err != nil || y < 1500 || y > 2099 || s[5] < '0' || s[5] > '9' {
		return 0, false
	}
	return y, true
}
