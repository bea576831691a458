package mapping

import (
	"context"
	"regexp"
	"strconv"
	"strings"

	"ropewalk/mapping/source"
)

var (
	ruleLooksPersonal = &Rule{Name: "looks-personal", Severity: Notice,
		About: "a published column that looks like e-mail addresses, telephone numbers or street addresses, of which the site says nothing"}
	ruleLooksLikeFindSpot = &Rule{Name: "looks-like-a-find-spot", Severity: Notice,
		About: "a published column that looks like coordinates, of which the site says nothing"}
)

// What a column is called tells, in the languages that exports are mostly headed in. A
// word of a header stands alone or in a compound with "_", "-" or a capital.
var (
	personalHeader = regexp.MustCompile(`^(e mail|email|mail address|e post|epost|telephone|phone|tel|mobile|fax|telefon|street|street address|home address|private address|postal address|address|adress|adresse|postcode|zip|zip code)( no| number)?$`)
	locationHeader = regexp.MustCompile(`^(lat|latitude|lon|long|lng|longitude|latitud|longitud|coordinates|coords|koordinat|koordinater|easting|northing|grid ref|grid reference|utm|wgs84|gps|find ?spot|decimal ?latitude|decimal ?longitude)$`)
	capitals       = regexp.MustCompile(`([a-z])([A-Z])`)
	between        = regexp.MustCompile(`[\s_\-./]+`)
)

// What cells look like.
var (
	emailValue  = regexp.MustCompile(`^[^\s@<>]+@[^\s@<>]+\.[A-Za-z]{2,}$`)
	phoneValue  = regexp.MustCompile(`^(\+|00)[0-9]{1,3}[ ()/\-]*([0-9][ ()/\-]*){6,12}$`)
	streetValue = regexp.MustCompile(`(?i)^[0-9]{1,5}[a-z]?,? ([\p{L}.'’]+ ){1,4}(street|road|lane|avenue|drive|close|steps|terrace|square|st|rd|ave)\b`)
	pairValue   = regexp.MustCompile(`^-?[0-9]{1,2}\.[0-9]{3,}[,; ]\s*-?[0-9]{1,3}\.[0-9]{3,}$`)
	degreeValue = regexp.MustCompile(`^[NSEWnsew]?\s*[0-9]{1,3}\s*°\s*[0-9]{1,2}(\.[0-9]+)?\s*['′].*$`)
	pointValue  = regexp.MustCompile(`^POINT\s*\(`)
)

// sampleRows is how many rows of a source are looked at.
const sampleRows = 200

// looks tells whether a column looks as if it should not be published, and why. Its
// header is looked at, and some cells, of which no message quotes any.
func (c *compiler) looks(src *source.Source, column string) (rule *Rule, why string) {
	name := column[strings.LastIndexByte(column, '.')+1:]
	name = strings.TrimSpace(between.ReplaceAllString(strings.ToLower(capitals.ReplaceAllString(name, "$1 $2")), " "))
	cells := c.samples(src, column)
	switch {
	case personalHeader.MatchString(name) && !most(cells, isAddressOfWeb):
		return ruleLooksPersonal, "by its name it holds addresses or numbers of people"
	case most(cells, emailValue.MatchString):
		return ruleLooksPersonal, "its cells look like e-mail addresses"
	case most(cells, phoneValue.MatchString):
		return ruleLooksPersonal, "its cells look like telephone numbers"
	case most(cells, streetValue.MatchString):
		return ruleLooksPersonal, "its cells look like street addresses"
	case locationHeader.MatchString(name) && (len(cells) == 0 || most(cells, mayBeCoordinate)):
		return ruleLooksLikeFindSpot, "by its name it holds coordinates"
	case most(cells, isCoordinates):
		return ruleLooksLikeFindSpot, "its cells look like coordinates"
	}
	return nil, ""
}

func isCoordinates(s string) bool {
	return pairValue.MatchString(s) || degreeValue.MatchString(s) || pointValue.MatchString(s)
}

// most reports whether most of some cells, at least four fifths, are of a kind.
func most(cells []string, is func(string) bool) bool {
	n := 0
	for _, s := range cells {
		if is(s) {
			n++
		}
	}
	return n > 0 && n*5 >= len(cells)*4
}

func isAddressOfWeb(s string) bool {
	return strings.HasPrefix(s, "http://") || strings.HasPrefix(s, "https://")
}

func mayBeCoordinate(s string) bool {
	f, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return err == nil && (f >= -360 && f <= 360 || f > 10_000) || degreeValue.MatchString(s) || pairValue.MatchString(s) || !strings.ContainsAny(s, " ")
}

// samples are the cells of a column that are not empty, in the first rows of a source.
// Of nested exports one sample is known of each path.
func (c *compiler) samples(src *source.Source, column string) []string {
	if src.Nested() {
		d, err := src.Describe()
		if err != nil {
			return nil
		}
		for _, col := range d.Columns {
			if col.Path == column && col.Sample != "" {
				return []string{col.Sample}
			}
		}
		return nil
	}
	if c.sampled == nil {
		c.sampled = map[*source.Source]map[string][]string{}
	}
	if c.sampled[src] == nil {
		c.sampled[src] = c.sample(src)
	}
	return c.sampled[src][column]
}

func (c *compiler) sample(src *source.Source) map[string][]string {
	out := map[string][]string{}
	d, err := src.Describe()
	if err != nil {
		return out
	}
	l := src.Layout()
	slots := map[string]int{}
	for _, col := range d.Columns {
		if _, _, hidden := c.withheld(src, col.Path); hidden {
			continue
		}
		if slot, err := l.Field(col.Path); err == nil {
			slots[col.Path] = slot
		}
	}
	// What can't be read is told when it is read in earnest.
	_ = src.Read(context.Background(), l, source.Options{Limit: sampleRows}, func(b *source.Batch) error {
		for i := range b.Rows {
			for path, slot := range slots {
				if s := strings.TrimSpace(b.Rows[i].Cells[slot]); s != "" {
					out[path] = append(out[path], strings.Clone(s))
				}
			}
		}
		b.Release()
		return nil
	})
	return out
}
