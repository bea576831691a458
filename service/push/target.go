package push

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"ropewalk/service"
)

// Credentials for a target. Nothing that this package says holds them.
type Credentials struct {
	User, Password string // for Basic or Digest authentication, as the target asks
	Token          string // for Bearer (RFC 6750); User and Password are ignored then
}

// Target is an RDF store's endpoint of the Graph Store HTTP Protocol.
type Target struct {
	endpoint string // ends so that the name of a graph can follow
	name     string // for people
	auth     authenticator
	client   *http.Client
	timeout  time.Duration // of one request
	patience time.Duration // how long one request is tried again
	step     time.Duration // of waiting between tries, at first

	mu    sync.Mutex
	pause time.Time // when the target wants to be asked again
}

// NewTarget makes a target of the address of an endpoint: http or https, without
// credentials (code [service.Invalid]).
func NewTarget(endpoint string, c Credentials) (*Target, error) {
	u, err := url.Parse(endpoint)
	switch {
	case err != nil:
		// The error would quote the address, and perhaps a password in it.
		return nil, service.Errorf(service.Invalid, "the address of the store can't be read")
	case u.User != nil:
		return nil, service.Errorf(service.Invalid, "the address of the store holds a name or password: they stand in the environment instead")
	case u.Scheme != "http" && u.Scheme != "https" || u.Host == "":
		return nil, service.Errorf(service.Invalid, "%q is not an http or https address", endpoint)
	case u.Fragment != "":
		return nil, service.Errorf(service.Invalid, "%q has a fragment, which is never sent", endpoint)
	}
	t := &Target{name: u.String(), auth: authenticator{c: c}, patience: 5 * time.Minute, step: 500 * time.Millisecond}
	// §4.2: the name of the graph is a parameter of the query.
	if u.RawQuery != "" {
		u.RawQuery += "&"
	}
	u.RawQuery += "graph="
	t.endpoint = u.String()
	// Redirections are not followed: a PUT would become a GET, and whoever answers
	// there was not named by anybody.
	tr := http.DefaultTransport.(*http.Transport).Clone()
	tr.MaxIdleConnsPerHost = 64
	t.client = &http.Client{Transport: tr, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return t, nil
}

// String is the address.
func (t *Target) String() string { return t.name }

// Close lets go of connections.
func (t *Target) Close() { t.client.CloseIdleConnections() }

// answer is what a target said.
type answer struct {
	status      int
	location    string
	contentType string
	body        []byte
}

// done reports whether the target says that it did what it was asked: 202 (Accepted)
// would only mean that it may.
func (a answer) done() bool { return a.status == 200 || a.status == 201 || a.status == 204 }

const (
	mostTries = 3        // of a request that fails inside of the target
	mostState = 16 << 20 // bytes of a state
	mostSaid  = 300      // characters of an answer that are repeated
)

// send carries out one request about a graph, and again as long as that promises
// anything. It sends nothing while the lease does not hold.
func (t *Target) send(ctx context.Context, l *lease, method, graph string, body []byte) (answer, error) {
	began, wait := time.Now(), t.step
	for try := 1; ; try++ {
		if err := t.rest(ctx); err != nil {
			return answer{}, err
		}
		if err := l.wait(ctx); err != nil {
			return answer{}, err
		}
		a, after, err := t.once(ctx, method, graph, body)
		again, why := false, ""
		switch {
		case ctx.Err() != nil:
			return answer{}, ctx.Err()
		case err != nil:
			again, why = true, t.auth.hide(reason(err))
		case a.status == 429 || a.status == 503 || a.status == 408 || a.status == 425:
			again, why = true, fmt.Sprintf("it answers %d %s", a.status, http.StatusText(a.status))
			t.hold(after)
		case a.status == 500 || a.status == 502 || a.status == 504:
			again = try < mostTries
		}
		if !again {
			return a, nil
		}
		d := max(wait/2+jitter(wait/2), after)
		if end, ok := ctx.Deadline(); time.Since(began)+d > t.patience || ok && time.Until(end) < d {
			if after > 0 {
				why += fmt.Sprintf(", and asks to wait %v", after)
			}
			return answer{}, service.Errorf(service.Unavailable, "%s can't be reached: %s. Tried %s", t, why, times(try))
		}
		if err := sleep(ctx, d); err != nil {
			return answer{}, err
		}
		wait = min(2*wait, 64*t.step)
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// reason leaves out the address, which the caller names.
func reason(err error) string {
	var ue *url.Error
	if errors.As(err, &ue) {
		err = ue.Err
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return "it did not answer in time"
	}
	return err.Error()
}

// hold lets all requests rest.
func (t *Target) hold(d time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if until := time.Now().Add(d); until.After(t.pause) {
		t.pause = until
	}
}

// hurry forgets that the target wants to rest, for a last word.
func (t *Target) hurry() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.pause = time.Time{}
}

func (t *Target) rest(ctx context.Context) error {
	t.mu.Lock()
	d := time.Until(t.pause)
	t.mu.Unlock()
	return sleep(ctx, min(d, t.patience))
}

// once sends a request. after is how long the target asks to wait (RFC 9110 §10.2.3).
func (t *Target) once(ctx context.Context, method, graph string, body []byte) (a answer, after time.Duration, err error) {
	ctx, cancel := context.WithTimeout(ctx, t.timeout)
	defer cancel()
	for challenged := false; ; challenged = true {
		req, err := http.NewRequestWithContext(ctx, method, t.endpoint+url.QueryEscape(graph), bytes.NewReader(body))
		if err != nil {
			return a, 0, err
		}
		if method == "GET" {
			req.Header.Set("Accept", "application/n-triples, text/turtle;q=0.5")
		}
		if body != nil {
			req.Header.Set("Content-Type", "application/n-triples")
		}
		req.Header.Set("User-Agent", "ropewalk")
		t.auth.sign(req)
		res, err := t.client.Do(req)
		if err != nil {
			return a, 0, err
		}
		most := int64(4096)
		if method == "GET" {
			most = mostState
		}
		a = answer{status: res.StatusCode, location: res.Header.Get("Location"), contentType: res.Header.Get("Content-Type")}
		a.body, err = io.ReadAll(io.LimitReader(res.Body, most))
		_ = res.Body.Close()
		if err != nil && !a.done() && a.status < 300 || err != nil && method == "GET" {
			return a, 0, err
		}
		if a.status == 401 && !challenged && t.auth.challenged(res.Header["Www-Authenticate"], req.Header.Get("Authorization")) {
			continue
		}
		return a, retryAfter(res.Header.Get("Retry-After"), time.Now()), nil
	}
}

// retryAfter reads the field: seconds, or a date.
func retryAfter(v string, now time.Time) time.Duration {
	if n, err := strconv.Atoi(v); err == nil && n >= 0 {
		return time.Duration(min(n, 1<<30)) * time.Second
	}
	if at, err := http.ParseTime(v); err == nil {
		return max(0, at.Sub(now))
	}
	return 0
}

// refusal judges an answer that is no success: the document's fault, or one that ends
// the push.
func (t *Target) refusal(r *service.Record, a answer) (*Refusal, error) {
	switch {
	case a.status == 401 || a.status == 403 || a.status == 404 || a.status == 405 || a.status == 501 || a.status/100 == 3 || a.status == 507:
		return nil, t.unfit("sent <"+r.IRI+">", a)
	case a.status == 202:
		return &Refusal{IRI: r.IRI, Status: a.status, Answer: "accepted, but not yet stored"}, nil
	}
	return &Refusal{IRI: r.IRI, Status: a.status, Answer: t.said(a)}, nil
}

// unfit is the error about a target that does not do what was to be done.
func (t *Target) unfit(asked string, a answer) error {
	r := Refusal{Status: a.status, Answer: t.said(a)}
	hint := ""
	switch {
	case a.status == 401 || a.status == 403:
		hint = ". It does not let us in with the credentials in the environment"
		if t.auth.c == (Credentials{}) {
			hint = ". It wants credentials, and there are none in the environment"
		}
	case a.status/100 == 3:
		hint = fmt.Sprintf(". It redirects to %s: if that is the store, name it", clean(a.location))
	case a.status == 404 || a.status == 405 || a.status == 501:
		hint = ". Is this the endpoint of its Graph Store Protocol?"
	}
	return service.Errorf(service.Invalid, "%s, %s answers %s", t, asked, strings.TrimPrefix(r.said(), "with ")+hint)
}

// said is the answer in short: its text without tags, on one line.
func (t *Target) said(a answer) string {
	text := string(a.body)
	if strings.Contains(a.contentType, "html") || strings.HasPrefix(strings.TrimSpace(text), "<!DOCTYPE") {
		text = withoutTags(text)
	}
	return t.auth.hide(clean(text))
}

// withoutTags leaves IRIs in angle brackets where they are.
func withoutTags(s string) string {
	var b strings.Builder
	for s != "" {
		before, rest, found := strings.Cut(s, "<")
		b.WriteString(before)
		if !found {
			break
		}
		tag, after, found := strings.Cut(rest, ">")
		if !found || strings.Contains(tag, "://") && !strings.ContainsAny(tag, " \"") {
			b.WriteByte('<')
			s = rest
			continue
		}
		b.WriteByte(' ')
		s = after
	}
	return b.String()
}

// clean makes foreign text fit for a line on a terminal.
func clean(s string) string {
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "?"), func(r rune) bool { return unicode.IsSpace(r) || !unicode.IsPrint(r) }), " ")
	if r := []rune(s); len(r) > mostSaid {
		s = string(r[:mostSaid]) + "…"
	}
	return s
}

func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// jitter is a random part of d, so that many do not come at once.
func jitter(d time.Duration) time.Duration {
	if d <= 0 {
		return 0
	}
	return rand.N(d)
}
