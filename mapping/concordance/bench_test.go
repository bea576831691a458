package concordance

import "testing"

// 1,000 lines against some 5,000 entries and 2,000 objects. The floor beside it only
// reads the numbers of all of them, once.
func BenchmarkWork(b *testing.B) {
	tr := generate(1, 1000)
	for i := 0; len(tr.in.Entries) < 5000; i++ {
		e := tr.in.Entries[i]
		e.Catalogue = "another maker"
		e.Number = "Z " + e.Number
		tr.in.Entries = append(tr.in.Entries, e)
	}
	tr.in.Objects = tr.in.Objects[:min(2000, len(tr.in.Objects))]
	b.Logf("%d lines, %d entries, %d objects", len(tr.in.Lines), len(tr.in.Entries), len(tr.in.Objects))
	b.Run("floor", func(b *testing.B) {
		for b.Loop() {
			for i := range tr.in.Lines {
				_, _ = ReadNumbers(tr.in.Lines[i].Number)
			}
			for i := range tr.in.Entries {
				_, _ = ReadNumbers(tr.in.Entries[i].Number)
			}
			for i := range tr.in.Objects {
				_, _ = ReadNumbers(tr.in.Objects[i].Numbers[0])
			}
		}
	})
	b.Run("work", func(b *testing.B) {
		for b.Loop() {
			Work(tr.in)
		}
	})
}
