package mapping

import (
	"encoding/json"
	"strconv"
	"strings"
)

// Plain gives a value as the plain Go values of encoding/json, for validation by
// a JSON Schema.
func Plain(v Value) any {
	switch x := v.(type) {
	case *Map:
		m := make(map[string]any, len(x.Entries))
		for _, e := range x.Entries {
			m[e.Key.Text] = Plain(e.Value)
		}
		return m
	case *List:
		l := make([]any, len(x.Items))
		for i, it := range x.Items {
			l[i] = Plain(it)
		}
		return l
	case *Scalar:
		switch {
		case x.Null:
			return nil
		case x.Bool:
			return strings.EqualFold(x.Text, "true")
		case x.Number:
			if _, err := strconv.ParseFloat(x.Text, 64); err == nil {
				return json.Number(x.Text)
			}
			return x.Text
		default:
			return x.Text
		}
	}
	return nil
}

// at walks a JSON Pointer (RFC 6901). key is the key of the last step into a
// mapping.
func walkPointer(v Value, pointer string) (found Value, key *Scalar, ok bool) {
	found = v
	for _, step := range strings.Split(strings.TrimPrefix(pointer, "/"), "/") {
		if pointer == "" {
			break
		}
		step = strings.ReplaceAll(strings.ReplaceAll(step, "~1", "/"), "~0", "~")
		switch x := found.(type) {
		case *Map:
			e := x.entry(step)
			if e == nil {
				return found, key, false
			}
			found, key = e.Value, e.Key
		case *List:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(x.Items) {
				return found, key, false
			}
			found, key = x.Items[i], nil
		default:
			return found, key, false
		}
	}
	return found, key, true
}

// Find gives the place of the value at a JSON Pointer, or of the nearest thing
// above it. For mappings and lists it is the place of their key.
func Find(v Value, pointer string) Span {
	x, key, ok := walkPointer(v, pointer)
	if _, scalar := x.(*Scalar); scalar && ok {
		return x.Place()
	}
	if key != nil {
		return key.Span
	}
	if x == nil {
		return Span{}
	}
	return x.Place()
}

// FindKey gives the place of the key at a JSON Pointer, or what [Find] gives.
func FindKey(v Value, pointer string) Span {
	if _, key, ok := walkPointer(v, pointer); ok && key != nil {
		return key.Span
	}
	return Find(v, pointer)
}

// Text gives the text at a JSON Pointer, or "".
func Text(v Value, pointer string) string {
	if x, _, ok := walkPointer(v, pointer); ok {
		return scalarText(x)
	}
	return ""
}

// DidYouMean is a hint that names the candidate nearest to word, or "".
func DidYouMean(word string, candidates []string) string { return didYouMean(word, candidates) }
