package mapping

import (
	"strings"
	"time"

	"github.com/expr-lang/expr/vm"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

// ProblemRule is the stable name of something wrong with a record.
type ProblemRule string

// The problems that records have.
const (
	problemRequired    ProblemRule = "required-empty"               // what the profile or the mapping requires is empty
	problemReference   ProblemRule = "reference-without-identifier" // a label without an identifier
	problemUnknownTerm ProblemRule = "unknown-term"                 // a word that the term list does not know
	problemNoStatement ProblemRule = "evidence-alone"               // evidence that is filled, of statements that are empty
	problemUnread      ProblemRule = "unread"                       // text that a reader could not read
	problemReadNote    ProblemRule = "read-with-doubt"              // text that was read, with something to say
	problemBadIRI      ProblemRule = "bad-iri"                      // a cell that should hold an IRI
	problemBadValue    ProblemRule = "bad-value"                    // a cell that should hold a number or a date
	problemExpression  ProblemRule = "expression-failed"            // an expression that failed on this record
	problemUnknownSet  ProblemRule = "unknown-set"                  // a set that the site file does not declare
	problemCannotCarry ProblemRule = "cannot-carry"                 // a value the profile's syntax can't carry
	problemPublicFrom  ProblemRule = "unread-public-from"           // a date of publication that can't be read
)

// RecordProblem is one thing wrong with a record.
type RecordProblem struct {
	Rule    ProblemRule
	Places  []source.Place // the cells concerned, the first being the main one
	Span    Span           // the part of the mapping
	IRI     string         // the document, if it has got so far
	Message string
	Value   string   // the text concerned
	Nearest []string // what may have been meant

	Severity Severity // a Notice stops nothing
	Sides    []Side   // what contradicts what, where two or more statements do
}

// Side is a statement that contradicts another.
type Side struct {
	IRI    string         // of the document that makes it
	Label  string         // of the document
	What   string         // what it is about, such as "born"
	Says   string         // what it says
	Places []source.Place // the cells it was made of, the main one first
	Span   Span           // where it is mapped
}

// Meta is what a run says of a document beside the document itself.
type Meta struct {
	Endpoint *vocab.Endpoint
	Sets     []string
	Once     bool         // the first of equal IRIs wins
	Made     bool         // made for a word without an authority
	Waivers  []Waiver     // rules that its mapping waives
	Row      *source.Row  // the record
	Place    source.Place // filled in only where asked: see Run.Where
}

// Run makes documents from records. It is for one goroutine; its document is
// reused from record to record.
type Run struct {
	// Problem is told of everything wrong with a record; nil to hear nothing.
	Problem func(RecordProblem)
	// Missed is told of documents that a record should have made and did not; nil to
	// hear nothing.
	Missed func(Missed)
	// Now is the time by which "public_from" is judged; that of NewRun if nothing is
	// said.
	Now time.Time
	// Early makes documents that are not public yet, too, for those who run the
	// site. Missed is told of them all the same.
	Early bool
	// Trace keeps the cells of every statement, for Places.
	Trace bool
	// Full builds every document with all its events at once. Without it a document
	// is built lean, and in full when somebody asks for more than a known shape
	// needs: better where documents are written as JSON-LD and not otherwise used.
	Full bool

	p       *Program
	doc     entity.Document
	frames  []frame
	machine vm.VM
	pieces  [][]string // memory for pieces of split text, by depth
	made    []madeTerm
	now     *document // being made
	failed  bool      // a condition of it could not be told
	full    func()    // again, as a value
	found   []finding // of the reader now at work
	proofs  []*string // cells of the evidence of statements that were made
	idle    []idle    // evidence of statements that were not
	dates   map[dateKey]*dateFinding
	cells   [][]source.Place // by event, where Trace is on
}

// frame is a row open to the mapping.
type frame struct {
	cells  []string
	row    *source.Row
	layout *source.Layout
	from   *text // pieces: the text they came from
}

type madeTerm struct {
	class *vocab.Class
	list  string
	iri   string
	label string
}

// NewRun returns a run of the program.
func (p *Program) NewRun() *Run {
	r := &Run{p: p, Now: time.Now()}
	r.full = r.again
	return r
}

// again builds the document now in hand in full, where it had been built lean. What
// there is to say has been said.
func (r *Run) again() {
	tell, missed, made := r.Problem, r.Missed, len(r.made)
	r.Problem, r.Missed = nil, nil
	r.doc.Shaped(r.p.seed)
	r.root(r.now)
	r.Problem, r.Missed, r.made = tell, missed, r.made[:made]
}

// Record makes the documents of one record of a source and hands each to emit.
// The document is valid until emit returns.
func (r *Run) Record(sp *SourceProgram, row *source.Row, emit func(*entity.Document, Meta) error) error {
	r.frames = append(r.frames[:0], frame{cells: row.Cells, row: row, layout: sp.Layout})
	r.made = r.made[:0]
	for _, d := range sp.docs {
		if err := r.document(d, row, emit); err != nil {
			return err
		}
	}
	for i := range r.made {
		m := &r.made[i]
		r.conceptDocument(m)
		if err := emit(&r.doc, Meta{Endpoint: vocab.Record(m.class)[0], Once: true, Made: true, Row: row}); err != nil {
			return err
		}
	}
	return nil
}

func (r *Run) document(d *document, row *source.Row, emit func(*entity.Document, Meta) error) error {
	var err error
	one := func() {
		if err != nil {
			return
		}
		r.doc.Reset()
		r.cells = r.cells[:0]
		r.now = d
		if r.Trace || r.Full {
			r.doc.Shaped(r.p.seed)
		} else {
			r.doc.Lean(r.p.seed, r.full)
		}
		if r.root(d) {
			err = emit(&r.doc, Meta{Endpoint: d.endpoint, Sets: r.sets(d), Once: d.once, Row: row, Waivers: r.waivers(d)})
		}
	}
	if d.root.each == nil {
		one()
	} else if !r.repeat(d.root.each, one) {
		r.missed("", Unfit, time.Time{})
	}
	return err
}

// sets names the harvest sets of a document.
func (r *Run) sets(d *document) []string {
	if len(d.sets) == 0 {
		return nil
	}
	out := make([]string, 0, len(d.sets))
	for _, t := range d.sets {
		s, filled := r.fill(t)
		switch {
		case s == "":
		case filled && !r.p.sets[s]:
			r.textProblem(problemUnknownSet, t, s, "the site file declares no set of this name")
		default:
			out = append(out, strings.Clone(s))
		}
	}
	return out
}

// Places gives the cells from which the event at index i of the document last
// made took its value. It needs Trace.
func (r *Run) Places(i int) []source.Place {
	if i < len(r.cells) {
		return r.cells[i]
	}
	return nil
}

// repeat runs f once for every row or piece. It reports false if a reader could not
// tell which there are.
func (r *Run) repeat(e *each, f func()) bool {
	depth := e.scope.depth
	if e.kid >= 0 {
		kids := r.frames[e.depth].row
		if kids == nil || e.kid >= len(kids.Kids) {
			return true
		}
		rows := kids.Kids[e.kid]
		for i := range rows {
			r.frames = append(r.frames[:depth], frame{cells: rows[i].Cells, row: &rows[i], layout: e.scope.layout})
			f()
		}
		r.frames = r.frames[:depth]
		return true
	}
	t, _ := r.fill(e.text)
	if t == "" {
		return true
	}
	if e.read != nil {
		rows, err := e.read.rows(t, e.read.conv)
		if err != nil {
			r.unread(e.text, e.span, t, err)
			return false
		}
		for _, cells := range rows {
			r.frames = append(r.frames[:depth], frame{cells: cells, from: e.text})
			f()
		}
		r.frames = r.frames[:depth]
		return true
	}
	for rest, more := t, true; more; {
		var piece string
		piece, rest, more = strings.Cut(rest, e.at)
		if piece = strings.TrimSpace(piece); piece == "" {
			continue
		}
		for len(r.pieces) <= depth {
			r.pieces = append(r.pieces, make([]string, 1))
		}
		r.pieces[depth][0] = piece
		r.frames = append(r.frames[:depth], frame{cells: r.pieces[depth], from: e.text})
		f()
	}
	r.frames = r.frames[:depth]
	return true
}

// root makes the root of a document. It reports whether there is a document.
func (r *Run) root(d *document) bool {
	n := d.root
	r.failed = false
	r.proofs, r.idle = r.proofs[:0], r.idle[:0]
	if !r.holds(n.whens) {
		if r.failed {
			r.missed(r.quietIRI(n), Unfit, time.Time{})
		}
		return false
	}
	iri, ok := r.iri(n)
	if !ok {
		r.missed("", Unfit, time.Time{})
		return false
	}
	if d.public != nil && !r.public(d.public, iri) {
		return false
	}
	r.doc.Begin(nil, false, n.class, true, iri, n.origin)
	r.traceText(n.id)
	_, missing, _ := r.fills(n)
	if missing != nil {
		r.required(n, missing, iri)
		r.missed(iri, Unfit, time.Time{})
		return false
	}
	if len(r.idle) > 0 {
		r.evidenceAlone()
	}
	r.doc.End()
	return true
}

// node makes a node as often as its "each" says. It reports whether anything was
// made, and whether any hole was filled.
func (r *Run) node(n *node) (made, filled bool) {
	if n.claim != nil {
		return r.claim(n)
	}
	if n.each == nil {
		return r.one(n)
	}
	r.repeat(n.each, func() {
		m, f := r.one(n)
		made, filled = made || m, filled || f || m
	})
	return made, filled
}

func (r *Run) one(n *node) (made, filled bool) {
	if n.block != nil {
		r.doc.Put(n.block)
		return true, false
	}
	if !r.holds(n.whens) || !r.asserted(n.sure) {
		return false, false
	}
	mark := r.doc.Mark()
	if n.id != nil {
		iri, ok := r.iri(n)
		if !ok {
			if n.id.holes > 0 {
				r.lostLabel(n)
			}
			return false, false
		}
		r.doc.Begin(n.term, n.slot.Many, n.class, true, iri, n.origin)
		if filled = n.id.holes > 0; !filled {
			r.doc.Fix()
		}
		r.traceText(n.id)
	} else {
		key := ""
		if n.key != nil {
			key, _ = r.fill(n.key)
		}
		r.doc.Begin(n.term, n.slot.Many, n.class, false, key, n.origin)
		if n.key == nil || n.key.holes == 0 {
			r.doc.Fix()
		}
	}
	f, missing, bare := r.fills(n)
	filled = filled || f
	if n.holes && !filled || bare {
		r.doc.Cut(mark)
		return false, false
	}
	if missing != nil {
		if filled {
			r.required(n, missing, r.doc.IRI())
		}
		r.doc.Cut(mark)
		return false, false
	}
	r.doc.End()
	return true, filled || len(n.sure) > 0
}

// fills makes what stands under the keys of a node. missing is the first required
// slot that stayed empty; bare says that something stayed empty without which the
// node is not to be made.
func (r *Run) fills(n *node) (filled bool, missing *fill, bare bool) {
	for _, f := range n.fills {
		any := false
		for _, v := range f.values {
			m, fl := r.value(v, f)
			any, filled = any || m, filled || fl
			if m && !f.slot.Many {
				break
			}
		}
		if !any && f.slot.Required && missing == nil {
			missing = f
		}
		bare = bare || !any && f.only
	}
	return filled, missing, bare
}

func (r *Run) value(v *value, f *fill) (made, filled bool) {
	switch v.kind {
	case literalValue:
		return r.literal(v, f)
	case nodeValue:
		return r.node(v.node)
	case termValue, readValue:
		do := r.term
		if v.kind == readValue {
			do = r.read
		}
		if v.node.each == nil {
			return do(v, f)
		}
		r.repeat(v.node.each, func() {
			m, fl := do(v, f)
			made, filled = made || m, filled || fl
		})
		return made, filled
	case certaintyValue:
		return r.certainty(v, f)
	case wordsValue:
		if r.inOtherWords(v.sure[0]) {
			return r.node(v.node)
		}
	case firstValue:
		for _, x := range v.first {
			if made, filled = r.value(x, f); made {
				return made, filled
			}
		}
	}
	return false, false
}

func (r *Run) literal(v *value, f *fill) (made, filled bool) {
	s, filled := r.fill(v.text)
	if s == "" {
		return false, false
	}
	kind := entity.Text
	switch f.slot.Kind {
	case vocab.KindNumber:
		num, ok := jsonNumber(s)
		if !ok {
			r.textProblem(problemBadValue, v.text, s, "this is not a number")
			return false, false
		}
		kind, s = entity.Number, num
	case vocab.KindDateTime:
		if !goodDateTime(s) {
			r.textProblem(problemBadValue, v.text, s, "this is not a date and time such as 1874-01-01T00:00:00Z")
			return false, false
		}
		kind = entity.DateTime
	case vocab.KindTerm:
		kind = entity.TermName
	}
	r.doc.Value(kind, f.term, f.slot.Many, s, v.origin)
	if v.text.holes == 0 {
		r.doc.Fix()
	}
	r.traceText(v.text)
	return true, filled
}

// term makes references from a term list.
func (r *Run) term(v *value, f *fill) (made, filled bool) {
	if !r.holds(v.node.whens) || !r.asserted(v.node.sure) {
		return false, false
	}
	words, dynamic := r.fill(v.text)
	if words == "" {
		return false, false
	}
	if v.split == "" {
		made, _ = r.word(v, f, words)
		return made, dynamic
	}
	for rest, more := words, true; more; {
		var w string
		w, rest, more = strings.Cut(rest, v.split)
		if w = strings.TrimSpace(w); w != "" {
			m, _ := r.word(v, f, w)
			made = made || m
		}
	}
	return made, dynamic
}

func (r *Run) word(v *value, f *fill, word string) (made, filled bool) {
	t, known := v.list.Find(word)
	iri, label := "", word
	if known {
		iri = t.IRI
		if t.Label != "" {
			label = t.Label
		}
	}
	class := v.node.class
	if iri == "" {
		if v.other == otherwiseReport || v.other == otherwiseMake && !known {
			r.unknownWord(v, word, known)
		}
		if v.other != otherwiseMake {
			return false, false
		}
		iri = r.makeConcept(v, t, word, label)
	}
	if t != nil && t.Type != "" {
		if cl := vocab.ClassByKey(t.Type); cl != nil && v.node.shape.Allows(cl) {
			class = cl
		}
	}
	mark := r.doc.Mark()
	r.doc.Begin(f.term, f.slot.Many, class, true, iri, v.origin)
	r.traceText(v.text)
	r.doc.Text(v.label, false, label, v.origin)
	r.traceText(v.text)
	if _, missing, bare := r.fills(v.node); missing != nil || bare {
		r.doc.Cut(mark)
		return false, true
	}
	r.doc.End()
	return true, true
}

// makeConcept gives the IRI of a local concept, and has its document made.
func (r *Run) makeConcept(v *value, t *termlist.Term, word, label string) string {
	from := len(r.doc.Scratch())
	b := append(r.doc.Scratch(), r.p.Base...)
	b = append(b, "concept/"...)
	b = appendPath(b, v.name)
	b = append(b, '/')
	b = appendPath(b, slug(label))
	iri := strings.Clone(r.doc.Made(b, from))
	r.made = append(r.made, madeTerm{class: v.node.class, list: v.name, iri: iri, label: strings.Clone(label)})
	return iri
}

func (r *Run) conceptDocument(m *madeTerm) {
	r.doc.Reset()
	r.cells = r.cells[:0]
	r.doc.Begin(nil, false, m.class, true, m.iri, -1)
	r.doc.Text(m.class.Term("_label"), false, m.label, -1)
	for _, s := range vocab.Record(m.class)[0].Shape.Slots {
		if s.Key == "identified_by" {
			r.doc.Begin(m.class.Term(s.Key), true, nameClass, false, "primary-name", -1)
			if a, ok := vocab.AuthorityByCURIE("aat:300404670"); ok {
				r.doc.Begin(nameType, true, typeClass, true, a.IRI, -1)
				r.doc.Text(label, false, a.Label, -1)
				r.doc.End()
			}
			r.doc.Text(nameContent, false, m.label, -1)
			r.doc.End()
		}
	}
	r.doc.End()
}

// fill fills a text. filled says whether any hole was.
func (r *Run) fill(t *text) (s string, filled bool) {
	if t.holes == 0 {
		return t.fixed, false
	}
	if len(t.segs) == 1 && t.segs[0].field != nil {
		s = r.frames[t.segs[0].field.depth].cells[t.segs[0].field.slot]
		if s == "" && t.segs[0].must {
			r.textProblem(problemRequired, t, "", "this must be filled")
		}
		return s, s != ""
	}
	from := len(r.doc.Scratch())
	b := r.doc.Scratch()
	got := 0
	for i := range t.segs {
		sg := &t.segs[i]
		var x string
		switch {
		case sg.field != nil:
			x = r.frames[sg.field.depth].cells[sg.field.slot]
		case sg.sub != nil:
			keep := append([]byte(nil), b[from:]...)
			x, _ = r.fill(sg.sub)
			b = r.doc.Scratch()
			from = len(b)
			b = sg.join(append(b, keep...), from, x)
			switch {
			case x == "" && sg.must:
				return "", false
			case x != "" && sg.sub.holes > 0:
				got++
			}
			continue
		case sg.expr != nil:
			// The expression may use the buffer too.
			keep := append([]byte(nil), b[from:]...)
			out, err := r.eval(sg.expr)
			if err != nil {
				r.problem(problemExpression, sg.span, sg.expr.vars, "", err.Error())
				r.failed = true
			} else {
				x = strings.TrimSpace(asText(out))
			}
			b = r.doc.Scratch()
			from = len(b)
			b = append(b, keep...)
		default:
			b = append(b, sg.lit...)
			continue
		}
		if x != "" {
			got++
			b = append(b, x...)
		} else if sg.must {
			r.textProblem(problemRequired, t, "", "this must be filled")
		}
	}
	if got == 0 || t.all && got < t.holes {
		return "", false
	}
	return strings.TrimSpace(r.doc.Made(b, from)), true
}

// iri fills the identifier of a node.
func (r *Run) iri(n *node) (string, bool) {
	t := n.id
	if t.holes == 0 {
		return t.fixed, true
	}
	if n.iri == iriWhole {
		s, filled := r.fill(t)
		if !filled {
			r.noIdentifier(n)
			return "", false
		}
		if iri, ok := r.wholeIRI(s); ok {
			return iri, true
		}
		r.textProblem(problemBadIRI, t, s, "this is no IRI")
		return "", false
	}
	from := len(r.doc.Scratch())
	b := r.doc.Scratch()
	for i := range t.segs {
		sg := &t.segs[i]
		switch {
		case sg.field != nil:
			x := r.frames[sg.field.depth].cells[sg.field.slot]
			if x == "" {
				r.noIdentifier(n)
				return "", false
			}
			b = appendPath(b, x)
		case sg.expr != nil:
			keep := append([]byte(nil), b[from:]...)
			out, err := r.eval(sg.expr)
			x := ""
			if err != nil {
				r.problem(problemExpression, sg.span, sg.expr.vars, "", err.Error())
				r.failed = true
			} else {
				x = strings.TrimSpace(asText(out))
			}
			if x == "" {
				r.noIdentifier(n)
				return "", false
			}
			b = r.doc.Scratch()
			from = len(b)
			b = append(b, keep...)
			b = appendPath(b, x)
		default:
			b = append(b, sg.lit...)
		}
	}
	return r.doc.Made(b, from), true
}

// wholeIRI makes an IRI of a cell that holds a whole one, with characters that
// URIs can't have percent-encoded.
func (r *Run) wholeIRI(s string) (string, bool) {
	if strings.HasPrefix(s, "http") && goodIRI(s) {
		return s, true
	}
	from := len(r.doc.Scratch())
	b := r.doc.Scratch()
	for i := 0; i < len(s); i++ {
		if c := s[i]; iriChar[c] || c == '%' {
			b = append(b, c)
		} else {
			b = appendEncoded(b, c)
		}
	}
	made := r.doc.Made(b, from)
	if strings.ContainsAny(s, " \n") && !hasScheme(made) {
		return "", false // words, not a path
	}
	return fullIRI(r.p.Base, made)
}

// appendPath appends a cell's text as part of a path: what RFC 3986 does not let
// stand there is percent-encoded as UTF-8; a slash stays.
func appendPath(b []byte, s string) []byte {
	for i := 0; i < len(s); i++ {
		if c := s[i]; plainChar[c] {
			b = append(b, c)
		} else {
			b = appendEncoded(b, c)
		}
	}
	return b
}

func appendEncoded(b []byte, c byte) []byte {
	const hex = "0123456789ABCDEF"
	return append(b, '%', hex[c>>4], hex[c&15])
}
