package web

import (
	"net/http"
	"slices"
	"time"

	"ropewalk/service"
)

const (
	readyBytes  = 16 << 20 // about what answers kept ready may take
	longestWish = 256      // of a header field by which a kept answer is found, in bytes
)

// wish is all that a request can say to choose among representations of a live record.
type wish struct{ path, accept, coding string }

// wishOf is what a request asks for at a path. It is false for requests that are too
// seldom or too long to be kept.
func wishOf(r *http.Request, path string) (wish, bool) {
	accept, one := field(r, "Accept")
	coding, single := field(r, "Accept-Encoding")
	return wish{path, accept, coding}, one && single
}

// field is the value of a header field that came once or not at all: not at all is not
// the same as empty.
func field(r *http.Request, name string) (string, bool) {
	switch v := r.Header[name]; {
	case len(v) == 0:
		return "-", true // no list that a client sends
	case len(v) == 1 && len(v[0]) <= longestWish && v[0] != "-":
		return v[0], true
	}
	return "", false
}

// kept is an answer as it was sent: nothing in it depends on anything but the version of
// the record, the request's wish and the site.
type kept struct {
	of       version
	fields   []headerField
	content  []headerField // only with a body
	tag      string
	modified time.Time
	body     []byte
}

// version is what a record must have in common with that of a kept answer. Its number
// would do, were no database ever restored from a copy under a running server.
type version struct {
	seq      int64
	digest   [16]byte
	modified time.Time
}

func versionOf(rec *service.Record) version { return version{rec.Seq, rec.Digest, rec.Modified} }

type headerField struct {
	name   string
	values []string
}

// keep keeps an answer that is about to be sent with a header and a body.
func (s *Server) keep(a answer, h http.Header, tag string, body []byte) {
	k := &kept{of: a.of, tag: tag, modified: a.modified, body: body}
	if !a.shared {
		k.body = slices.Clone(body)
	}
	weight := 512 + len(body) + len(a.keep.path) + len(a.keep.accept) + len(a.keep.coding)
	for name, values := range h {
		f := headerField{name, slices.Clip(slices.Clone(values))} // what is added later goes elsewhere
		switch name {
		case "Content-Type", "Content-Length", "Content-Encoding":
			k.content = append(k.content, f)
		default:
			k.fields = append(k.fields, f)
		}
		for _, v := range values {
			weight += 64 + len(v)
		}
	}
	s.ready.Put(*a.keep, k, weight)
}

// again sends an answer that was kept.
func again(w http.ResponseWriter, r *http.Request, k *kept) error {
	h := w.Header()
	for _, f := range k.fields {
		h[f.name] = f.values
	}
	if done, err := settled(w, r, k.tag, k.modified); done {
		return err
	}
	for _, f := range k.content {
		h[f.name] = f.values
	}
	write(w, r, k.body)
	return nil
}

// settled answers a request whose conditions forbid the body.
func settled(w http.ResponseWriter, r *http.Request, tag string, modified time.Time) (bool, error) {
	switch conditions(r, tag, modified) {
	case http.StatusNotModified:
		w.WriteHeader(http.StatusNotModified)
		return true, nil
	case http.StatusPreconditionFailed:
		return true, service.Errorf(service.Precondition, "The document is not in the state that the request demands.")
	}
	return false, nil
}
