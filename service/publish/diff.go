package publish

import (
	"cmp"
	"slices"

	"ropewalk/mapping/entity"
	"ropewalk/service"
)

// Statements compares two versions of a document, triple by triple. Either may be nil
// or without a body: a document that is not there says nothing. The triples are in
// the order of subject, predicate, object.
func Statements(before, after *service.Record) (removed, added []entity.Triple, err error) {
	a, err := triples(before)
	if err != nil {
		return nil, nil, err
	}
	b, err := triples(after)
	if err != nil {
		return nil, nil, err
	}
	for len(a) > 0 || len(b) > 0 {
		c := 0
		switch {
		case len(a) == 0:
			c = 1
		case len(b) == 0:
			c = -1
		default:
			c = compare(a[0], b[0])
		}
		if c < 0 {
			removed = append(removed, a[0])
		} else if c > 0 {
			added = append(added, b[0])
		}
		if c <= 0 {
			a = a[1:]
		}
		if c >= 0 {
			b = b[1:]
		}
	}
	return removed, added, nil
}

func triples(r *service.Record) ([]entity.Triple, error) {
	if r == nil || len(r.Body) == 0 {
		return nil, nil
	}
	d := new(entity.Document)
	if err := d.Parse(r.Body, r.Keys); err != nil {
		return nil, &service.Error{Code: service.Internal, Message: "the stored document of " + r.IRI, Err: err}
	}
	var out []entity.Triple
	for _, t := range d.Triples() {
		out = append(out, t)
	}
	slices.SortFunc(out, compare)
	return out, nil
}

func compare(a, b entity.Triple) int {
	return cmp.Or(term(a.Subject, b.Subject), term(a.Predicate, b.Predicate), term(a.Object, b.Object))
}

func term(a, b entity.RDFTerm) int {
	return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Datatype, b.Datatype), cmp.Compare(a.Lang, b.Lang))
}
