// Command readings scores the readers of mapping/reading against tables of
// museums' own words and the museums' own structured readings of them. For each
// table it prints how many cells were read, agree exactly, agree within the
// convention stated in the table's header, were misread, and were not read; each
// disagreement goes into a file with its reason where one is known.
//
//	go run ./conformance/readings [DIR]
//
// DIR holds the tables; the default is $ROPEWALK_SHARED/data or ../shared/data.
package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// scorers score the tables of one reader each and print to out.
var scorers = []func(dir string, out io.Writer) error{
	scoreDates,
	scoreDimensions,
	scoreAttributions,
}

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, out, errs io.Writer) int {
	dir := tablesDir("../shared")
	if len(args) > 0 {
		dir = args[0]
	}
	for _, score := range scorers {
		if err := score(dir, out); err != nil {
			fmt.Fprintln(errs, "readings:", err)
			return 1
		}
	}
	return 0
}

// tablesDir is the folder of the tables; shared is where it is by default.
func tablesDir(shared string) string {
	if s := os.Getenv("ROPEWALK_SHARED"); s != "" {
		shared = s
	}
	return filepath.Join(shared, "data")
}
