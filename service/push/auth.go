package push

import (
	"crypto/md5"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"hash"
	"net/http"
	"strings"
	"sync"
)

// authenticator signs requests in the way that a target has asked for: Digest
// (RFC 7616, MD5 and SHA-256) before Basic (RFC 7617). A password is not sent before
// it is asked for, nor in the clear where Digest would do.
type authenticator struct {
	c Credentials

	mu    sync.Mutex
	basic bool
	d     *digest
}

// digest is a challenge (RFC 7616 §3.3).
type digest struct {
	realm, nonce, opaque, algorithm string
	opaqueSet, qop                  bool
	count                           uint32
}

// challenged takes the challenges of a 401 to a request that was signed in a way, and
// reports whether it is worth asking again.
func (a *authenticator) challenged(fields []string, signed string) bool {
	if a.c.Token != "" || a.c.User == "" && a.c.Password == "" {
		return false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	basic := false
	var best *digest
	for _, c := range challenges(fields) {
		switch c.scheme {
		case "basic":
			basic = true
		case "digest":
			if d := c.digest(); d != nil && (best == nil || best.algorithm != "SHA-256") {
				best = d
			}
		}
	}
	switch {
	case best != nil:
		if signed != "" && a.d != nil && a.d.nonce == best.nonce {
			return false
		}
		a.d, a.basic = best, false
	case basic:
		if strings.HasPrefix(signed, "Basic ") {
			return false
		}
		a.d, a.basic = nil, true
	default:
		return false
	}
	return true
}

// sign adds what is known to be wanted.
func (a *authenticator) sign(r *http.Request) {
	if a.c.Token != "" {
		r.Header.Set("Authorization", "Bearer "+a.c.Token)
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case a.basic:
		r.SetBasicAuth(a.c.User, a.c.Password)
	case a.d != nil:
		var b [18]byte
		_, _ = rand.Read(b[:])
		a.d.count++
		r.Header.Set("Authorization", a.d.answer(a.c, r.Method, r.URL.RequestURI(), base64.StdEncoding.EncodeToString(b[:])))
	}
}

// hide takes credentials out of a text.
func (a *authenticator) hide(s string) string {
	hidden := []string{a.c.Password, a.c.Token}
	if a.c.Password != "" {
		hidden = append(hidden, base64.StdEncoding.EncodeToString([]byte(a.c.User+":"+a.c.Password)))
	}
	for _, h := range hidden {
		if h != "" {
			s = strings.ReplaceAll(s, h, "…")
		}
	}
	return s
}

// answer is the Authorization field (RFC 7616 §3.4).
func (d *digest) answer(c Credentials, method, uri, cnonce string) string {
	sum := func(s string) string {
		var h hash.Hash = md5.New()
		if d.algorithm == "SHA-256" {
			h = sha256.New()
		}
		_, _ = h.Write([]byte(s))
		return fmt.Sprintf("%x", h.Sum(nil))
	}
	a1, a2 := sum(c.User+":"+d.realm+":"+c.Password), sum(method+":"+uri)
	quoted := strings.NewReplacer(`\`, `\\`, `"`, `\"`)
	var b strings.Builder
	fmt.Fprintf(&b, `Digest username="%s", realm="%s", nonce="%s", uri="%s", algorithm=%s`, quoted.Replace(c.User), quoted.Replace(d.realm), quoted.Replace(d.nonce), uri, d.algorithm)
	if d.qop {
		nc := fmt.Sprintf("%08x", d.count)
		fmt.Fprintf(&b, `, qop=auth, nc=%s, cnonce="%s", response="%s"`, nc, cnonce, sum(a1+":"+d.nonce+":"+nc+":"+cnonce+":auth:"+a2))
	} else {
		fmt.Fprintf(&b, `, response="%s"`, sum(a1+":"+d.nonce+":"+a2))
	}
	if d.opaqueSet {
		fmt.Fprintf(&b, `, opaque="%s"`, quoted.Replace(d.opaque))
	}
	return b.String()
}

// challenge is one of WWW-Authenticate (RFC 9110 §11.6.1), parameters by name in lower case.
type challenge struct {
	scheme string
	params map[string]string
}

// digest is the challenge as one that we can answer, or nil.
func (c challenge) digest() *digest {
	d := &digest{realm: c.params["realm"], nonce: c.params["nonce"], algorithm: strings.ToUpper(c.params["algorithm"])}
	d.opaque, d.opaqueSet = c.params["opaque"]
	if d.algorithm == "" {
		d.algorithm = "MD5"
	}
	qop, some := c.params["qop"]
	for _, q := range strings.Split(qop, ",") {
		d.qop = d.qop || strings.EqualFold(strings.TrimSpace(q), "auth")
	}
	if d.algorithm != "MD5" && d.algorithm != "SHA-256" || some && !d.qop || d.nonce == "" {
		return nil
	}
	return d
}

// challenges reads the fields. What can't be read ends a field.
func challenges(fields []string) (all []challenge) {
	for _, s := range fields {
		for {
			s = strings.TrimLeft(s, " \t,")
			name, rest := token(s)
			if name == "" {
				break
			}
			after := strings.TrimLeft(rest, " \t")
			if !strings.HasPrefix(after, "=") || len(all) == 0 {
				all = append(all, challenge{scheme: strings.ToLower(name), params: map[string]string{}})
				s = after
				continue
			}
			after = strings.TrimLeft(after[1:], " \t")
			var value string
			if strings.HasPrefix(after, `"`) {
				value, s = quotedString(after[1:])
			} else {
				value, s = token(after)
			}
			all[len(all)-1].params[strings.ToLower(name)] = value
		}
	}
	return all
}

// token takes a token (RFC 9110 §5.6.2) off the front.
func token(s string) (tok, rest string) {
	i := 0
	for i < len(s) && (strings.IndexByte("!#$%&'*+-.^_`|~", s[i]) >= 0 || '0' <= s[i] && s[i] <= '9' || 'a' <= s[i]|0x20 && s[i]|0x20 <= 'z') {
		i++
	}
	return s[:i], s[i:]
}

// quotedString takes the rest of a quoted string (RFC 9110 §5.6.4) off the front.
func quotedString(s string) (text, rest string) {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] == '"':
			return b.String(), s[i+1:]
		case s[i] == '\\' && i+1 < len(s):
			i++
		}
		b.WriteByte(s[i])
	}
	return b.String(), ""
}
