package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"ropewalk/mapping"
	"ropewalk/mapping/reading"
)

type readCmd struct {
	Kind string   `arg:"" help:"date, life, dimensions, money, maker or quantity." enum:"date,life,dimensions,money,maker,quantity"`
	Text []string `arg:"" optional:"" help:"The words of a cell, one argument each; without any, the lines of standard input."`
	JSON bool     `name:"json" help:"One JSON object on a line for each text."`
	Set  []string `help:"A convention, such as circa=5, order=day-first or unit=mm; may be given several times." sep:"none" placeholder:"NAME=VALUE"`
}

// understood is what was made of a text, for people and as JSON.
type understood struct {
	Text   string `json:"text"`
	OK     bool   `json:"ok"`
	Reason string `json:"reason,omitempty"` // why it was not read
	Code   string `json:"code,omitempty"`

	*readDate
	*readLife
	Measures []readMeasure `json:"measures,omitempty"`
	Notes    []string      `json:"notes,omitempty"`
	Money    *readMoney    `json:"money,omitempty"`
	Makers   []readMaker   `json:"makers,omitempty"`
	Counts   []readCount   `json:"counts,omitempty"`
}

type readDate struct {
	Earliest    string      `json:"earliest,omitempty"` // ISO 8601, astronomical years; absent where open
	Latest      string      `json:"latest,omitempty"`
	LatestBegin string      `json:"latest_begin,omitempty"`
	EarliestEnd string      `json:"earliest_end,omitempty"`
	EDTF        string      `json:"edtf,omitempty"`
	Approximate bool        `json:"approximate"`
	Uncertain   bool        `json:"uncertain,omitempty"`
	Calendar    string      `json:"calendar,omitempty"`
	Or          [][2]string `json:"alternatives,omitempty"`
}

type readLife struct {
	Born   *readDate `json:"born,omitempty"`
	Died   *readDate `json:"died,omitempty"`
	Active *readDate `json:"active,omitempty"`
}

type readMeasure struct {
	Part        string `json:"part,omitempty"`
	Element     string `json:"element,omitempty"`
	Value       string `json:"value,omitempty"` // decimal
	Lower       string `json:"lower,omitempty"`
	Upper       string `json:"upper,omitempty"`
	Unit        string `json:"unit,omitempty"`
	Approximate bool   `json:"approximate"`
	Uncertain   bool   `json:"uncertain,omitempty"`
}

type readMoney struct {
	Value       string `json:"value,omitempty"` // decimal, in the main unit; rounded at fifteen places where it does not end, as of most sums with pence
	Lower       string `json:"lower,omitempty"`
	Upper       string `json:"upper,omitempty"`
	Currency    string `json:"currency,omitempty"`
	Code        string `json:"currency_code,omitempty"` // ISO 4217
	Year        int    `json:"year,omitempty"`
	Approximate bool   `json:"approximate,omitempty"`
}

// decimal gives a number in decimals, "" if there is none.
func decimal(n reading.Number) string {
	if s := n.Decimal(); s != "" || !n.Given() {
		return s
	}
	return n.Rat().FloatString(15)
}

type readMaker struct {
	Name        string `json:"name"`
	Kind        string `json:"kind,omitempty"`
	Role        string `json:"role,omitempty"`
	Qualifier   string `json:"qualifier,omitempty"`
	Certainty   string `json:"certainty,omitempty"`
	Life        string `json:"life_dates,omitempty"`
	Nationality string `json:"nationality,omitempty"`
	Note        string `json:"note,omitempty"`
}

type readCount struct {
	Value       int64  `json:"value"` // -1 for a range
	Lower       int64  `json:"lower"`
	Upper       int64  `json:"upper"` // -1 for "at least"
	Of          int64  `json:"of,omitempty"`
	Noun        string `json:"noun,omitempty"`
	Approximate bool   `json:"approximate"`
	Uncertain   bool   `json:"uncertain,omitempty"`
}

// sections are the conventions that a kind of reading heeds.
var sections = map[string][]string{"date": {"date"}, "life": {"date"}, "dimensions": {"dimension"}, "quantity": {"dimension"},
	"money": {"money"}, "maker": {"maker", "date"}}

func (c *readCmd) Run(a *app) error {
	conv, err := c.conventions()
	if err != nil {
		return &failure{exitUsage, err.Error()}
	}
	out := bufio.NewWriter(a.stdout)
	defer out.Flush()
	unread := false
	one := func(text string) error {
		u := understand(c.Kind, text, conv)
		unread = unread || !u.OK
		if c.JSON {
			enc := json.NewEncoder(out)
			enc.SetEscapeHTML(false)
			return enc.Encode(u)
		}
		u.print(out)
		return nil
	}
	for _, t := range c.Text {
		if err := one(t); err != nil {
			return err
		}
	}
	if len(c.Text) == 0 {
		in := bufio.NewReader(a.stdin)
		for {
			line, err := in.ReadString('\n')
			if line = strings.TrimRight(line, "\r\n"); line != "" || err == nil {
				if werr := one(line); werr != nil {
					return werr
				}
			}
			if err == io.EOF {
				break
			}
			if err != nil {
				return err
			}
		}
	}
	if unread {
		out.Flush()
		return problems()
	}
	return nil
}

func (c *readCmd) conventions() (*reading.Conventions, error) {
	conv := &reading.Conventions{}
	for _, s := range c.Set {
		name, value, ok := strings.Cut(s, "=")
		if !ok {
			return nil, fmt.Errorf("--set wants NAME=VALUE, not %q", s)
		}
		if err := setConvention(conv, sections[c.Kind], strings.TrimSpace(name), strings.TrimSpace(value)); err != nil {
			return nil, err
		}
	}
	return conv, nil
}

// setConvention sets a convention from the command line: the value is tried as
// text, as a list, as true or false and as a number.
func setConvention(conv *reading.Conventions, sections []string, name, value string) error {
	var first error
	var known []string
	for _, s := range sections {
		values := []any{value}
		if s != "date" {
			var list []any
			for _, x := range strings.Split(value, ",") {
				list = append(list, strings.TrimSpace(x))
			}
			values = append(values, list)
			if b, err := strconv.ParseBool(value); err == nil {
				values = append(values, b)
			}
			if n, err := strconv.Atoi(value); err == nil {
				values = append(values, n)
			}
		}
		for _, v := range values {
			err := conv.Set(s, name, v)
			if err == nil {
				return nil
			}
			var unknown *reading.UnknownSetting
			if errors.As(err, &unknown) {
				known = append(known, unknown.Known...)
				break
			}
			if first == nil {
				first = err
			}
		}
	}
	if first != nil {
		return first
	}
	hint := mapping.DidYouMean(name, known)
	if hint == "" {
		hint = "there are " + strings.Join(known, ", ")
	}
	return fmt.Errorf("there is no convention %q here: %s", name, hint)
}

func understand(kind, text string, conv *reading.Conventions) *understood {
	u := &understood{Text: text, OK: true}
	fail := func(err error) *understood {
		u.OK, u.Reason = false, err.Error()
		var unread *reading.Unread
		if errors.As(err, &unread) {
			u.Reason, u.Code = unread.Reason, unread.Code
		}
		return u
	}
	switch kind {
	case "date":
		d, err := reading.ReadDate(text, conv)
		if err != nil {
			return fail(err)
		}
		u.readDate = dateOf(&d)
	case "life":
		l, err := reading.ReadLife(text, conv)
		if err != nil {
			return fail(err)
		}
		u.readLife = &readLife{}
		for _, p := range []struct {
			from *reading.Date
			to   **readDate
		}{{&l.Born, &u.Born}, {&l.Died, &u.Died}, {&l.Active, &u.Active}} {
			if p.from.Text != "" {
				*p.to = dateOf(p.from)
			}
		}
	case "dimensions":
		ds, err := reading.ReadDimensions(text, conv)
		if err != nil {
			return fail(err)
		}
		for _, m := range ds.Measures {
			part := m.PartTerm
			if part == "" {
				part = m.Part
			}
			u.Measures = append(u.Measures, readMeasure{part, string(m.Element), m.Value.Decimal(), m.Lower.Decimal(), m.Upper.Decimal(),
				string(m.Unit), m.Approximate, m.Uncertain})
		}
		for _, n := range ds.Notes {
			u.Notes = append(u.Notes, n.Reason)
		}
	case "money":
		m, err := reading.ReadMoney(text, conv)
		if err != nil {
			return fail(err)
		}
		u.Money = &readMoney{decimal(m.Value), decimal(m.Lower), decimal(m.Upper), string(m.Currency), m.Code, m.Year, m.Approximate}
	case "maker":
		ms, err := reading.ReadMakers(text, conv)
		if err != nil {
			return fail(err)
		}
		for _, m := range ms {
			u.Makers = append(u.Makers, readMaker{m.Name, string(m.Kind), m.Role, string(m.Qualifier), string(m.Certainty), m.Life, m.Nationality, m.Note})
		}
	case "quantity":
		q, err := reading.ReadQuantity(text, conv)
		if err != nil {
			return fail(err)
		}
		for _, n := range q.Counts {
			u.Counts = append(u.Counts, readCount{n.Value, n.Lower, n.Upper, n.Of, n.Noun, n.Approximate, n.Uncertain})
		}
	}
	return u
}

func dateOf(d *reading.Date) *readDate {
	day := func(x reading.DateDay) string {
		if !x.Known() {
			return ""
		}
		return x.String()
	}
	r := &readDate{Earliest: day(d.EarliestBegin), Latest: day(d.LatestEnd), LatestBegin: day(d.LatestBegin), EarliestEnd: day(d.EarliestEnd),
		EDTF: d.EDTF(), Approximate: d.Approximate, Uncertain: d.Uncertain}
	if d.Calendar == reading.DateJulian {
		r.Calendar = "Julian"
	}
	for _, x := range d.Alternatives {
		r.Or = append(r.Or, [2]string{day(x.EarliestBegin), day(x.LatestEnd)})
	}
	return r
}

// print says what was understood, in a few lines.
func (u *understood) print(w io.Writer) {
	fmt.Fprintln(w, u.Text)
	if !u.OK {
		fmt.Fprintf(w, "  not read: %s (%s)\n", u.Reason, u.Code)
		return
	}
	line := func(parts ...string) {
		var some []string
		for _, p := range parts {
			if p != "" {
				some = append(some, p)
			}
		}
		fmt.Fprintln(w, "  "+strings.Join(some, ", "))
	}
	flag := func(b bool, word string) string {
		if b {
			return word
		}
		return ""
	}
	date := func(what string, d *readDate) {
		if d == nil {
			return
		}
		open := func(s string) string {
			if s == "" {
				return "open"
			}
			return s
		}
		line(what+open(d.Earliest)+" to "+open(d.Latest), flag(d.EDTF != "", "EDTF "+d.EDTF), flag(d.Approximate, "approximate"), flag(d.Uncertain, "uncertain"),
			flag(d.Calendar != "", "written in the "+d.Calendar+" calendar"))
		for _, o := range d.Or {
			line("either " + open(o[0]) + " to " + open(o[1]))
		}
	}
	date("", u.readDate)
	if u.readLife != nil {
		date("born ", u.Born)
		date("died ", u.Died)
		date("active ", u.Active)
	}
	amount := func(value, lower, upper string) string {
		switch {
		case value != "" && (lower != "" || upper != ""):
			return value + " (" + lower + " to " + upper + ")"
		case value != "":
			return value
		case lower == "":
			return "at most " + upper
		case upper == "":
			return "at least " + lower
		}
		return lower + " to " + upper
	}
	for _, m := range u.Measures {
		line(strings.TrimSpace(m.Element+" "+amount(m.Value, m.Lower, m.Upper)+" "+m.Unit), flag(m.Part != "", "of: "+m.Part), flag(m.Approximate, "approximate"), flag(m.Uncertain, "uncertain"))
	}
	if m := u.Money; m != nil {
		year := ""
		if m.Year != 0 {
			year = fmt.Sprint("in ", m.Year)
		}
		line(amount(m.Value, m.Lower, m.Upper)+" "+m.Currency, m.Code, year, flag(m.Approximate, "approximate"))
	}
	for _, m := range u.Makers {
		name := m.Name
		if name == "" {
			name = "nobody named"
		}
		line(name, m.Kind, flag(m.Qualifier != "", "qualifier: "+m.Qualifier), flag(m.Certainty != "", "certainty: "+m.Certainty),
			flag(m.Role != "", "role: "+m.Role), m.Life, m.Nationality, m.Note)
	}
	for _, n := range u.Counts {
		v := fmt.Sprint(n.Value)
		if n.Value < 0 {
			v = fmt.Sprintf("%d to %d", n.Lower, n.Upper)
			if n.Upper < 0 {
				v = fmt.Sprintf("at least %d", n.Lower)
			}
		}
		of := ""
		if n.Of > 0 {
			of = fmt.Sprint("of ", n.Of)
		}
		line(strings.TrimSpace(v+" "+n.Noun), of, flag(n.Approximate, "approximate"), flag(n.Uncertain, "uncertain"))
	}
	for _, n := range u.Notes {
		line("note: " + n)
	}
}
