package mapping

import (
	"fmt"
	"slices"
	"strings"

	"ropewalk/mapping/source"
)

// Waiver is that a mapping lets its documents break a rule of the trade.
type Waiver struct {
	Rule    string
	Because string
	Own     bool           // the record says so: the rule or the reason stands in a cell
	Span    Span           // of the mapping
	Places  []source.Place // the cells; only where the run traces
}

const (
	problemNoReason ProblemRule = "waiver-without-reason" // a record names a rule to be waived, and no reason
	problemNoRule   ProblemRule = "waiver-unknown"        // a record names a rule that can't be waived
)

const waiveHint = `write waive: { rule: accession-year, because: "{Remark}" }, or a list of such`

// waive is a waiver of a mapping.
type waive struct {
	span          Span
	rule, because *text
}

// waivers compiles what a mapping waives.
func (c *compiler) waivers(d *document, v Value, sc *scope) {
	for _, item := range c.list(v) {
		m, ok := item.(*Map)
		if !ok {
			c.add(ruleWaiver, item.Place(), "a waiver says which rule and why", waiveHint)
			continue
		}
		w := &waive{span: m.Span}
		good := true
		for _, e := range m.Entries {
			switch e.Key.Text {
			case "rule":
				w.rule = c.text(e.Value, nil, sc, false)
				good = good && w.rule != nil
			case "because":
				w.because = c.text(e.Value, nil, sc, false)
				good = good && w.because != nil
			default:
				c.add(ruleUnknownKey, e.Key.Span, fmt.Sprintf("%q has no place in a waiver", e.Key.Text), waiveHint)
				good = false
			}
		}
		switch {
		case !good:
			continue
		case w.rule == nil:
			c.add(ruleWaiver, m.Span, "the waiver does not say which rule it waives", waiveHint)
			continue
		case w.because == nil || w.because.holes == 0 && strings.TrimSpace(w.because.fixed) == "":
			c.add(ruleWaiver, m.Span, "the waiver gives no reason, so it is refused", "say why under \"because\", in words or with the field that holds them")
			continue
		case w.rule.holes == 0 && !slices.Contains(c.Waivable, w.rule.fixed):
			hint := didYouMean(w.rule.fixed, c.Waivable)
			if hint == "" {
				hint = "there are " + oneOf(c.Waivable)
			}
			c.add(ruleWaiver, w.rule.src.Span, fmt.Sprintf("%q is no rule that can be waived", w.rule.fixed), hint)
			continue
		}
		d.waive = append(d.waive, w)
	}
}

// waivers are what the mapping waives for the record.
func (r *Run) waivers(d *document) []Waiver {
	if len(d.waive) == 0 {
		return nil
	}
	var out []Waiver
	for _, w := range d.waive {
		rules, _ := r.fill(w.rule)
		because, _ := r.fill(w.because)
		if rules == "" || because == "" {
			if rules != "" && w.rule.holes > 0 {
				r.textProblem(problemNoReason, w.rule, rules, "a rule is to be waived and no reason is given, so it is not")
			}
			continue
		}
		because = strings.Clone(because)
		for _, name := range strings.Split(rules, ";") {
			name = strings.TrimSpace(name)
			if w.rule.holes > 0 && !slices.Contains(r.p.waivable, name) {
				r.textProblem(problemNoRule, w.rule, name, "this is no rule that can be waived")
				continue
			}
			v := Waiver{Rule: strings.Clone(name), Because: because, Own: w.rule.holes+w.because.holes > 0, Span: w.span}
			if r.Trace {
				v.Places = r.places(w.because, r.places(w.rule, nil))
				for i := range v.Places {
					v.Places[i].Value = strings.Clone(v.Places[i].Value)
				}
			}
			out = append(out, v)
		}
	}
	return out
}

// Waivers are the waivers of a program's mappings that hold for all of their records.
func (p *Program) Waivers() []Waiver {
	var out []Waiver
	for _, sp := range p.Sources {
		for _, d := range sp.docs {
			for _, w := range d.waive {
				if w.rule.holes+w.because.holes == 0 {
					out = append(out, Waiver{Rule: w.rule.fixed, Because: w.because.fixed, Span: w.span})
				}
			}
		}
	}
	return out
}

// Fills reports whether a mapping of a class fills a key of its documents.
func (p *Program) Fills(class, key string) bool {
	for _, sp := range p.Sources {
		for _, d := range sp.docs {
			if d.class.Key == class && slices.ContainsFunc(d.root.fills, func(f *fill) bool { return f.slot.Key == key }) {
				return true
			}
		}
	}
	return false
}

// Makes reports whether a mapping makes nodes of a class that stand within a document.
func (p *Program) Makes(class string) bool {
	var within func(n *node) bool
	var stands func(v *value) bool
	stands = func(v *value) bool {
		return v.node != nil && within(v.node) || slices.ContainsFunc(v.first, stands)
	}
	within = func(n *node) bool {
		return n.class != nil && n.class.Key == class || slices.ContainsFunc(n.fills, func(f *fill) bool { return slices.ContainsFunc(f.values, stands) })
	}
	for _, sp := range p.Sources {
		if slices.ContainsFunc(sp.docs, func(d *document) bool { return within(d.root) }) {
			return true
		}
	}
	return false
}

// Prefixes are the fixed beginnings of the IRIs of documents in which a mapping fills one
// of the keys; "" stands for an IRI that may begin with anything.
func (p *Program) Prefixes(keys ...string) []string {
	var out []string
	for _, sp := range p.Sources {
		for _, d := range sp.docs {
			if slices.ContainsFunc(d.root.fills, func(f *fill) bool { return slices.Contains(keys, f.slot.Key) }) && !slices.Contains(out, d.prefix) {
				out = append(out, d.prefix)
			}
		}
	}
	return out
}
