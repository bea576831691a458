package harvest

import (
	"context"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Error codes (§3.6).
const (
	badArgument             = "badArgument"
	badResumptionToken      = "badResumptionToken"
	badVerb                 = "badVerb"
	cannotDisseminateFormat = "cannotDisseminateFormat"
	idDoesNotExist          = "idDoesNotExist"
	noRecordsMatch          = "noRecordsMatch"
	noMetadataFormats       = "noMetadataFormats"
	noSetHierarchy          = "noSetHierarchy"
)

// fault is an error or exception condition (§3.6).
type fault struct{ code, text string }

// request is a request whose arguments were looked at.
type request struct {
	verb   string
	args   map[string]string
	faults []fault
}

func (q *request) fail(code, format string, a ...any) {
	q.faults = append(q.faults, fault{code, fmt.Sprintf(format, a...)})
}

// argumentNames are all arguments, in the order in which responses repeat them.
var argumentNames = []string{"verb", "identifier", "metadataPrefix", "from", "until", "set", "resumptionToken"}

type verb struct {
	required, optional []string
	token              bool // resumptionToken is its exclusive argument
	answer             func(*Provider, context.Context, []byte, *request) ([]byte, error)
}

// verbs are the requests of §4.
var verbs map[string]verb

func init() {
	list := verb{required: []string{"metadataPrefix"}, optional: []string{"from", "until", "set"}, token: true, answer: (*Provider).list}
	verbs = map[string]verb{
		"GetRecord":           {required: []string{"identifier", "metadataPrefix"}, answer: (*Provider).getRecord},
		"Identify":            {answer: (*Provider).identify},
		"ListIdentifiers":     list,
		"ListMetadataFormats": {optional: []string{"identifier"}, answer: (*Provider).listMetadataFormats},
		"ListRecords":         list,
		"ListSets":            {token: true, answer: (*Provider).listSets},
	}
}

// parse reads the arguments and finds all that is wrong with their form.
func (p *Provider) parse(arguments string) request {
	q := request{args: map[string]string{}}
	values, err := url.ParseQuery(arguments)
	if err != nil {
		q.fail(badArgument, "The arguments are not in the form name=value&name=value with percent-encoding.")
	}
	switch v := values["verb"]; {
	case len(v) == 0:
		q.fail(badVerb, "The argument verb is missing. It is one of %s.", strings.Join(slices.Sorted(maps.Keys(verbs)), ", "))
	case len(v) > 1:
		q.fail(badVerb, "The argument verb is there more than once.")
	case verbs[v[0]].answer == nil:
		q.fail(badVerb, "%s is not a verb of OAI-PMH 2.0. There are %s.", shown(v[0]), strings.Join(slices.Sorted(maps.Keys(verbs)), ", "))
	default:
		q.verb = v[0]
	}
	for _, name := range slices.Sorted(maps.Keys(values)) {
		v := values[name]
		q.args[name] = v[0]
		switch {
		case name == "verb":
		case !slices.Contains(argumentNames, name):
			q.fail(badArgument, "There is no argument %s.", shown(name))
		case len(v) > 1:
			q.fail(badArgument, "The argument %s is there more than once.", name)
		default:
			p.syntax(&q, name, v[0])
		}
	}
	if q.verb != "" {
		p.fitting(&q)
	}
	return q
}

// fitting checks which arguments the verb has.
func (p *Provider) fitting(q *request) {
	v := verbs[q.verb]
	_, token := q.args["resumptionToken"]
	token = token && v.token
	for _, name := range argumentNames[1:] {
		_, there := q.args[name]
		required := slices.Contains(v.required, name)
		known := required || slices.Contains(v.optional, name) || name == "resumptionToken" && v.token
		switch {
		case there && !known:
			q.fail(badArgument, "%s has no argument %s.", q.verb, name)
		case there && token && name != "resumptionToken":
			q.fail(badArgument, "Beside resumptionToken there is no other argument: %s is one too many.", name)
		case !there && required && !token:
			q.fail(badArgument, "%s needs the argument %s.", q.verb, name)
		}
	}
	from, fromDay, ok1 := datestamp(q.args["from"])
	until, untilDay, ok2 := datestamp(q.args["until"])
	if ok1 && ok2 {
		switch {
		case fromDay != untilDay:
			q.fail(badArgument, "from and until are not of the same granularity.")
		case from.After(until):
			q.fail(badArgument, "from is later than until.")
		}
	}
}

// syntax checks the form of an argument's value.
func (p *Provider) syntax(q *request, name, value string) {
	switch name {
	case "identifier":
		// What a URI cannot hold is illegal (§2.4), and unknown as well (§3.6).
		if !uri(value) {
			q.fail(badArgument, "The identifier %s is not a URI.", shown(value))
			q.fail(idDoesNotExist, "There is no item with this identifier.")
		}
	case "metadataPrefix":
		if !metadataPrefix.MatchString(value) {
			q.fail(badArgument, "%s is not a metadataPrefix.", shown(value))
		}
	case "set":
		if !setSpec.MatchString(value) {
			q.fail(badArgument, "%s is not a setSpec.", shown(value))
		}
	case "from", "until":
		if _, _, ok := datestamp(value); !ok {
			q.fail(badArgument, "%s: %s is not a date in the form YYYY-MM-DD or YYYY-MM-DDThh:mm:ssZ.", name, shown(value))
		}
	}
}

// uri reports whether text has a scheme and only characters that a URI can hold
// (RFC 3986 §2), escapes complete.
func uri(text string) bool {
	scheme, rest, ok := strings.Cut(text, ":")
	if !ok || scheme == "" || rest == "" || !printable(text) || strings.ContainsAny(text, "<>\"{}|\\^`[]") || strings.Count(text, "#") > 1 {
		return false
	}
	for i, c := range scheme {
		letter := 'a' <= c|0x20 && c|0x20 <= 'z'
		if !letter && (i == 0 || !('0' <= c && c <= '9' || strings.ContainsRune("+-.", c))) {
			return false
		}
	}
	if authority, ok := strings.CutPrefix(rest, "//"); ok {
		if i := strings.IndexAny(authority, "/?#"); i >= 0 {
			authority = authority[:i]
		}
		if strings.Count(authority, "@") > 1 {
			return false
		}
	}
	_, wrong := url.PathUnescape(rest)
	_, err := url.Parse(text) // what else an authority cannot be
	return wrong == nil && err == nil
}

// printable reports whether text is ASCII without blanks and controls.
func printable(text string) bool {
	for i := 0; i < len(text); i++ {
		if text[i] <= ' ' || text[i] >= 0x7f {
			return false
		}
	}
	return true
}

// shown is a value in a message, in quotes and short.
func shown(value string) string {
	const most = 60
	if !utf8.ValidString(value) {
		value = strings.ToValidUTF8(value, "\ufffd")
	}
	if r := []rune(value); len(r) > most {
		value = string(r[:most]) + "…"
	}
	return "“" + value + "”"
}

// datestamp reads a UTCdatetime (§3.3) of either granularity, with a year that XML
// Schema knows, too.
func datestamp(text string) (t time.Time, day, ok bool) {
	layout := second
	if day = len(text) == len(time.DateOnly); day {
		layout = time.DateOnly
	}
	t, err := time.Parse(layout, text)
	return t, day, err == nil && len(text) == len(layout) && t.Year() > 0
}

// window is what from and until take in: whole days where they are days.
func window(from, until string) (begin, end time.Time) {
	begin, _, _ = datestamp(from)
	end, day, ok := datestamp(until)
	if ok && day {
		end = end.Add(24*time.Hour - time.Second)
	}
	return begin, end
}
