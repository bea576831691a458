// Command bench measures export, publication and service against floors and peers,
// all in one run on one machine and on the same synthetic records.
//
// The floor of a format is straight-line Go, written by hand for exactly these
// records, that appends the same bytes. Peers are json-gold (JSON-LD to N-Quads
// with the context held ready) and rapper (N-Triples re-written). A document that is
// fetched stands beside a bare net/http handler, in a process of its own like the
// server, that writes the same bytes from memory. Machines drift, so every ratio is
// the median of ratios taken close together in time.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
)

func main() {
	n := flag.Int("n", 20_000, "records held in memory")
	rounds := flag.Int("rounds", 7, "how often each ratio is taken")
	big := flag.Int("big", 200_000, "records of the large export, for memory and workers, and of the publication; a tenth of it is the small export")
	strict := flag.Bool("strict", false, "exit with 1 where a figure is out of reach by more than half")
	shared := flag.String("context", "", "file of the published JSON-LD context, for json-gold; the embedded one otherwise")
	bare := flag.String("bare", "", "only serve this file from memory; the benchmark starts itself so")
	flag.Parse()
	if *bare != "" {
		fmt.Fprintln(os.Stderr, "bench:", serveBare(*bare))
		os.Exit(1)
	}
	fmt.Printf("%s, %d processors, %d records in memory\n\n", runtime.Version(), runtime.NumCPU(), *n)
	b, err := prepare(*n, *rounds, *shared)
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	var t table
	if err := b.formats(&t); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	if err := b.peers(&t); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	if err := b.processes(&t, *big); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	t.print(os.Stdout)
	if *strict && t.farOut() {
		os.Exit(1)
	}
}
