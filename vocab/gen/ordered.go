package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
)

// object is a JSON object that remembers the order of its keys.
type object struct {
	keys []string
	vals map[string]any
}

// get returns the value of a key, or nil.
func (o *object) get(key string) any {
	if o == nil {
		return nil
	}
	return o.vals[key]
}

func (o *object) str(key string) string {
	s, _ := o.get(key).(string)
	return s
}

func (o *object) obj(key string) *object {
	v, _ := o.get(key).(*object)
	return v
}

// readJSON reads a JSON file whose root is an object. Of a key
// given twice the last value counts, as for most readers (RFC 8259 §4): the
// published object.json has "used_for" twice.
func readJSON(path string) (*object, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	dec := json.NewDecoder(f)
	v, err := readValue(dec)
	if err != nil {
		return nil, fmt.Errorf("%s: at byte %d: %w", path, dec.InputOffset(), err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("%s: something follows the JSON value", path)
	}
	o, ok := v.(*object)
	if !ok {
		return nil, fmt.Errorf("%s: not a JSON object", path)
	}
	return o, nil
}

func readValue(dec *json.Decoder) (any, error) {
	tok, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch tok {
	case json.Delim('{'):
		o := &object{vals: map[string]any{}}
		for dec.More() {
			k, err := dec.Token()
			if err != nil {
				return nil, err
			}
			v, err := readValue(dec)
			if err != nil {
				return nil, err
			}
			key := k.(string)
			if _, twice := o.vals[key]; !twice {
				o.keys = append(o.keys, key)
			}
			o.vals[key] = v
		}
		_, err := dec.Token()
		return o, err
	case json.Delim('['):
		list := []any{}
		for dec.More() {
			v, err := readValue(dec)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err := dec.Token()
		return list, err
	}
	return tok, nil
}
