package harvest

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

// object is a document of about 90 triples and 3.3 KB.
func object(i int) *service.Record {
	path := fmt.Sprintf("object/KQ.%d", i)
	var b strings.Builder
	fmt.Fprintf(&b, `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"%s%s","type":"HumanMadeObject","_label":"Barometer no. %d","identified_by":[`, storetest.Base, path, i)
	for k := range 9 {
		if k > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"type":"Name","content":"Name %d of barometer %x & its case","classified_as":[{"id":"http://vocab.getty.edu/aat/%d","type":"Type","_label":"kind %d"}]}`, k, i*7919, 300404670+k, k)
	}
	b.WriteString(`],"referred_to_by":[`)
	for k := range 5 {
		if k > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"type":"LinguisticObject","content":"Statement %d about number %d: made of brass and mahogany, with a dial of silvered paper, and <mended> since.","classified_as":[{"id":"http://vocab.getty.edu/aat/%d","type":"Type","_label":"sort %d"}]}`, k, i, 300435416+k, k)
	}
	fmt.Fprintf(&b, `],"produced_by":{"type":"Production","carried_out_by":[{"id":"%sperson/%d","type":"Person","_label":"Maker %d"}],"timespan":{"type":"TimeSpan","begin_of_the_begin":"18%02d-01-01T00:00:00Z","end_of_the_end":"18%02d-12-31T23:59:59Z"}}}`,
		storetest.Base, i%500, i%500, i%100, i%100)
	return &service.Record{IRI: storetest.Base + path, Path: path, State: service.Live, Class: "HumanMadeObject", Endpoint: "object", Label: fmt.Sprintf("Barometer no. %d", i), Sets: []string{"a:b"}, Body: []byte(b.String())}
}

// BenchmarkHarvest harvests everything, beside the floor: reading the same rows from
// the store in parts of the same size. ROPEWALK_RECORDS says how many, 20,000 if not
// given.
func BenchmarkHarvest(b *testing.B) {
	n := 20000
	if v := os.Getenv("ROPEWALK_RECORDS"); v != "" {
		n, _ = strconv.Atoi(v)
	}
	h := newBench(b)
	d, err := h.store.Begin(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	size := 0
	for i := range n {
		r := object(i)
		size += len(r.Body)
		if _, err := d.Put(r); err != nil {
			b.Fatal(err)
		}
	}
	if _, err := d.Commit(context.Background()); err != nil {
		b.Fatal(err)
	}
	b.Logf("%d records of %d bytes", n, size/n)
	ctx := context.Background()
	floor := func() time.Duration {
		begun, rows := time.Now(), 0
		for s := (service.Selection{Bodies: true, Limit: 101}); ; {
			rs, err := h.store.Changes(ctx, s)
			if err != nil {
				b.Fatal(err)
			}
			if rows += len(rs); len(rs) == 0 {
				break
			}
			s.After = rs[len(rs)-1].Seq
		}
		if rows != n {
			b.Fatalf("%d rows", rows)
		}
		return time.Since(begun)
	}
	var buf []byte
	harvest := func(verb, prefix string) (all, first, last time.Duration, written int) {
		begun := time.Now()
		var pages []time.Duration
		for q := args("verb", verb, "metadataPrefix", prefix); q != ""; {
			at := time.Now()
			out, err := h.p.Append(ctx, buf[:0], q)
			if err != nil {
				b.Fatal(err)
			}
			buf, q = out, ""
			written += len(out)
			pages = append(pages, time.Since(at))
			if i := bytes.Index(out, []byte("<resumptionToken")); i >= 0 {
				_, rest, _ := bytes.Cut(out[i:], []byte(">"))
				if token, _, ok := bytes.Cut(rest, []byte("<")); ok && len(bytes.TrimSpace(token)) > 0 {
					q = args("verb", verb, "resumptionToken", string(token))
				}
			}
		}
		// Of single pages, the least of some: the machine has other things to do.
		first, last = pages[1], pages[len(pages)-2]
		for i := range min(20, len(pages)/2) {
			first, last = min(first, pages[i]), min(last, pages[max(0, len(pages)-2-i)])
		}
		return time.Since(begun), first, last, written
	}
	for b.Loop() {
		for _, f := range [][2]string{{"ListRecords", "rdf"}, {"ListRecords", "oai_dc"}, {"ListIdentifiers", "rdf"}} {
			before := floor()
			all, first, last, written := harvest(f[0], f[1])
			base := (before + floor()) / 2
			b.ReportMetric(float64(all)/float64(base), strings.ToLower(f[0][4:])+"-"+f[1]+"-×floor")
			b.Logf("%s %s: %.0f records/s, %.0f MB, %.2f × floor; first page %v, last page %v (%.2f)", f[0], f[1], float64(n)/all.Seconds(), float64(written)/1e6,
				float64(all)/float64(base), first, last, float64(last)/float64(first))
		}
	}
}
