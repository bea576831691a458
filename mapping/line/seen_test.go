package line

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// TestSeen holds the table against a map.
func TestSeen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type place struct {
			file string
			row  int
		}
		var s seen
		want := map[uint64]place{}
		file, row := 0, 0
		for range rapid.IntRange(0, 3000).Draw(t, "documents") {
			switch rapid.IntRange(0, 9).Draw(t, "step") {
			case 0:
				file, row = file+1, 2
			case 1:
				row += rapid.IntRange(2, 5).Draw(t, "gap")
			case 2: // another document of the same record
			default:
				row++
			}
			key := rapid.Uint64Range(0, 5000).Draw(t, "key") * 0x9e3779b97f4a7c15
			p := place{fmt.Sprint(file), row}
			if _, ok := s.find(key); ok {
				continue
			}
			s.add(key, p.file, p.row)
			want[max(key, 1)] = p
		}
		for key, p := range want {
			r, ok := s.find(key)
			if !ok {
				t.Fatalf("%x is not found", key)
			}
			if file, row := s.place(r); file != p.file || row != p.row {
				t.Fatalf("%x: %s, row %d, not %v", key, file, row, p)
			}
		}
		if s.n != len(want) {
			t.Fatalf("%d, not %d", s.n, len(want))
		}
	})
}
