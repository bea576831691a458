package view_test

import (
	"testing"
	"time"

	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
)

// BenchmarkAppend writes an object in every view, beside the same object in N-Triples:
// xnt is the time in multiples of that, measured in the same run.
func BenchmarkAppend(b *testing.B) {
	d := document(b, "object")
	c := museum()
	nt := render.NewEncoder(render.FormatByName("nt"), render.Options{})
	var buf, other []byte
	peer := func(n int) time.Duration {
		began := time.Now()
		for range n {
			other, _ = nt.Append(other[:0], d)
		}
		return time.Since(began)
	}
	for _, v := range view.Views() {
		b.Run(v.Name, func(b *testing.B) {
			b.ReportAllocs()
			before := peer(2000)
			b.ResetTimer()
			for b.Loop() {
				var err error
				if buf, err = v.Append(buf[:0], d, c); err != nil {
					b.Fatal(err)
				}
			}
			each := b.Elapsed() / time.Duration(b.N)
			beside := (before + peer(2000)) / 4000
			b.ReportMetric(float64(time.Second)/float64(each), "documents/s")
			b.ReportMetric(float64(each)/float64(beside), "xnt")
			b.ReportMetric(float64(len(buf)), "bytes")
		})
	}
}
