package validate

import (
	"flag"
	"os"
	"testing"
)

// TestMain asks rapid for more cases than its 100, unless told a number.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if !given {
		if err := flag.Set("rapid.checks", "3000"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}
