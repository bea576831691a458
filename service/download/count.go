package download

import (
	"bufio"
	"cmp"
	"encoding/binary"
	"errors"
	"hash/maphash"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// statement is a triple as it is counted: a fingerprint, its property, and the class if
// the property is rdf:type.
type statement struct {
	hash            uint64
	property, class uint16
}

const noClass = math.MaxUint16

// statistics counts what is distinct over all documents, such as the label of a type
// that thousands of them repeat. Fingerprints go to files on disk, sorted by their
// first bits, so that memory does not grow with the collection; with 64 bits, the
// chance that two of 20 million triples are taken for one is 1 in 90,000.
type statistics struct {
	dir        string
	seed       maphash.Seed
	properties []string // IRI by number
	classes    []string
	property   map[string]uint16
	class      map[string]uint16
	statements []*part
	nodes      []*part
	documents  int64
}

const parts = 32

// part is a file of fingerprints, removed when it has been counted.
type part struct {
	f *os.File
	w *bufio.Writer
}

const (
	statementSize = 12
	nodeSize      = 8
)

func newStatistics(dir string) (*statistics, error) {
	s := &statistics{dir: dir, seed: maphash.MakeSeed(), property: map[string]uint16{}, class: map[string]uint16{}}
	number := func(iri string, list *[]string, of map[string]uint16) {
		if _, ok := of[iri]; !ok {
			of[iri] = uint16(len(*list))
			*list = append(*list, iri)
		}
	}
	number(entity.TypeIRI, &s.properties, s.property)
	for _, t := range vocab.Terms() {
		number(t.IRI, &s.properties, s.property)
	}
	for _, c := range vocab.Classes() {
		number(c.IRI, &s.classes, s.class)
	}
	for i := range 2 * parts {
		f, err := os.Create(filepath.Join(dir, ".count-"+strconv.Itoa(i)))
		if err != nil {
			s.discard()
			return nil, err
		}
		p := &part{f: f, w: bufio.NewWriterSize(f, 16<<10)}
		if i < parts {
			s.statements = append(s.statements, p)
		} else {
			s.nodes = append(s.nodes, p)
		}
	}
	return s, nil
}

// counter is a worker's: it makes fingerprints.
type counter struct {
	s    *statistics
	hash maphash.Hash
}

func (s *statistics) counter() *counter {
	c := &counter{s: s}
	c.hash.SetSeed(s.seed)
	return c
}

// count adds the statements and subjects of a document to a batch.
func (c *counter) count(b *batch, d *entity.Document) {
	h, last := &c.hash, ""
	for _, t := range d.Triples() {
		h.Reset()
		_, _ = h.WriteString(t.Subject.Value)
		if last != t.Subject.Value {
			last = t.Subject.Value
			b.nodes = append(b.nodes, h.Sum64())
		}
		st := statement{property: c.s.property[t.Predicate.Value], class: noClass}
		if st.property == 0 {
			st.class = c.s.class[t.Object.Value]
		}
		// No IRI, tag or datatype has a NUL in it.
		for _, text := range [...]string{"\x00", t.Predicate.Value, "\x00", t.Object.Datatype, "\x00", t.Object.Lang, "\x00"} {
			_, _ = h.WriteString(text)
		}
		_ = h.WriteByte(byte(t.Object.Kind))
		_, _ = h.WriteString(t.Object.Value)
		st.hash = h.Sum64()
		b.stats = append(b.stats, st)
	}
}

func (s *statistics) add(b *batch) error {
	s.documents += int64(len(b.records))
	var buf [statementSize]byte
	for _, st := range b.stats {
		binary.LittleEndian.PutUint64(buf[:], st.hash)
		binary.LittleEndian.PutUint16(buf[8:], st.property)
		binary.LittleEndian.PutUint16(buf[10:], st.class)
		if _, err := s.statements[st.hash>>59].w.Write(buf[:]); err != nil {
			return err
		}
	}
	for _, n := range b.nodes {
		binary.LittleEndian.PutUint64(buf[:], n)
		if _, err := s.nodes[n>>59].w.Write(buf[:nodeSize]); err != nil {
			return err
		}
	}
	return nil
}

// read gives what was written to a part.
func (p *part) read() ([]byte, error) {
	if err := p.w.Flush(); err != nil {
		return nil, err
	}
	if _, err := p.f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	return io.ReadAll(p.f)
}

// counts counts everything.
func (s *statistics) counts() (Counts, error) {
	c := Counts{Documents: s.documents}
	properties, classes := make([]int64, len(s.properties)), make([]int64, len(s.classes))
	var list []statement
	for _, p := range s.statements {
		data, err := p.read()
		if err != nil {
			return c, err
		}
		list = list[:0]
		for ; len(data) >= statementSize; data = data[statementSize:] {
			list = append(list, statement{binary.LittleEndian.Uint64(data), binary.LittleEndian.Uint16(data[8:]), binary.LittleEndian.Uint16(data[10:])})
		}
		slices.SortFunc(list, func(a, b statement) int { return cmp.Compare(a.hash, b.hash) })
		for i, st := range list {
			if i > 0 && st.hash == list[i-1].hash {
				continue
			}
			c.Triples++
			properties[st.property]++
			if st.class != noClass {
				classes[st.class]++
			}
		}
	}
	var nodes []uint64
	for _, p := range s.nodes {
		data, err := p.read()
		if err != nil {
			return c, err
		}
		nodes = nodes[:0]
		for ; len(data) >= nodeSize; data = data[nodeSize:] {
			nodes = append(nodes, binary.LittleEndian.Uint64(data))
		}
		slices.Sort(nodes)
		nodes = slices.Compact(nodes)
		c.Subjects += int64(len(nodes))
	}
	c.Properties, c.Classes = used(s.properties, properties), used(s.classes, classes)
	return c, nil
}

// used lists what occurs, in order of IRI.
func used(iris []string, n []int64) []Count {
	out := []Count{}
	for i, iri := range iris {
		if n[i] > 0 {
			out = append(out, Count{iri, n[i]})
		}
	}
	slices.SortFunc(out, func(a, b Count) int { return cmp.Compare(a.IRI, b.IRI) })
	return out
}

// discard takes the files away.
func (s *statistics) discard() {
	for _, p := range append(s.statements, s.nodes...) {
		_ = errors.Join(p.f.Close(), os.Remove(p.f.Name()))
	}
	s.statements, s.nodes = nil, nil
}
