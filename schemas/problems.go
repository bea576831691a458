package schemas

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"sort"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

// Problem is one thing that a schema finds wrong with a JSON value.
type Problem struct {
	InstancePath string   // JSON Pointer (RFC 6901) to the value, or to the key that should not be there
	Keyword      string   // keyword of JSON Schema that failed, such as "required"
	Key          string   // for "required" the missing key, for "additionalProperties" the surplus one
	Message      string   // in plain words, without the path
	Allowed      []string // the keys or values the schema allows there, sorted, where it lists them
	Location     string   // address of the keyword in its schema, such as "…/core.json#/$defs/Name/required"
}

// Problems turns an error of [jsonschema.Schema.Validate] into a flat list,
// sorted by path. Where a schema offers alternatives, only the problems of the
// nearest one are given, and where both "format" and "pattern" fail only the
// former. A schema's "title" beside a "pattern" says in words what the pattern
// wants. A nil error gives nil; an error of another type gives one Problem with
// the error's text and no path.
func Problems(err error) []Problem {
	if err == nil {
		return nil
	}
	var ve *jsonschema.ValidationError
	if !errors.As(err, &ve) {
		return []Problem{{Message: err.Error()}}
	}
	var ps []Problem
	flatten(ve, &ps)
	sort.SliceStable(ps, func(i, k int) bool {
		a, b := &ps[i], &ps[k]
		if a.InstancePath != b.InstancePath {
			return lessPointer(a.InstancePath, b.InstancePath)
		}
		if a.Keyword != b.Keyword {
			return a.Keyword < b.Keyword
		}
		return a.Message < b.Message
	})
	out := ps[:0]
	for i := range ps {
		if n := len(out); n > 0 && out[n-1].InstancePath == ps[i].InstancePath &&
			(out[n-1].Message == ps[i].Message || out[n-1].Keyword == "format" && ps[i].Keyword == "pattern") {
			continue
		}
		out = append(out, ps[i])
	}
	return out
}

// lessPointer orders JSON Pointers with array positions as numbers.
func lessPointer(a, b string) bool {
	for {
		var x, y string
		x, a, _ = strings.Cut(a, "/")
		y, b, _ = strings.Cut(b, "/")
		if x != y {
			m, errM := strconv.Atoi(x)
			n, errN := strconv.Atoi(y)
			if errM == nil && errN == nil {
				return m < n
			}
			return x < y
		}
		if a == "" || b == "" {
			return len(a) < len(b)
		}
	}
}

func flatten(ve *jsonschema.ValidationError, out *[]Problem) {
	keyword := keywordOf(ve)
	if len(ve.Causes) == 0 {
		leaf(ve, keyword, out)
		return
	}
	if keyword == "anyOf" || keyword == "oneOf" {
		flatten(nearest(ve.Causes), out)
		return
	}
	for _, c := range ve.Causes {
		flatten(c, out)
	}
}

// nearest is the alternative whose failures lie deepest; of equals the one with
// fewest failures, then the one the schema names first.
func nearest(branches []*jsonschema.ValidationError) *jsonschema.ValidationError {
	best, bestDepth, bestLeaves := branches[0], -1, 0
	for _, b := range branches {
		depth, leaves := reach(b)
		if depth > bestDepth || depth == bestDepth && leaves < bestLeaves {
			best, bestDepth, bestLeaves = b, depth, leaves
		}
	}
	return best
}

// reach is the depth of the shallowest failure below ve and the number of failures.
func reach(ve *jsonschema.ValidationError) (depth, leaves int) {
	if len(ve.Causes) == 0 {
		return strings.Count(ve.InstanceLocation, "/"), 1
	}
	depth = -1
	for _, c := range ve.Causes {
		d, n := reach(c)
		if depth < 0 || d < depth {
			depth = d
		}
		leaves += n
	}
	return depth, leaves
}

// keywordOf is the last step of the keyword's location that is not a position.
func keywordOf(ve *jsonschema.ValidationError) string {
	steps := strings.Split(ve.KeywordLocation, "/")
	for i := len(steps) - 1; i >= 0; i-- {
		if _, err := strconv.Atoi(steps[i]); err != nil {
			return steps[i]
		}
	}
	return ""
}

func leaf(ve *jsonschema.ValidationError, keyword string, out *[]Problem) {
	p := Problem{InstancePath: unescape(ve.InstanceLocation), Keyword: keyword, Message: ve.Message, Location: ve.AbsoluteKeywordLocation}
	each := func(keys []string, message string, below bool) {
		for _, k := range keys {
			q := p
			q.Key, q.Message = k, fmt.Sprintf(message, k)
			if below {
				q.InstancePath += "/" + pointerEscaper.Replace(k)
			}
			*out = append(*out, q)
		}
	}
	switch keyword {
	case "required":
		if keys := quoted(ve.Message); keys != nil {
			each(keys, "lacks the key %q", false)
			return
		}
	case "additionalProperties", "unevaluatedProperties":
		p.Allowed = allowedKeys(ve.AbsoluteKeywordLocation)
		if keys := quoted(ve.Message); keys != nil {
			each(keys, "the key %q is not known here", true)
			return
		}
	case "type":
		if want, got, ok := strings.Cut(strings.TrimPrefix(ve.Message, "expected "), ", but got "); ok {
			p.Message = fmt.Sprintf("must be %s, not %s", withArticle(want), withArticle(got))
		}
	case "const", "enum":
		p.Allowed = allowedValues(ve.AbsoluteKeywordLocation)
		switch n := len(p.Allowed); {
		case n == 1:
			p.Message = fmt.Sprintf("must be %q", p.Allowed[0])
		case n > 1 && n <= 12:
			p.Message = "must be one of " + strings.Join(p.Allowed, ", ")
		case n > 12:
			p.Message = fmt.Sprintf("must be one of %d known values", n)
		}
	case "format":
		if v, format, ok := formatParts(ve.Message); ok {
			p.Message = fmt.Sprintf("%q is not %s", v, formatWords(format))
		}
	case "pattern":
		if title := titleOf(ve.AbsoluteKeywordLocation); title != "" {
			p.Message = "is not " + title
		} else if pat := quoted(ve.Message); len(pat) == 1 {
			p.Message = "does not match the pattern " + pat[0]
		}
	case "minLength":
		p.Message = "is too short: " + ve.Message
		if strings.HasSuffix(ve.Message, "got 0") {
			p.Message = "must not be empty"
		}
	case "minItems", "minProperties":
		p.Message = "has too few entries: " + ve.Message
	case "maxItems", "maxProperties", "maxLength":
		p.Message = "is too long: " + ve.Message
	case "not":
		p.Message = "has a form that is not allowed here"
	}
	*out = append(*out, p)
}

// quoted returns the single-quoted words of a message of the library, which
// writes them as Go strings with ' for ".
func quoted(msg string) []string {
	var words []string
	for i := 0; i < len(msg); i++ {
		if msg[i] != '\'' {
			continue
		}
		k := i + 1
		for k < len(msg) && msg[k] != '\'' {
			if msg[k] == '\\' {
				k++
			}
			k++
		}
		if k >= len(msg) {
			return words
		}
		words = append(words, unquote(msg[i:k+1]))
		i = k
	}
	return words
}

func unquote(s string) string {
	body := s[1 : len(s)-1]
	inner := strings.ReplaceAll(strings.ReplaceAll(body, `\'`, `'`), `"`, `\"`)
	if w, err := strconv.Unquote(`"` + inner + `"`); err == nil {
		return w
	}
	return body
}

// formatParts takes the value and the format's name out of the library's message.
func formatParts(msg string) (value, format string, ok bool) {
	words := quoted(msg)
	if len(words) != 2 {
		return "", "", false
	}
	return words[0], words[1], true
}

func formatWords(format string) string {
	switch format {
	case "uri", "iri":
		return "an absolute IRI"
	case "date-time":
		return "a date and time such as 1851-05-01T00:00:00Z"
	case "date":
		return "a date such as 1851-05-01"
	case "regex":
		return "a regular expression"
	}
	return "in the format " + format
}

func withArticle(types string) string {
	words := strings.Split(types, " or ")
	for i, w := range words {
		switch w {
		case "null":
			words[i] = "empty (null)"
		case "array":
			words[i] = "a list"
		case "object":
			words[i] = "a group of keys"
		case "string":
			words[i] = "text"
		case "boolean":
			words[i] = "true or false"
		case "integer":
			words[i] = "a whole number"
		default:
			words[i] = "a " + w
		}
	}
	return strings.Join(words, " or ")
}

var pointerEscaper = strings.NewReplacer("~", "~0", "/", "~1")

// unescape undoes the percent-encoding that the library puts over a JSON Pointer.
func unescape(location string) string {
	if s, err := url.PathUnescape(location); err == nil {
		return s
	}
	return location
}

// beside returns what stands under another keyword of the schema whose keyword
// stands at location.
func beside(location, keyword string) any {
	file, pointer, _ := strings.Cut(location, "#")
	cut := strings.LastIndexByte(pointer, '/')
	if cut < 0 {
		return nil
	}
	return lookUp(file, pointer[:cut+1]+keyword)
}

func titleOf(location string) string {
	title, _ := beside(location, "title").(string)
	return title
}

// allowedKeys lists the properties of the schema whose keyword stands at location.
func allowedKeys(location string) []string {
	props, ok := beside(location, "properties").(map[string]any)
	if !ok {
		return nil
	}
	keys := make([]string, 0, len(props))
	for k := range props {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// allowedValues lists the values of the enum or const at location.
func allowedValues(location string) []string {
	file, pointer, _ := strings.Cut(location, "#")
	v := lookUp(file, pointer)
	list, ok := v.([]any)
	if !ok {
		list = []any{v}
	}
	var out []string
	for _, e := range list {
		switch e := e.(type) {
		case nil:
		case string:
			out = append(out, e)
		default:
			b, err := json.Marshal(e)
			if err == nil {
				out = append(out, string(b))
			}
		}
	}
	sort.Strings(out)
	return out
}

// lookUp returns the part of an embedded schema at a JSON Pointer, or nil.
func lookUp(address, pointer string) any {
	data, err := File(strings.TrimPrefix(address, Base))
	if err != nil {
		return nil
	}
	var v any
	if json.Unmarshal(data, &v) != nil {
		return nil
	}
	for _, step := range strings.Split(unescape(pointer), "/")[1:] {
		step = strings.NewReplacer("~1", "/", "~0", "~").Replace(step)
		switch t := v.(type) {
		case map[string]any:
			v = t[step]
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(t) {
				return nil
			}
			v = t[i]
		default:
			return nil
		}
	}
	return v
}
