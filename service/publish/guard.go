package publish

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
)

// The notation of [service.Publication].Sources: a JSON array of inputs.

func writeInputs(in []Input) string {
	if len(in) == 0 {
		return ""
	}
	b, err := json.Marshal(in)
	if err != nil {
		return "" // strings and numbers: cannot fail
	}
	return string(b)
}

// Inputs reads what a publication was made from, as [Plan.Commit] kept it. It is nil
// if that is not known.
func Inputs(sources string) []Input {
	var out []Input
	if json.Unmarshal([]byte(sources), &out) != nil {
		return nil
	}
	return out
}

// fewRecords is the number of records below which half of them may go without a
// word.
const fewRecords = 10

// guard finds the reasons for which the plan should not be carried out unless
// somebody says so.
func (p *Plan) guard(rules *Rules) {
	stop := func(format string, a ...any) { p.Stops = append(p.Stops, fmt.Sprintf(format, a...)) }
	if p.Live == 0 {
		return
	}
	if float64(p.Strays)*100 > rules.Most*float64(p.Live) {
		stop("%d of %d published documents would be withdrawn; a run may withdraw %s%% of them", p.Strays, p.Live, strconv.FormatFloat(rules.Most, 'f', -1, 64))
	}
	if p.Strays > 0 && len(p.Unknown) > 0 {
		stop("%d documents would be withdrawn, and %d records do not say which documents they should have made: some may be the same", p.Strays, len(p.Unknown))
	}
	before := Inputs(p.Last.Sources)
	was, now := total(before), total(p.inputs)
	for _, name := range sources(p.inputs) {
		old, known := was[name]
		switch n := now[name]; {
		case n.Records == 0 && (old.Records > 0 || !known && p.Strays > 0):
			stop("source %q is empty", name)
		case known && differentFiles(name, before, p.inputs) && shrunk(old, n):
			stop("the files of source %q together have %d bytes and %d records; at the last publication they had %d and %d", name, n.Bytes, n.Records, old.Bytes, old.Records)
		}
	}
	for _, old := range before {
		i := slices.IndexFunc(p.inputs, func(n Input) bool { return n.Source == old.Source && n.File == old.File })
		if i >= 0 && now[old.Source].Records > 0 && shrunk(old, p.inputs[i]) {
			n := p.inputs[i]
			stop("%s has %d bytes and %d records; at the last publication it had %d and %d", n.File, n.Bytes, n.Records, old.Bytes, old.Records)
		}
	}
}

// shrunk reports whether half of an input is gone, or more.
func shrunk(old, now Input) bool {
	return now.Bytes*2 <= old.Bytes || old.Records >= fewRecords && now.Records*2 <= old.Records
}

func total(in []Input) map[string]Input {
	out := map[string]Input{}
	for _, i := range in {
		t := out[i.Source]
		out[i.Source] = Input{Source: i.Source, Bytes: t.Bytes + i.Bytes, Records: t.Records + i.Records}
	}
	return out
}

func sources(in []Input) []string {
	var out []string
	for _, i := range in {
		if !slices.Contains(out, i.Source) {
			out = append(out, i.Source)
		}
	}
	return out
}

// differentFiles reports whether a source no longer has the files it had: exports
// with the day in their names. Then only its whole can be compared.
func differentFiles(source string, old, now []Input) bool {
	for _, o := range old {
		if o.Source == source && !slices.ContainsFunc(now, func(n Input) bool { return n.Source == source && n.File == o.File }) {
			return true
		}
	}
	return false
}
