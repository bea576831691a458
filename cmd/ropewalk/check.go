package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render/view"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
)

type checkCmd struct {
	Site    string `arg:"" help:"The site's folder."`
	Deep    bool   `help:"Also expand every document with a JSON-LD processor and compare its triples (slow)."`
	All     bool   `help:"Print every problem; without it the first few of each rule."`
	First   int    `help:"How many problems of each rule to print." default:"5"`
	Strict  bool   `help:"Notices, such as unused columns and documents that LIDO or EDM cannot hold, count as problems."`
	Workers int    `help:"How many processors to use." default:"${workers}"`
}

func (c *checkCmd) Run(a *app) error {
	s, err := a.loadSite(c.Site, true)
	if err != nil {
		return err
	}
	p := &painter{w: a.stdout, color: colorful(a.stdout), text: s.Text}
	rep := &source.Report{}
	deep := func() *validate.Deep { return nil }
	if c.Deep {
		if _, err := validate.NewDeep(); err != nil {
			return err
		}
		deep = func() *validate.Deep { d, _ := validate.NewDeep(); return d }
	}
	byRule, notices := map[mapping.ProblemRule]int{}, map[mapping.ProblemRule]int{}
	waived := map[string]int{}
	checker := validate.NewChecker()
	words := map[string]*unknownWord{}
	var left viewNotes
	look := views(s)
	opt := line.Options{Workers: c.Workers, Report: rep, References: true, Trade: true, Now: a.time(),
		NewEncoder: func() line.Encoder {
			e := &checkEncoder{checker: checker, views: look, count: true}
			if c.Deep {
				e.deep = deep()
			}
			return e
		},
		Problem: func(r mapping.RecordProblem) {
			if left.add(r) {
				return
			}
			by := byRule
			if r.Severity == mapping.Notice {
				by = notices
			}
			by[r.Rule]++
			if r.Rule == "unknown-term" {
				noteWord(words, r)
			}
			if c.All || by[r.Rule] <= c.First {
				p.problem(r)
			}
		},
		Waived: func(w line.Waived) {
			waived[w.Rule]++
			if c.All {
				p.waived(w)
			}
		}}
	bar := a.progress("checking", s)
	opt.Progress = bar.set
	p.w = bar.above(a.stdout)
	totals, err := line.Run(a.ctx, s.Program, opt, func(*line.Item) error { return nil })
	bar.done()
	if err != nil {
		return fmt.Errorf("%w\nThe check stopped here", err)
	}
	c.summary(a, s, totals, found{byRule, notices, waived}, words, left, rep)
	unused := 0
	for _, col := range s.Program.Columns() {
		unused += len(col.Unused)
	}
	if len(byRule) > 0 || c.Strict && unused+len(notices)+len(left) > 0 {
		return problems()
	}
	return nil
}

// checkEncoder validates documents instead of writing them.
type checkEncoder struct {
	checker *validate.Checker
	deep    *validate.Deep // nil: leave it out
	views   *view.Context
	count   bool // whether to count triples
	triples int
}

func (e *checkEncoder) Triples() int { return e.triples }

func (e *checkEncoder) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	if e.triples = 0; e.count && d.Err() == nil {
		for range d.Triples() {
			e.triples++
		}
	}
	say := func(pr validate.Problem) {
		r := mapping.RecordProblem{Rule: mapping.ProblemRule("document-" + pr.Rule), IRI: strings.Clone(d.IRI()), Message: pr.Path + ": " + pr.Message}
		if m.Row != nil && m.Row.File != nil {
			r.Places = []source.Place{{File: m.Row.File.Name, Row: m.Row.Num}}
		}
		tell(r)
	}
	found := append(e.checker.CheckAt(d, m.Endpoint), validate.Domain(d)...)
	if e.deep != nil {
		found = append(found, e.deep.Check(d)...)
	}
	for _, pr := range found {
		say(pr)
	}
	if len(found) == 0 && d.Err() == nil {
		leaveOut(d, m, e.views, tell)
	}
	return dst
}

// found counts what the records gave to say, by rule.
type found struct {
	problems, notices map[mapping.ProblemRule]int
	waived            map[string]int
}

// unknownWord gathers a word that a term list does not know.
type unknownWord struct {
	word  string
	list  string
	n     int
	near  []string
	first string
}

func noteWord(words map[string]*unknownWord, r mapping.RecordProblem) {
	k := r.Message + "\x00" + r.Value
	w := words[k]
	if w == nil {
		w = &unknownWord{word: r.Value, near: r.Nearest}
		if len(r.Places) > 0 {
			w.first = place(r.Places[0])
		}
		if _, l, ok := strings.Cut(r.Message, "\""); ok {
			w.list, _, _ = strings.Cut(l, "\"")
		}
		words[k] = w
	}
	w.n++
}

func (c *checkCmd) summary(a *app, s *site.Site, t *line.Totals, f found, words map[string]*unknownWord, left viewNotes, rep *source.Report) {
	w := tabwriter.NewWriter(a.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "Records read")
	for _, name := range s.Sources.Names() {
		n := t.Records[name]
		if n == 0 {
			n = rep.Records(name)
		}
		if n == 0 {
			n = s.Looked(name)
		}
		fmt.Fprintf(w, "  %s\t%s\n", name, thousands(n))
	}
	fmt.Fprintln(w, "Documents made")
	for _, k := range slices.Sorted(maps.Keys(t.Documents)) {
		fmt.Fprintf(w, "  %s\t%s\n", k, thousands(t.Documents[k]))
	}
	fmt.Fprintf(w, "  triples\t%s\n", thousands(t.Triples))
	if t.Merged > 0 {
		fmt.Fprintf(w, "  made again, equal to the first\t%s\n", thousands(t.Merged))
	}
	fmt.Fprintln(w, "Columns")
	for _, col := range s.Program.Columns() {
		left := 0
		for _, name := range col.Left {
			if !slices.Contains(col.Mapped, name) {
				left++
			}
		}
		fmt.Fprintf(w, "  %s\t%d mapped, %d left out on purpose, %d withheld, %d unused\n", col.Source, len(col.Mapped), left, len(col.Withheld), len(col.Unused))
	}
	if notes := rep.Notes(); len(notes) > 0 {
		fmt.Fprintln(w, "Repairs and oddities of the exports")
		for _, n := range notes {
			if n.Kind == source.Unclaimed && t.Records[n.Source] > 0 {
				continue // these rows have a mapping of their own
			}
			where := n.Source
			if n.Column != "" {
				where += ", " + n.Column
			}
			first := ""
			if len(n.Places) > 0 {
				first = "first: " + place(n.Places[0])
			}
			fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", n.Kind, thousands(n.Count), where, first)
		}
	}
	if len(words) > 0 {
		fmt.Fprintln(w, "Words the term lists do not know")
		list := slices.SortedFunc(maps.Values(words), func(x, y *unknownWord) int {
			return cmp.Or(cmp.Compare(x.list, y.list), cmp.Compare(y.n, x.n), cmp.Compare(x.word, y.word))
		})
		for i, u := range list {
			if i == 20 && !c.All {
				fmt.Fprintf(w, "  and %d more (--all)\n", len(list)-i)
				break
			}
			near := ""
			if len(u.near) > 0 {
				near = "near: " + strings.Join(u.near, ", ")
			}
			fmt.Fprintf(w, "  %s\t%s\t%d ×\t%s\n", u.list, quote(u.word), u.n, near)
		}
	}
	if len(left) > 0 {
		fmt.Fprintln(w, "Left out of views (notice)")
		left.print(w, "  ")
	}
	list := func(title string, by map[mapping.ProblemRule]int) {
		fmt.Fprintln(w, title)
		for _, k := range slices.Sorted(maps.Keys(by)) {
			more := ""
			if !c.All && by[k] > c.First {
				more = fmt.Sprintf("(the first %d are shown above; --all shows them all)", c.First)
			}
			fmt.Fprintf(w, "  %s\t%s\t%s\n", k, thousands(by[k]), more)
		}
	}
	if len(f.waived) > 0 {
		fmt.Fprintln(w, "Waived, with a reason")
		for _, k := range slices.Sorted(maps.Keys(f.waived)) {
			fmt.Fprintf(w, "  %s\t%s\n", k, thousands(f.waived[k]))
		}
	}
	if len(f.notices) > 0 {
		list("Notices", f.notices)
	}
	if len(f.problems) == 0 {
		fmt.Fprintln(w, "Problems\tnone")
	} else {
		list("Problems", f.problems)
	}
	w.Flush()
}
