package harvest

import (
	"context"
	"strconv"

	"ropewalk/mapping/entity"
	"ropewalk/service"
)

// atOnce is how many records are read from the store at a time.
const atOnce = 50

// list answers ListIdentifiers and ListRecords (§§4.3, 4.5).
func (p *Provider) list(ctx context.Context, dst []byte, q *request) ([]byte, error) {
	t, f, err := p.begin(ctx, q)
	if err != nil || len(q.faults) > 0 {
		return dst, err
	}
	l := lister{p: p, format: f, token: t, headers: q.verb == "ListIdentifiers", dst: append(append(append(dst, '<'), q.verb...), ">\n"...)}
	_, continued := q.args["resumptionToken"]
	more, err := l.fill(ctx)
	if err != nil {
		return dst, err
	}
	if l.count == 0 && continued && l.skipped != nil {
		l.skip()
	}
	if l.count == 0 {
		// The rest of a list can have gone, too: records that changed after until.
		q.fail(noRecordsMatch, "No records of this format match.")
		return dst, nil
	}
	dst = l.dst
	switch {
	case more:
		if !continued {
			if t.size, _, err = p.store.Count(ctx, p.selection(t, f)); err != nil {
				return dst, err
			}
		}
		key, err := tokenKey(ctx, p.store)
		if err != nil {
			return dst, err
		}
		cursor := t.cursor
		t.cursor += int64(l.count)
		t.size = max(t.size, t.cursor+1)
		now := p.now()
		t.written = now
		dst = appendTime(append(dst, `<resumptionToken expirationDate="`...), now.Add(p.limits.TokenAge))
		dst = strconv.AppendInt(append(dst, `" completeListSize="`...), t.size, 10)
		dst = strconv.AppendInt(append(dst, `" cursor="`...), cursor, 10)
		dst = append(append(append(dst, `">`...), t.seal(key)...), "</resumptionToken>\n"...)
	case continued:
		dst = strconv.AppendInt(append(dst, `<resumptionToken completeListSize="`...), t.cursor+int64(l.count), 10)
		dst = strconv.AppendInt(append(dst, `" cursor="`...), t.cursor, 10)
		dst = append(dst, "\"/>\n"...)
	}
	dst = append(append(dst, "</"...), q.verb...)
	return append(dst, ">\n"...), nil
}

// begin finds out which list is asked for, and from where.
func (p *Provider) begin(ctx context.Context, q *request) (*token, *Format, error) {
	if text, ok := q.args["resumptionToken"]; ok {
		return p.resume(ctx, q, text)
	}
	t := &token{verb: q.verb, prefix: q.args["metadataPrefix"], set: q.args["set"]}
	t.from, t.until = window(q.args["from"], q.args["until"])
	f := p.format(t.prefix)
	if f == nil {
		q.fail(cannotDisseminateFormat, "There is no format %s.", shown(t.prefix))
	}
	if t.set != "" && len(p.sets) == 0 {
		q.fail(noSetHierarchy, "The records are not divided into sets.")
	}
	if len(q.faults) > 0 {
		return nil, nil, nil
	}
	earliest, err := p.store.Earliest(ctx)
	if err != nil {
		return nil, nil, err
	}
	if _, ok := q.args["until"]; ok && t.until.Before(earliest) || earliest.IsZero() {
		q.fail(noRecordsMatch, "The earliest datestamp is later than that.")
	}
	return t, f, nil
}

// resume goes on with a list.
func (p *Provider) resume(ctx context.Context, q *request, text string) (*token, *Format, error) {
	refuse := func(why string) (*token, *Format, error) {
		q.fail(badResumptionToken, "%s", why)
		return nil, nil, nil
	}
	key, err := tokenKey(ctx, p.store)
	if err != nil {
		return nil, nil, err
	}
	t, ok := unseal(key, text)
	if !ok {
		return refuse("This resumptionToken is none of this repository.")
	}
	if t.verb != q.verb {
		return refuse("This resumptionToken belongs to " + t.verb + ".")
	}
	if age := p.now().Sub(t.written); age > p.limits.TokenAge {
		return refuse("This resumptionToken has expired.")
	}
	f := p.format(t.prefix)
	if f == nil {
		return refuse("The format of this resumptionToken is not offered any more.")
	}
	current, err := p.store.Current(ctx)
	if err != nil {
		return nil, nil, err
	}
	if t.after > current.Last {
		return refuse("This resumptionToken is from a later state of the repository, which was put back to an earlier one.")
	}
	return t, f, nil
}

// selection is what a list selects from the store. Where it is by set, the lister
// leaves out what the format is not offered for.
func (p *Provider) selection(t *token, f *Format) service.Selection {
	s := service.Selection{From: t.from, Until: t.until, Set: t.set}
	if t.set == "" && len(f.Endpoints) == 1 {
		s.Endpoint = f.Endpoints[0]
	}
	return s
}

// lister fills one response.
type lister struct {
	p       *Provider
	format  *Format
	token   *token
	headers bool
	dst     []byte
	count   int
	passed  int             // records that are not in the list, in this response
	skipped *service.Record // the last of them since the last one listed
}

// fill appends records until the response is full, and moves the token behind the
// last. It reports whether more follow: one at least is certain to.
func (l *lister) fill(ctx context.Context) (more bool, err error) {
	p, most, begun := l.p, l.p.limits.Records, len(l.dst)
	if l.headers {
		most = p.limits.Headers
	}
	s := p.selection(l.token, l.format)
	s.Bodies = !l.headers || !l.format.Always
	doc := p.documents.Get().(*entity.Document)
	defer p.documents.Put(doc)
	at := l.token.after
	for {
		s.After, s.Limit = at, most-l.count+1
		if s.Bodies {
			s.Limit = min(s.Limit, atOnce)
		}
		if !l.format.Always {
			s.Limit = atOnce // some may not fit
		}
		records, err := p.store.Changes(ctx, s)
		if err != nil {
			return false, err
		}
		for i := range records {
			r := &records[i]
			if l.passed >= p.limits.Passed {
				// Enough work for one request. The next one has r to look at, at least,
				// and need not look again at what is not in the list.
				if l.count == 0 {
					l.skip()
				}
				l.token.after = at
				return true, nil
			}
			full := l.count >= most || l.count > 0 && len(l.dst)-begun >= p.limits.Bytes
			before := len(l.dst)
			found, err := l.put(ctx, r, doc)
			if err != nil {
				return false, err
			}
			at = r.Seq
			if found && full {
				l.dst = l.dst[:before]
				return true, nil
			}
			if found {
				l.count++
				l.token.after, l.skipped = at, nil
				continue
			}
			l.skipped = r
			l.passed++
		}
		if len(records) < s.Limit {
			return false, nil
		}
	}
}

// skip lists the last record that was passed over as deleted, where a response that
// has to list something has nothing else: to a harvester who never had the record it
// is another one that it does not have.
func (l *lister) skip() {
	open, end := enclose(l.headers)
	l.dst = append(l.p.header(append(l.dst, open...), l.skipped, true), end...)
	l.count++
	l.token.after = l.skipped.Seq
}

// put appends a record if it is in the list.
func (l *lister) put(ctx context.Context, r *service.Record, doc *entity.Document) (bool, error) {
	verdict, dst, err := l.p.put(ctx, l.dst, r, l.format, doc, l.headers)
	if err != nil || verdict == absent {
		return false, err
	}
	l.dst = dst
	return true, nil
}

// enclose is what stands around a header in a list of records.
func enclose(headers bool) (open, end string) {
	if headers {
		return "", ""
	}
	return "<record>\n", "</record>\n"
}

// verdict is what a record is in a format.
type verdict uint8

const (
	absent  verdict = iota // it is not and never was there
	deleted                // it is not there any more
	present
)

// put appends a record in a format, or its header alone, and says what it is. What
// is absent appends nothing.
func (p *Provider) put(ctx context.Context, dst []byte, r *service.Record, f *Format, doc *entity.Document, headers bool) (verdict, []byte, error) {
	from := len(dst)
	live := r.State == service.Live && !r.Left
	if !f.covers(r.Endpoint) {
		// An earlier version may have been of an endpoint that the format covers.
		was, err := p.covered(ctx, r, f)
		if err != nil || !was {
			return absent, dst, err
		}
		live = false
	}
	open, end := enclose(headers)
	if live && headers && f.Always {
		return present, p.header(dst, r, false), nil
	}
	if live {
		if err := doc.Parse(r.Body, r.Keys); err != nil {
			return absent, dst, &service.Error{Code: service.Internal, Message: "the stored document of " + r.IRI, Err: err}
		}
		dst = p.header(append(dst, open...), r, false)
		head := len(dst)
		out, err := f.Append(append(dst, "<metadata>\n"...), r, doc)
		if err == nil {
			if headers {
				return present, out[:head], nil
			}
			return present, append(append(out, "</metadata>\n"...), end...), nil
		}
		dst = dst[:from]
		if r.Prev == 0 {
			return absent, dst, nil
		}
	}
	// A copy may hold it: it was there, or some version of it was that could fill
	// the format.
	return deleted, append(p.header(append(dst, open...), r, true), end...), nil
}

// covered reports whether an earlier version of a record was of an endpoint that the
// format covers.
func (p *Provider) covered(ctx context.Context, r *service.Record, f *Format) (bool, error) {
	const part = 100
	for after := int64(0); r.Prev > 0; {
		versions, err := p.store.Versions(ctx, r.Path, after, part)
		if err != nil {
			return false, err
		}
		for i := range versions {
			if after = versions[i].Seq; after >= r.Seq {
				return false, nil
			}
			if f.covers(versions[i].Endpoint) {
				return true, nil
			}
		}
		if len(versions) < part {
			return false, nil
		}
	}
	return false, nil
}

// header appends the header of a record (§2.5).
func (p *Provider) header(dst []byte, r *service.Record, deleted bool) []byte {
	if deleted {
		dst = append(dst, "<header status=\"deleted\">\n<identifier>"...)
	} else {
		dst = append(dst, "<header>\n<identifier>"...)
	}
	dst = appendURI(dst, p.stem)
	dst = appendURI(dst, r.Path)
	dst = appendTime(append(dst, "</identifier>\n<datestamp>"...), r.Modified)
	dst = append(dst, "</datestamp>\n"...)
	if len(p.sets) > 0 {
		for _, s := range r.Sets {
			if setSpec.MatchString(s) {
				dst = append(append(append(dst, "<setSpec>"...), s...), "</setSpec>\n"...)
			}
		}
	}
	return append(dst, "</header>\n"...)
}

// appendURI appends a URI, which of the characters that XML escapes can have the
// ampersand alone.
func appendURI(dst []byte, uri string) []byte {
	for i := 0; i < len(uri); i++ {
		if uri[i] == '&' {
			dst = append(dst, "&amp;"...)
		} else {
			dst = append(dst, uri[i])
		}
	}
	return dst
}
