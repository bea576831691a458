package validate

import (
	"flag"
	"os"
	"strconv"
	"testing"
)

var checksGiven bool

// TestMain asks rapid for more cases than its 100, unless told a number.
func TestMain(m *testing.M) {
	flag.Parse()
	flag.Visit(func(f *flag.Flag) { checksGiven = checksGiven || f.Name == "rapid.checks" })
	setChecks(manyChecks)
	os.Exit(m.Run())
}

const manyChecks = 3000

func setChecks(n int) {
	if checksGiven {
		return
	}
	if err := flag.Set("rapid.checks", strconv.Itoa(n)); err != nil {
		panic(err)
	}
}
