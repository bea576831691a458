package draft

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"ropewalk/service"
)

// A record is listed under names: of its endpoint, of its sets and of the sets
// above those. Stores keep an entry (name, seq) for each, so that a selection by
// set is one range of an index. When a record leaves a set its entry stays at the
// version that left, for those who keep a copy of the set.
//
// A thing's names are kept as text: one a line; a name that it left is followed by
// a tab and the Seq of the version that did.

// EndpointName is the name under which all records of an endpoint are listed.
func EndpointName(endpoint string) string { return "e:" + endpoint }

// SetName is the name under which all records of a set, and of the sets below it,
// are listed.
func SetName(set string) string { return "s:" + set }

// Everything is the name under which the [Extent] of the whole store is kept.
const Everything = ""

// SelectionName is the name that a selection asks for, or "" for all.
func SelectionName(s service.Selection) (string, error) {
	switch {
	case s.Set != "" && s.Endpoint != "":
		return "", service.Errorf(service.Invalid, "a selection has a set or an endpoint, not both")
	case s.Set != "":
		return SetName(s.Set), nil
	case s.Endpoint != "":
		return EndpointName(s.Endpoint), nil
	}
	return Everything, nil
}

// names are the names of a record, sorted.
func names(endpoint string, sets []string) []string {
	out := make([]string, 0, 4)
	if endpoint != "" {
		out = append(out, EndpointName(endpoint))
	}
	for _, set := range sets {
		name := SetName(set)
		for i := len("s:") + 1; i < len(name); i++ {
			if name[i] == ':' {
				out = append(out, name[:i])
			}
		}
		out = append(out, name)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Entry is a place at which a record is listed.
type Entry struct {
	Name string
	Seq  int64
	Left bool // the version at Seq left what Name stands for
}

// enlist turns the names of a thing at version prev into those at version seq. It
// says which entries end and which begin.
func enlist(old string, prev int64, now []string, seq int64) (text string, end, begin []Entry) {
	var b strings.Builder
	line := func(name string, left int64) {
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(name)
		if left > 0 {
			b.WriteByte('\t')
			b.WriteString(strconv.FormatInt(left, 10))
		}
	}
	for _, n := range now {
		begin = append(begin, Entry{Name: n, Seq: seq})
		line(n, 0)
	}
	if old == "" {
		return b.String(), nil, begin
	}
	for l := range strings.SplitSeq(old, "\n") {
		name, at, before := strings.Cut(l, "\t")
		_, stays := slices.BinarySearch(now, name)
		left, _ := strconv.ParseInt(at, 10, 64)
		switch {
		case !before:
			end = append(end, Entry{Name: name, Seq: prev})
			if !stays {
				begin = append(begin, Entry{Name: name, Seq: seq, Left: true})
				line(name, seq)
			}
		case stays:
			end = append(end, Entry{Name: name, Seq: left})
		default:
			line(name, left)
		}
	}
	return b.String(), end, begin
}

// current are the names under which a thing is listed now, those that it left
// excluded.
func current(text string, f func(name string)) {
	if text == "" {
		return
	}
	for l := range strings.SplitSeq(text, "\n") {
		if strings.IndexByte(l, '\t') < 0 {
			f(l)
		}
	}
}

// Extent says how many records are listed under a name; in a draft, by how much
// that changes.
type Extent struct {
	Name   string
	Listed int64 // gone, moved and left ones included
	Live   int64
}

// Adopt is for stores that learn to keep names after they had records: the names of
// a thing at its present version, and their entries.
func Adopt(endpoint, sets string, seq int64) (text string, begin []Entry) {
	text, _, begin = enlist("", 0, names(endpoint, SplitSets(sets)), seq)
	return text, begin
}

// JoinSets writes sets as stores keep them: sorted, one a line.
func JoinSets(sets []string) string {
	if len(sets) > 1 && !slices.IsSorted(sets) {
		sets = slices.Sorted(slices.Values(sets))
	}
	return strings.Join(sets, "\n")
}

// SplitSets is the reverse of [JoinSets].
func SplitSets(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, "\n")
}

// Compare orders entries by name and Seq.
func (e Entry) Compare(o Entry) int {
	return cmp.Or(strings.Compare(e.Name, o.Name), cmp.Compare(e.Seq, o.Seq))
}
