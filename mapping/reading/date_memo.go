package reading

// DateMemo reads dates under one set of conventions and remembers what it read,
// as catalogues repeat themselves: a text met before costs a look-up. A DateMemo
// is not safe for concurrent use; give each goroutine its own.
type DateMemo struct {
	conv  *Conventions
	limit int
	known map[string]*dateMemoEntry
}

type dateMemoEntry struct {
	date Date
	err  *Unread
}

// NewDateMemo returns a memo for conventions c that keeps at most limit texts; 0
// means 50,000, some 20 MB.
func NewDateMemo(c *Conventions, limit int) *DateMemo {
	if limit <= 0 {
		limit = 50_000
	}
	return &DateMemo{conv: c, limit: limit, known: map[string]*dateMemoEntry{}}
}

// Read is [ReadDate]. The date belongs to the memo and must not be changed. Text
// is copied when it is first met, so that it may be part of a buffer.
func (m *DateMemo) Read(text string) (*Date, error) {
	e := m.known[text]
	if e == nil {
		if len(m.known) >= m.limit {
			clear(m.known)
		}
		own := string(append([]byte(nil), text...))
		e = &dateMemoEntry{date: Date{Text: own}}
		e.err = e.date.read(m.conv.date())
		m.known[own] = e
	}
	if e.err != nil {
		return nil, e.err
	}
	return &e.date, nil
}
