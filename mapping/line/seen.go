package line

import "sort"

// seen remembers every document that came out, by a hash of its IRI, with the record
// that made it: twelve bytes in a table that is between two fifths and four fifths
// full. Documents that several records may make have their digest besides.
type seen struct {
	keys  []uint64 // 0: free
	at    []uint32 // number of the record
	n     int
	once  map[uint64]uint32
	files []string
	runs  []stretch
	last  uint32 // number of the last record
}

// stretch is a run of records with consecutive rows in one file.
type stretch struct {
	from uint32 // number of its first record
	file uint32
	row  uint32 // of its first record
}

// record gives the number of a record. Records come in order.
func (s *seen) record(file string, row int) uint32 {
	if k := len(s.runs) - 1; k >= 0 && s.files[s.runs[k].file] == file {
		switch last := s.runs[k].row + s.last - s.runs[k].from; uint32(row) {
		case last:
			return s.last
		case last + 1:
			s.last++
			return s.last
		}
	}
	if n := len(s.files); n == 0 || s.files[n-1] != file {
		s.files = append(s.files, file)
	}
	s.last++
	s.runs = append(s.runs, stretch{from: s.last, file: uint32(len(s.files) - 1), row: uint32(row)})
	return s.last
}

// place is the file and row of a record.
func (s *seen) place(record uint32) (file string, row int) {
	r := &s.runs[sort.Search(len(s.runs), func(i int) bool { return s.runs[i].from > record })-1]
	return s.files[r.file], int(r.row + record - r.from)
}

// slot finds where a key is, or where it belongs.
func (s *seen) slot(key uint64) int {
	i := int(key % uint64(len(s.keys)))
	for s.keys[i] != 0 && s.keys[i] != key {
		if i++; i == len(s.keys) {
			i = 0
		}
	}
	return i
}

func spare(key uint64) uint64 { return max(key, 1) }

// find gives the record that made a document, if one did.
func (s *seen) find(iri uint64) (record uint32, ok bool) {
	if s.n == 0 {
		return 0, false
	}
	i := s.slot(spare(iri))
	return s.at[i], s.keys[i] != 0
}

// add notes a document that find has not found.
func (s *seen) add(iri uint64, file string, row int) {
	if 5*(s.n+1) > 4*len(s.keys) {
		old := *s
		size := max(1024, 2*len(s.keys))
		s.keys, s.at = make([]uint64, size), make([]uint32, size)
		for i, k := range old.keys {
			if k != 0 {
				to := s.slot(k)
				s.keys[to], s.at[to] = k, old.at[i]
			}
		}
	}
	i := s.slot(spare(iri))
	s.keys[i], s.at[i] = spare(iri), s.record(file, row)
	s.n++
}

// addOnce notes a document that other records may make again.
func (s *seen) addOnce(iri uint64, digest uint64) {
	if s.once == nil {
		s.once = map[uint64]uint32{}
	}
	s.once[iri] = uint32(digest)
}
