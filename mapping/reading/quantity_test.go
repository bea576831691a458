package reading

import (
	"fmt"
	"strings"
	"testing"
)

// renderQuantity shows everything that was read, in one line.
func renderQuantity(text string, c *Conventions) string {
	q, err := ReadQuantity(text, c)
	if err != nil {
		return unreadCode(err)
	}
	var b strings.Builder
	b.Write(q.AppendText(nil))
	for _, n := range q.Counts {
		if n.Value < 0 {
			fmt.Fprintf(&b, " [%d,%d]", n.Lower, n.Upper)
		}
	}
	return b.String()
}

func TestReadQuantityGolden(t *testing.T) {
	checkGolden(t, "testdata/quantities.txt", 50, renderQuantity)
}

// FuzzReadQuantity: reading never panics, spans lie in the text, the ends of a range
// are in order, and what is written is read back to the same numbers.
func FuzzReadQuantity(f *testing.F) {
	for _, g := range readMeasureGolden(f, "testdata/quantities.txt", 50) {
		f.Add(g.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, err := ReadQuantity(text, nil)
		if err != nil {
			if u, ok := err.(*Unread); !ok || u.Code == "" || u.Text != text || u.At > len(text) {
				t.Fatalf("%q: error %#v", text, err)
			}
			return
		}
		if len(q.Counts) == 0 {
			t.Fatalf("%q: no counts and no error", text)
		}
		for _, n := range q.Counts {
			if n.Start < 0 || n.Start >= n.End || n.End > len(text) {
				t.Fatalf("%q: span %d to %d", text, n.Start, n.End)
			}
			if n.Lower < 0 || n.Upper >= 0 && n.Upper < n.Lower || n.Value >= 0 && (n.Lower != n.Value || n.Upper != n.Value) {
				t.Fatalf("%q: %+v", text, n)
			}
			n.Noun = "" // free words
			one := Quantity{Counts: []Count{n}}
			out := string(one.AppendText(nil))
			again, err := ReadQuantity(out, nil)
			if err != nil {
				t.Fatalf("%q: written %q: %v", text, out, err)
			}
			got := again.Counts[0]
			if len(again.Counts) != 1 || got.Value != n.Value || got.Lower != n.Lower || got.Upper != n.Upper || got.Of != n.Of || got.Approximate != n.Approximate || got.Uncertain != n.Uncertain {
				t.Fatalf("%q: written %q is read as %+v", text, out, again)
			}
		}
	})
}
