package reading

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
)

// UnmarshalText reads "any", "natural" or "inverted".
func (n *NameOrder) UnmarshalText(b []byte) error {
	for i, name := range [...]string{"any", "natural", "inverted"} {
		if string(b) == name {
			*n = NameOrder(i)
			return nil
		}
	}
	return fmt.Errorf("it is any, natural or inverted, not %q", b)
}

// UnknownSetting says that conventions have no setting of a name.
type UnknownSetting struct {
	Section, Name string
	Known         []string // the settings there are
}

func (u *UnknownSetting) Error() string {
	return fmt.Sprintf("there is no convention %q for %s: there are %s", u.Name, u.Section, strings.Join(u.Known, ", "))
}

// Set sets one convention. Section is "date", "dimension", "money" or "maker", name
// the name of a field in lower case with underscores, and value what a site file
// or a command line gives: a string, a bool, a number, a list or a map of strings.
// The error is an [*UnknownSetting] where the name is wrong.
func (c *Conventions) Set(section, name string, value any) error {
	known := c.settings(section)
	if known == nil {
		return fmt.Errorf("there are no conventions for %q: there are date, dimension, money and maker", section)
	}
	key := strings.ReplaceAll(name, "_", "")
	found := false
	for _, k := range known {
		found = found || strings.ReplaceAll(k, "_", "") == key
	}
	if !found {
		return &UnknownSetting{section, name, known}
	}
	if section == "date" {
		var words []string
		switch v := value.(type) {
		case []any:
			for _, x := range v {
				words = append(words, fmt.Sprint(x))
			}
		default:
			words = []string{fmt.Sprint(v)}
		}
		return c.Date.Set(name, strings.Join(words, ", "))
	}
	data, err := json.Marshal(map[string]any{section: map[string]any{key: value}})
	if err != nil {
		return err
	}
	err = json.NewDecoder(bytes.NewReader(data)).Decode(c)
	var te *json.UnmarshalTypeError
	if errors.As(err, &te) {
		return fmt.Errorf("%s can't be %s", name, te.Value)
	}
	return err
}

// settings lists the settings of a section, nil if there is no such section.
func (c *Conventions) settings(section string) []string {
	if section == "date" {
		var out []string
		for _, s := range dateSettings {
			out = append(out, s.Name)
		}
		return out
	}
	t := reflect.TypeFor[Conventions]()
	var out []string
	for i := range t.NumField() {
		if !strings.EqualFold(t.Field(i).Name, section) {
			continue
		}
		for k := range t.Field(i).Type.NumField() {
			var b strings.Builder
			for j, r := range t.Field(i).Type.Field(k).Name {
				if j > 0 && 'A' <= r && r <= 'Z' {
					b.WriteByte('_')
				}
				b.WriteString(strings.ToLower(string(r)))
			}
			out = append(out, b.String())
		}
	}
	return out
}
