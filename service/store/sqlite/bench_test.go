package sqlite

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/service/store/storetest"
)

// document is about the size of a real record, 3.3 KB, and not too regular.
func document(i int) string {
	var b strings.Builder
	for k := 0; k < 24; k++ {
		fmt.Fprintf(&b, `{'type':'Name','content':'Barometer no. %d by maker %x, part %d','classified_as':[{'id':'http://vocab.getty.edu/aat/%d'}]}`, i, i*7919, k, 300000000+i*31%999983+k)
	}
	return b.String()
}

func BenchmarkPublish(b *testing.B) {
	for _, again := range []bool{false, true} {
		b.Run(fmt.Sprintf("unchanged=%v", again), func(b *testing.B) {
			s, err := Open(filepath.Join(b.TempDir(), "s.db"))
			if err != nil {
				b.Fatal(err)
			}
			defer s.Close()
			const n = 20000
			docs := make([]string, n)
			for i := range docs {
				docs[i] = document(i)
			}
			run := func() {
				d, err := s.Begin(context.Background())
				if err != nil {
					b.Fatal(err)
				}
				for i, doc := range docs {
					if _, err := d.Put(storetest.Rec(fmt.Sprintf("object/KQ.%d", i*7919%n), doc)); err != nil {
						b.Fatal(err)
					}
				}
				if _, err := d.Commit(context.Background()); err != nil {
					b.Fatal(err)
				}
			}
			if again {
				run()
			}
			for b.Loop() {
				if !again {
					// Every document differs from the one before.
					for i := range docs {
						docs[i] += " "
					}
				}
				run()
			}
			b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds(), "records/s")
		})
	}
}

func BenchmarkGet(b *testing.B) {
	s, err := Open(filepath.Join(b.TempDir(), "s.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	const n = 5000
	publish(b, s, n, document(1))
	paths := make([]string, n)
	for i := range paths {
		paths[i] = fmt.Sprintf("object/%d", i*7919%n)
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	i := 0
	for b.Loop() {
		if _, err := s.Get(ctx, paths[i%n]); err != nil {
			b.Fatal(err)
		}
		i++
	}
}
