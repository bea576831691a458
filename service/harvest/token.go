package harvest

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"math"
	"strconv"
	"time"

	"ropewalk/service"
)

// token is the state of a list between two responses (§3.5).
type token struct {
	verb    string
	prefix  string
	set     string
	from    time.Time // zero for no bound
	until   time.Time
	after   int64     // Seq of the last record that was looked at
	cursor  int64     // number of records before
	size    int64     // of the complete list, at its beginning
	written time.Time // whole seconds
}

const (
	tokenVersion = 1
	tagSize      = 16 // bytes of the HMAC-SHA-256 that are kept (RFC 2104 §5)
)

// tokenVerbs are the verbs that give tokens, by their number in a token.
var tokenVerbs = []string{"ListIdentifiers", "ListRecords"}

// seal writes a token: version, verb, numbers and texts with their lengths, then the
// tag of all that; the whole in base64url (RFC 4648 §5) without padding.
func (t *token) seal(key []byte) string {
	b := make([]byte, 0, 128)
	b = append(b, tokenVersion)
	for i, v := range tokenVerbs {
		if v == t.verb {
			b = append(b, byte(i))
		}
	}
	for _, n := range [...]int64{t.written.Unix(), bound(t.from), bound(t.until), t.after, t.cursor, t.size} {
		b = binary.AppendVarint(b, n)
	}
	for _, s := range [...]string{t.prefix, t.set} {
		b = append(binary.AppendUvarint(b, uint64(len(s))), s...)
	}
	return base64.RawURLEncoding.EncodeToString(append(b, tag(key, b)...))
}

func tag(key, b []byte) []byte {
	h := hmac.New(sha256.New, key)
	_, _ = h.Write(b)
	return h.Sum(nil)[:tagSize]
}

// bound is a time in seconds; no bound is a number that no time has.
func bound(t time.Time) int64 {
	if t.IsZero() {
		return math.MinInt64
	}
	return t.Unix()
}

// unseal reads a token that seal wrote with the same key.
func unseal(key []byte, text string) (*token, bool) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if err != nil || len(b) < tagSize+2 {
		return nil, false
	}
	b, sum := b[:len(b)-tagSize], b[len(b)-tagSize:]
	if !hmac.Equal(sum, tag(key, b)) || b[0] != tokenVersion || int(b[1]) >= len(tokenVerbs) {
		return nil, false
	}
	t := &token{verb: tokenVerbs[b[1]]}
	b = b[2:]
	var n [6]int64
	for i := range n {
		v, k := binary.Varint(b)
		if k <= 0 {
			return nil, false
		}
		n[i], b = v, b[k:]
	}
	t.written, t.after, t.cursor, t.size = time.Unix(n[0], 0), n[3], n[4], n[5]
	for i, to := range [...]*time.Time{&t.from, &t.until} {
		if s := n[1+i]; s != math.MinInt64 {
			*to = time.Unix(s, 0).UTC()
		}
	}
	for _, to := range [...]*string{&t.prefix, &t.set} {
		size, k := binary.Uvarint(b)
		if k <= 0 || size > uint64(len(b)-k) {
			return nil, false
		}
		*to, b = string(b[k:k+int(size)]), b[k+int(size):]
	}
	return t, len(b) == 0
}

// The key of tokens is kept in the store under marks, 63 random bits each.
const keyParts = 4

func keyMark(i int) string { return "harvest.key." + strconv.Itoa(i+1) }

// Prepare makes the key with which resumption tokens of a store are signed, if it
// has none yet. A provider does so when it first needs it; but because that is the
// only thing that a service ever writes, and a store lets nobody write while a
// publication is under way, publishing does well to do it beforehand.
func Prepare(ctx context.Context, store service.Store) error {
	_, err := tokenKey(ctx, store)
	return err
}

// tokenKey reads the key anew each time, so that all replicas agree. Two that make
// it at the same moment may each overwrite a part of the other's; from then on they
// agree, too, and tokens given out in that moment are refused.
func tokenKey(ctx context.Context, store service.Store) ([]byte, error) {
	key := make([]byte, 0, keyParts*8)
	for i := range keyParts {
		n, err := store.Mark(ctx, keyMark(i))
		if err != nil {
			return nil, err
		}
		for n == 0 {
			var random [8]byte
			_, _ = rand.Read(random[:]) // never fails
			if n = int64(binary.BigEndian.Uint64(random[:]) >> 1); n == 0 {
				continue
			}
			if err := store.SetMark(ctx, keyMark(i), n); err != nil {
				return nil, err
			}
			if n, err = store.Mark(ctx, keyMark(i)); err != nil {
				return nil, err
			}
		}
		key = binary.BigEndian.AppendUint64(key, uint64(n))
	}
	return key, nil
}
