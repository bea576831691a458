package source

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
)

// New makes the sources of a site from their declarations, in order. It finds
// their files but does not open them. The error joins a [*SpecError] for every
// mistake.
func New(fsys fs.FS, specs []Spec) (*Set, error) {
	set := &Set{fsys: fsys, byName: map[string]*Source{}, indexes: map[string]*indexEntry{}}
	var errs []error
	for _, spec := range specs {
		s := &Source{Spec: spec, set: set}
		if set.byName[spec.Name] != nil {
			errs = append(errs, &SpecError{Source: spec.Name, Reason: "two sources have this name"})
			continue
		}
		set.sources = append(set.sources, s)
		set.byName[spec.Name] = s
		errs = append(errs, s.prepare()...)
	}
	for _, s := range set.sources {
		errs = append(errs, s.checkJoins()...)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return set, nil
}

func (s *Source) mistake(field, value, format string, args ...any) *SpecError {
	return &SpecError{Source: s.Name, Field: field, Value: value, Reason: fmt.Sprintf(format, args...)}
}

// oneOf checks a value against a list; "" always passes.
func (s *Source) oneOf(field, value string, list ...string) []error {
	if value == "" || slices.Contains(list, value) {
		return nil
	}
	e := s.mistake(field, value, "must be one of %s", strings.Join(list, ", "))
	e.Nearest = nearest(value, list)
	return []error{e}
}

// prepare checks what a source says of itself and finds its files.
func (s *Source) prepare() []error {
	var errs []error
	if s.Name == "" {
		errs = append(errs, s.mistake("name", "", "a source needs a name"))
	}
	formats := s.oneOf("format", s.Format, "csv", "tsv", "xlsx", "json", "jsonl", "xml")
	errs = append(errs, formats...)
	errs = append(errs, s.oneOf("quote", s.Quote, "none")...)
	errs = append(errs, s.oneOf("html", s.HTML, "strip", "keep")...)
	if s.Encoding != "" && encodingName(s.Encoding) == "" {
		e := s.mistake("encoding", s.Encoding, "no encoding of this name is known")
		e.Nearest = nearest(s.Encoding, []string{encUTF8, encUTF16, encUTF16LE, encUTF16BE, encW1252, encLatin1})
		errs = append(errs, e)
	}
	if d := s.Delimiter; d != "" && (len(d) != 1 || d[0] >= 0x80 || strings.ContainsAny(d, "\"\r\n")) {
		errs = append(errs, s.mistake("delimiter", d, "must be one ASCII character, no quotation mark and no line end"))
	}
	if len(formats) > 0 {
		return errs
	}
	return append(errs, s.find()...)
}

// find resolves the files of a source.
func (s *Source) find() []error {
	if len(s.Spec.Files) == 0 {
		return []error{s.mistake("files", "", "a source needs files")}
	}
	var errs []error
	x := &expander{fsys: s.set.fsys, found: map[string]fs.FileInfo{}}
	for _, pattern := range s.Spec.Files {
		if err := x.add(pattern, s.Format); err != nil {
			errs = append(errs, s.mistake("files", pattern, "%s", err))
		}
	}
	var first *File
	for _, name := range x.names() {
		format, gzipped := formatOf(name)
		if s.Format != "" {
			format = s.Format
		}
		if format == "" {
			errs = append(errs, s.mistake("files", name, "the format can't be told from the file's name; declare it"))
			continue
		}
		f := &File{Source: s.Name, Name: name, Size: x.found[name].Size(), Format: format, gzip: gzipped}
		if first == nil {
			first = f
			s.family = familyOf(format)
		} else if familyOf(format) != s.family {
			errs = append(errs, s.mistake("files", name, "%s files and %s files (%s) can't be one source", format, first.Format, first.Name))
			continue
		}
		s.files = append(s.files, f)
	}
	if s.family == 0 && len(errs) == 0 {
		errs = append(errs, s.mistake("files", "", "no file was found"))
	}
	return errs
}

// checkJoins checks look-ups and child rows against the other sources.
func (s *Source) checkJoins() []error {
	var errs []error
	check := func(kind string, joins map[string]Join) {
		for _, name := range keysOf(joins) {
			j, field := joins[name], kind+"."+name
			from := s.set.byName[j.From]
			if from == nil {
				e := s.mistake(field+".from", j.From, "no source has this name")
				e.Nearest = nearest(j.From, keysOf(s.set.byName))
				errs = append(errs, e)
			}
			if len(j.On) == 0 {
				errs = append(errs, s.mistake(field+".on", "", "say which fields must be equal"))
			}
			for _, pair := range j.On {
				if pair[0] == "" || pair[1] == "" {
					errs = append(errs, s.mistake(field+".on", pair[0]+pair[1], "each pair needs a field here and a field there"))
				}
			}
		}
	}
	check("rows", s.Spec.Rows)
	check("lookups", s.Lookups)
	for name := range s.Spec.Rows {
		if _, ok := s.Lookups[name]; ok {
			errs = append(errs, s.mistake("lookups."+name, "", "child rows have this name too"))
		}
	}
	for _, name := range keysOf(s.Lookups) {
		if ring := s.ring(name, nil); ring != nil {
			errs = append(errs, s.mistake("lookups."+name+".on", "", "look-ups that need each other: %s", strings.Join(ring, " → ")))
		}
	}
	return errs
}

// ring follows the look-ups that the key of a look-up is itself taken from, and
// returns the way round if it comes back.
func (s *Source) ring(name string, way []string) []string {
	if i := slices.Index(way, name); i >= 0 {
		if i > 0 {
			return nil // reported at the look-up where the ring begins
		}
		return append(way, name)
	}
	way = append(way, name)
	l := &Layout{src: s}
	for _, pair := range s.Lookups[name].On {
		if via, _, ok := l.splitJoin(pair[0], s.Lookups); ok {
			if ring := s.ring(via, slices.Clone(way)); ring != nil {
				return ring
			}
		}
	}
	return nil
}

// Check reads headers, or a sample of nested records, and returns an error for
// every join whose fields do not exist: a [*SpecError], or an [*Error] for a file
// that can't be read.
func (s *Source) Check() []error {
	if _, err := s.describe(); err != nil {
		return []error{err}
	}
	var errs []error
	check := func(kind string, joins map[string]Join) {
		for _, name := range keysOf(joins) {
			j := joins[name]
			for _, pair := range j.On {
				for side, l := range []*Layout{s.Layout(), s.set.byName[j.From].Layout()} {
					_, err := l.Field(pair[side])
					var u *UnknownField
					switch {
					case errors.As(err, &u):
						e := s.mistake(kind+"."+name+".on", pair[side], "%s", u.Error())
						e.Nearest = u.Nearest
						e.Reason = "source " + u.Source + " has no such field"
						if u.Reason != "" {
							e.Reason = u.Reason
						}
						errs = append(errs, e)
					case err != nil:
						errs = append(errs, err)
					}
				}
			}
		}
	}
	check("rows", s.Spec.Rows)
	check("lookups", s.Lookups)
	return errs
}
