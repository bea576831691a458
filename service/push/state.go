package push

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/knakk/rdf"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/service"
)

// StateGraph is the name of the graph in which a target keeps how far it has followed
// the site with a base. No document can have it: their IRIs have no fragment.
func StateGraph(base string) string { return base + "#push" }

// The properties of the state. All values are plain strings, which no store rewrites.
const (
	terms        = "https://ropewalk.invalid/push#"
	termThrough  = terms + "through" // Seq up to which the target has followed
	termVersion  = terms + "version" // fingerprint of the version at that Seq
	termRefused  = terms + "refused" // path of a document before it that the target does not have
	termClaim    = terms + "claim"   // of a push at work
	termLeft     = terms + "left"    // a claim that was taken back
	termRenewals = terms + "renewals"
)

// state is what the state graph says.
type state struct {
	through  int64
	version  string
	refused  []string // paths, sorted
	claims   []string // not taken back, sorted
	left     []string
	renewals int64
}

// fingerprint tells a version from those of other histories with its Seq.
func fingerprint(r *service.Record) string {
	return fmt.Sprintf("%d %s %x", r.Publication, r.Modified.UTC().Format(time.RFC3339), r.Digest)
}

// belongs checks that a state speaks of a store's history.
func (s *state) belongs(ctx context.Context, store service.Store, t *Target) error {
	if s.through == 0 {
		return nil
	}
	v, err := store.Version(ctx, s.through)
	if err != nil && service.CodeOf(err) != service.NotFound {
		return err
	}
	if err == nil && fingerprint(v) == s.version {
		return nil
	}
	_, when, _ := strings.Cut(s.version, " ")
	when, _, _ = strings.Cut(when, " ")
	return service.Errorf(service.Conflict, "%s was filled from another store, or from a history that this one no longer has: its state is at change %d of %s, which is not in this store. --all sends everything again", t, s.through, when)
}

// nTriples writes a state as N-Triples.
func (s *state) nTriples(graph string) ([]byte, error) {
	var b bytes.Buffer
	w, err := render.NewTripleWriter(&b, render.FormatByName("nt"))
	if err != nil {
		return nil, err
	}
	add := func(property string, values ...string) {
		for _, v := range values {
			if err == nil {
				err = w.Write(says(graph, property, v))
			}
		}
	}
	add(termThrough, strconv.FormatInt(s.through, 10))
	if s.version != "" {
		add(termVersion, s.version)
	}
	add(termRefused, s.refused...)
	add(termClaim, s.claims...)
	add(termLeft, s.left...)
	add(termRenewals, strconv.FormatInt(s.renewals, 10))
	if err == nil {
		err = w.Close()
	}
	return b.Bytes(), err
}

func says(graph, property, value string) entity.Triple {
	return entity.Triple{Subject: entity.RDFTerm{Kind: entity.IRI, Value: graph}, Predicate: entity.RDFTerm{Kind: entity.IRI, Value: property},
		Object: entity.RDFTerm{Kind: entity.Literal, Value: value}}
}

// claimTriple is a claim alone, as it is added to a state.
func claimTriple(graph, property, claim string) ([]byte, error) {
	var b bytes.Buffer
	w, err := render.NewTripleWriter(&b, render.FormatByName("nt"))
	if err == nil {
		err = w.Write(says(graph, property, claim))
	}
	if err == nil {
		err = w.Close()
	}
	return b.Bytes(), err
}

// readState reads what a target answered.
func readState(contentType string, body []byte) (s state, err error) {
	format := rdf.NTriples
	switch m, _, _ := mime.ParseMediaType(contentType); m {
	case "application/n-triples", "text/plain", "text/ntriples":
	case "text/turtle", "application/x-turtle":
		format = rdf.Turtle
	default:
		return s, fmt.Errorf("it is sent as %q, not as N-Triples or Turtle", contentType)
	}
	all := map[string][]string{}
	for dec := rdf.NewTripleDecoder(bytes.NewReader(body), format); ; {
		t, err := dec.Decode()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return s, err
		}
		all[t.Pred.String()] = append(all[t.Pred.String()], t.Obj.String())
	}
	number := func(property string) int64 {
		var n int64
		if len(all[property]) > 1 {
			err = errors.Join(err, fmt.Errorf("%s has %d values", property, len(all[property])))
		} else if len(all[property]) == 1 {
			var nerr error
			if n, nerr = strconv.ParseInt(all[property][0], 10, 64); nerr != nil || n < 0 {
				err = errors.Join(err, fmt.Errorf("%s is %q", property, all[property][0]))
			}
		}
		return n
	}
	s.through, s.renewals = number(termThrough), number(termRenewals)
	if v := all[termVersion]; len(v) == 1 {
		s.version = v[0]
	} else if s.through > 0 || len(v) > 1 {
		err = errors.Join(err, fmt.Errorf("%s has %d values", termVersion, len(v)))
	}
	s.refused, s.left = all[termRefused], all[termLeft]
	for _, c := range all[termClaim] {
		if !slices.Contains(s.left, c) {
			s.claims = append(s.claims, c)
		}
	}
	slices.Sort(s.refused)
	slices.Sort(s.claims)
	return s, err
}

// state reads the state from a target. It is the zero value if there is none.
func (t *Target) state(ctx context.Context, graph string) (state, error) {
	a, err := t.send(ctx, nil, "GET", graph, nil)
	switch {
	case err != nil:
		return state{}, err
	case a.status == 404 || a.status == 204 || a.status == 200 && len(bytes.TrimSpace(a.body)) == 0:
		return state{}, nil
	case a.status != 200:
		return state{}, t.unfit("asked for <"+graph+">", a)
	}
	s, err := readState(a.contentType, a.body)
	if err != nil {
		return state{}, service.Errorf(service.Invalid, "%s: the state of the push in <%s> can't be read: %v. If nobody needs it, delete that graph; the next push then sends everything", t, graph, err)
	}
	return s, nil
}
