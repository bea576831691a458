package main

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// row is one line of the table.
type row struct {
	what    string
	records float64 // per second
	mb      float64 // per second; 0 if it has no meaning
	peak    float64 // MiB; 0 if not measured
	ratio   float64
	of      string // what the ratio is of
	target  float64
	atLeast bool // the ratio should be at least the target, not at most
}

type table struct{ rows []row }

func (t *table) add(r row) { t.rows = append(t.rows, r) }

// reached reports whether a row has reached its target.
func (r *row) reached() bool {
	return r.target == 0 || r.atLeast && r.ratio >= r.target || !r.atLeast && r.ratio <= r.target
}

func (t *table) print(w io.Writer) {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "what\trecords/s\tMB/s\tpeak MiB\tratio\tto reach\t\t")
	for i := range t.rows {
		r := &t.rows[i]
		num := func(f float64, format string) string {
			if f == 0 {
				return ""
			}
			return fmt.Sprintf(format, f)
		}
		ratio, target, verdict := "", "", ""
		if r.of != "" {
			ratio = fmt.Sprintf("%.2f × %s", r.ratio, r.of)
		}
		if r.target != 0 {
			sign := "≤"
			if r.atLeast {
				sign = "≥"
			}
			target = fmt.Sprintf("%s %.4g", sign, r.target)
			verdict = "reached"
			if !r.reached() {
				verdict = "NOT REACHED"
			}
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t\n", r.what, num(r.records, "%.0f"), num(r.mb, "%.0f"), num(r.peak, "%.0f"), ratio, target, verdict)
	}
	tw.Flush()
}

// farOut reports whether a figure misses its target by more than half: more than
// the noise of a machine explains.
func (t *table) farOut() bool {
	for i := range t.rows {
		r := &t.rows[i]
		if !r.reached() && (r.atLeast && r.ratio < r.target/1.5 || !r.atLeast && r.ratio > r.target*1.5) {
			return true
		}
	}
	return false
}
