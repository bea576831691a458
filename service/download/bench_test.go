package download

import (
	"context"
	"testing"
)

// BenchmarkMake makes the files of 2,000 small records in five kinds and two
// compressions.
func BenchmarkMake(b *testing.B) {
	h := newBench(b)
	h.publish(some(2000)...)
	for b.Loop() {
		h.dir = b.TempDir()
		if _, err := Make(context.Background(), h.store, h.dir, h.o); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(2001*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}
