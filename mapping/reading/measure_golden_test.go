package reading

import (
	"errors"
	"flag"
	"os"
	"strings"
	"testing"
)

// measureRow is a line "text => reading" of a golden table; lines beginning with # are
// comments, and "# set key=value" gives conventions for the rows after it.
type measureRow struct {
	text, want string
	set        string
	line       int
}

// readMeasureGolden reads a golden table and fails where it has fewer than atLeast rows.
func readMeasureGolden(t testing.TB, path string, atLeast int) []measureRow {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var rows []measureRow
	set := ""
	for i, line := range strings.Split(string(data), "\n") {
		switch {
		case strings.HasPrefix(line, "# set"):
			set = strings.TrimSpace(strings.TrimPrefix(line, "# set"))
			continue
		case line == "" || strings.HasPrefix(line, "#"):
			continue
		}
		text, want, ok := strings.Cut(line, " => ")
		if !ok {
			t.Fatalf("%s:%d: no ' => '", path, i+1)
		}
		rows = append(rows, measureRow{text, want, set, i + 1})
	}
	if len(rows) < atLeast {
		t.Fatalf("%s has %d rows; there should be at least %d", path, len(rows), atLeast)
	}
	return rows
}

var updateMeasures = flag.Bool("update-measures", false, "write the golden tables of dimensions, money, quantities and makers anew")

// checkGolden compares a golden table with what render gives for its texts.
func checkGolden(t *testing.T, path string, atLeast int, render func(text string, c *Conventions) string) {
	rows := readMeasureGolden(t, path, atLeast)
	for _, r := range rows {
		c := &Conventions{}
		for _, kv := range strings.Fields(r.set) {
			setMeasureConvention(t, c, kv)
		}
		got := render(r.text, c)
		if got != r.want && !*updateMeasures {
			t.Errorf("%s:%d: %s\n got %s\nwant %s", path, r.line, r.text, got, r.want)
		}
		if *updateMeasures {
			rewriteGolden(t, path, r, got)
		}
	}
}

func rewriteGolden(t *testing.T, path string, r measureRow, got string) {
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	lines[r.line-1] = r.text + " => " + got
	if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o644); err != nil {
		t.Fatal(err)
	}
}

func setMeasureConvention(t *testing.T, c *Conventions, kv string) {
	key, value, _ := strings.Cut(kv, "=")
	switch key {
	case "unit":
		c.Dimension.Unit = Unit(value)
	case "decimal":
		c.Dimension.Decimal = value
	case "no-thousands-space":
		c.Dimension.NoThousandsSpace = true
	case "order":
		for _, e := range strings.Split(value, ",") {
			c.Dimension.Order = append(c.Dimension.Order, Element(e))
		}
	case "element":
		c.Dimension.Element = Element(value)
	case "letter":
		l, e, _ := strings.Cut(value, ":")
		if c.Dimension.Letters == nil {
			c.Dimension.Letters = map[string]Element{}
		}
		c.Dimension.Letters[l] = Element(e)
	case "order-of-names":
		c.Maker.Order = map[string]NameOrder{"natural": NameOrderNatural, "inverted": NameOrderInverted}[value]
	default:
		t.Fatalf("unknown convention %q", kv)
	}
}

func unreadCode(err error) string {
	var u *Unread
	if !errors.As(err, &u) {
		return "error of another type"
	}
	return "unread: " + u.Code
}
