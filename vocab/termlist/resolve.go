package termlist

import "strings"

// reference is the five components of an IRI reference (RFC 3986 §3, RFC 3987).
type reference struct {
	scheme, authority, path, query, fragment string
	hasAuthority, hasQuery, hasFragment      bool
}

func split(s string) (r reference) {
	if i := strings.IndexAny(s, ":/?#"); i > 0 && s[i] == ':' {
		r.scheme, s = s[:i], s[i+1:]
	}
	s, r.fragment, r.hasFragment = strings.Cut(s, "#")
	s, r.query, r.hasQuery = strings.Cut(s, "?")
	if rest, ok := strings.CutPrefix(s, "//"); ok {
		r.hasAuthority = true
		i := strings.IndexByte(rest, '/')
		if i < 0 {
			i = len(rest)
		}
		r.authority, s = rest[:i], rest[i:]
	}
	r.path = s
	return r
}

func (r *reference) String() string {
	var b strings.Builder
	if r.scheme != "" {
		b.WriteString(r.scheme + ":")
	}
	if r.hasAuthority {
		b.WriteString("//" + r.authority)
	}
	b.WriteString(r.path)
	if r.hasQuery {
		b.WriteString("?" + r.query)
	}
	if r.hasFragment {
		b.WriteString("#" + r.fragment)
	}
	return b.String()
}

// resolve makes ref absolute with base (RFC 3986 §5.2.2); characters stay as they
// are. An empty base leaves ref alone, and so does a ref with a scheme, whose dot
// segments are the author's business in RDF.
func resolve(base, ref string) string {
	r := split(ref)
	if r.scheme != "" || base == "" {
		return ref
	}
	b := split(base)
	t := reference{scheme: b.scheme, fragment: r.fragment, hasFragment: r.hasFragment}
	switch {
	case r.hasAuthority:
		t.authority, t.hasAuthority = r.authority, true
		t.path, t.query, t.hasQuery = removeDots(r.path), r.query, r.hasQuery
	case r.path == "":
		t.authority, t.hasAuthority, t.path = b.authority, b.hasAuthority, b.path
		t.query, t.hasQuery = r.query, r.hasQuery
		if !r.hasQuery {
			t.query, t.hasQuery = b.query, b.hasQuery
		}
	default:
		path := r.path
		if path[0] != '/' {
			path = b.path[:strings.LastIndexByte(b.path, '/')+1] + path
			if b.hasAuthority && b.path == "" {
				path = "/" + path
			}
		}
		t.authority, t.hasAuthority = b.authority, b.hasAuthority
		t.path, t.query, t.hasQuery = removeDots(path), r.query, r.hasQuery
	}
	return t.String()
}

// removeDots takes "." and ".." segments out of a path (RFC 3986 §5.2.4).
func removeDots(path string) string {
	var out []string
	segments := strings.Split(path, "/")
	for i, s := range segments {
		last := i == len(segments)-1
		switch {
		case s == "." || s == "..":
			if s == ".." && len(out) > 1 {
				out = out[:len(out)-1]
			}
			if last {
				out = append(out, "")
			}
		default:
			out = append(out, s)
		}
	}
	return strings.Join(out, "/")
}
