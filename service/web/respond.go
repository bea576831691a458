package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"ropewalk/service"
)

// answer is a representation to be sent: all but its coding is chosen.
type answer struct {
	contentType string
	tag         string    // of the representation before coding, without quotes
	modified    time.Time // zero if unknown
	body        []byte
	later       func() ([]byte, error) // makes the body if body is nil: only when it is needed
	shared      bool                   // nobody will change body
	keep        *wish                  // under which the answer is kept ready; nil if it is not
	of          version                // if the answer is kept
}

// worthPacking is the size from which a body is compressed, in bytes: smaller ones
// travel in one packet anyway.
const worthPacking = 860

// respond sends a representation: coding, validators, conditions (RFC 9110
// §§8.8, 12.5.3, 13.2).
func (s *Server) respond(w http.ResponseWriter, r *http.Request, a answer) error {
	h := w.Header()
	addVary(h, "Accept-Encoding")
	coding, ok := NegotiateCoding(r.Header["Accept-Encoding"], a.body == nil || len(a.body) >= worthPacking)
	if !ok {
		return service.Errorf(service.NotAcceptable, "This service sends zstd, gzip or no content coding.")
	}
	tag := `"` + a.tag + `"`
	switch coding {
	case "zstd":
		tag = `"` + a.tag + `-zst"`
	case "gzip":
		tag = `"` + a.tag + `-gz"`
	}
	h["Etag"] = []string{tag}
	h["Cache-Control"] = caching
	if !a.modified.IsZero() {
		// Never later than the response itself (§8.8.2.1).
		if now := time.Now(); a.modified.After(now) {
			a.modified, a.keep = now.Truncate(time.Second), nil
		}
		h["Last-Modified"] = []string{a.modified.UTC().Format(http.TimeFormat)}
	}
	if done, err := settled(w, r, tag, a.modified); done {
		return err
	}
	h["Content-Type"] = []string{a.contentType}
	if a.body == nil && r.Method == http.MethodHead {
		w.WriteHeader(http.StatusOK) // the length is not known without the work
		return nil
	}
	body := a.body
	if body == nil {
		var err error
		if body, err = a.later(); err != nil {
			return err
		}
	}
	if coding != "" {
		h["Content-Encoding"] = []string{coding}
		buf := buffers.Get().(*[]byte)
		defer buffers.Put(buf)
		*buf = s.packer.pack((*buf)[:0], body, coding)
		body, a.shared = *buf, false
	}
	h["Content-Length"] = []string{strconv.Itoa(len(body))}
	if a.keep != nil {
		s.keep(a, h, tag, body)
	}
	write(w, r, body)
	return nil
}

// buffers are byte slices for what is made for one response.
var buffers = sync.Pool{New: func() any { return new([]byte) }}

// bodyTag is a tag made from the bytes and the name of a form.
func bodyTag(body []byte, form string) string {
	sum := sha256.Sum256(body)
	return base64.RawURLEncoding.EncodeToString(sum[:12]) + "-" + form
}

// conditions evaluates the conditions of a GET or HEAD in the order of RFC 9110
// §13.2.2: 200 to go on, 304 or 412.
func conditions(r *http.Request, tag string, modified time.Time) int {
	if m := r.Header["If-Match"]; len(m) > 0 {
		if !matchTag(m, tag, true) {
			return http.StatusPreconditionFailed
		}
	} else if t, ok := since(r, "If-Unmodified-Since"); ok && modified.After(t) {
		return http.StatusPreconditionFailed
	}
	if m := r.Header["If-None-Match"]; len(m) > 0 {
		if matchTag(m, tag, false) {
			return http.StatusNotModified
		}
	} else if t, ok := since(r, "If-Modified-Since"); ok && !modified.IsZero() && !modified.After(t) {
		return http.StatusNotModified
	}
	return http.StatusOK
}

func since(r *http.Request, name string) (time.Time, bool) {
	v := r.Header.Get(name)
	if v == "" {
		return time.Time{}, false
	}
	t, err := http.ParseTime(v)
	return t, err == nil // an invalid date is ignored (§13.1.3)
}

// matchTag looks for a tag in a list of entity tags (§8.8.3). A weak one matches
// only by weak comparison.
func matchTag(fields []string, tag string, strong bool) bool {
	found := false
	members(fields, func(m string) {
		weak := false
		if rest, ok := strings.CutPrefix(m, "W/"); ok {
			m, weak = rest, true
		}
		found = found || m == "*" && !weak || m == tag && !(strong && weak)
	})
	return found
}

// packer compresses bodies.
type packer struct {
	zstd *zstd.Encoder
	gzip sync.Pool
}

func (p *packer) init() (err error) {
	// Windows of at most 8 MB are what a client must be able to take (RFC 9659).
	p.zstd, err = zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithWindowSize(1<<20), zstd.WithLowerEncoderMem(true))
	return err
}

func (p *packer) pack(dst, body []byte, coding string) []byte {
	if coding == "zstd" {
		return p.zstd.EncodeAll(body, dst)
	}
	b := bytes.NewBuffer(dst)
	w, _ := p.gzip.Get().(*gzip.Writer)
	if w == nil {
		w = gzip.NewWriter(b)
	} else {
		w.Reset(b)
	}
	_, _ = w.Write(body) // into memory: cannot fail
	_ = w.Close()
	p.gzip.Put(w)
	return b.Bytes()
}
