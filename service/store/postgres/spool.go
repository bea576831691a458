package postgres

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"os"

	"ropewalk/service"
	"ropewalk/service/store/draft"
)

// spool keeps the versions of a draft in a temporary file until they are written to
// the database, and after that in case they must be written again. So a draft takes
// no more memory the larger its documents are, and the transaction is short.
type spool struct {
	file *os.File
	w    *bufio.Writer
	size int64
	n    int
	buf  []byte
}

func (s *spool) add(r *draft.Row, packed []byte) error {
	if s.file == nil {
		f, err := os.CreateTemp("", "ropewalk-draft-")
		if err != nil {
			return err
		}
		// Where an open file can be deleted it leaves nothing behind, however the
		// process ends.
		_ = os.Remove(f.Name())
		s.file, s.w = f, bufio.NewWriterSize(f, 1<<20)
	}
	b := s.buf[:0]
	for _, n := range [...]int64{r.Seq, r.Prev, r.Publication, int64(r.State), int64(r.Change)} {
		b = binary.AppendVarint(b, n)
	}
	b = append(b, r.Digest[:]...)
	text := func(t string) {
		b = binary.AppendUvarint(b, uint64(len(t)))
		b = append(b, t...)
	}
	for _, t := range [...]string{r.IRI, r.Path, r.Class, r.Endpoint, r.Label, r.Keys, r.SetLines, r.MovedTo, r.Reason, r.Names} {
		text(t)
	}
	for _, list := range [...][]draft.Entry{r.End, r.Begin} {
		b = binary.AppendUvarint(b, uint64(len(list)))
		for _, e := range list {
			text(e.Name)
			b = binary.AppendVarint(b, e.Seq)
			b = append(b, 0)
			if e.Left {
				b[len(b)-1] = 1
			}
		}
	}
	b = binary.AppendUvarint(b, uint64(len(packed)))
	b = append(b, packed...)
	s.buf = b
	var head [binary.MaxVarintLen64]byte
	k := binary.PutUvarint(head[:], uint64(len(b)))
	_, err := s.w.Write(head[:k])
	if err == nil {
		_, err = s.w.Write(b)
	}
	s.size += int64(k + len(b))
	s.n++
	return err
}

// spooled is a version read back; Body is as it was packed.
type spooled struct {
	draft.Row
	packed []byte
}

var errSpool = errors.New("the temporary file of the draft is damaged")

// each reads all versions in order until f says that it is enough.
func (s *spool) each(f func(*spooled) (more bool, err error)) error {
	if s.file == nil {
		return nil
	}
	if err := s.w.Flush(); err != nil {
		return err
	}
	in := bufio.NewReaderSize(io.NewSectionReader(s.file, 0, s.size), 1<<20)
	for range s.n {
		n, err := binary.ReadUvarint(in)
		if err != nil || n > uint64(s.size) {
			return errors.Join(errSpool, err)
		}
		frame := make([]byte, n)
		if _, err := io.ReadFull(in, frame); err != nil {
			return errors.Join(errSpool, err)
		}
		r, ok := decode(frame)
		if !ok {
			return errSpool
		}
		if more, err := f(r); err != nil || !more {
			return err
		}
	}
	return nil
}

func decode(b []byte) (*spooled, bool) {
	ok := true
	number := func() int64 {
		n, k := binary.Varint(b)
		if ok = ok && k > 0; ok {
			b = b[k:]
		}
		return n
	}
	bytes := func() []byte {
		n, k := binary.Uvarint(b)
		if ok = ok && k > 0 && n <= uint64(len(b)-k); !ok {
			return nil
		}
		out := b[k : k+int(n)]
		b = b[k+int(n):]
		return out
	}
	r := new(spooled)
	r.Seq, r.Prev, r.Publication = number(), number(), number()
	r.State, r.Change = service.State(number()), service.Change(number())
	if ok = ok && len(b) >= len(r.Digest); !ok {
		return nil, false
	}
	b = b[copy(r.Digest[:], b):]
	for _, t := range [...]*string{&r.IRI, &r.Path, &r.Class, &r.Endpoint, &r.Label, &r.Keys, &r.SetLines, &r.MovedTo, &r.Reason, &r.Names} {
		*t = string(bytes())
	}
	for _, list := range [...]*[]draft.Entry{&r.End, &r.Begin} {
		n, k := binary.Uvarint(b)
		if ok = ok && k > 0 && n <= uint64(len(b)); !ok {
			return nil, false
		}
		b = b[k:]
		for range n {
			e := draft.Entry{Name: string(bytes()), Seq: number()}
			if ok = ok && len(b) > 0; !ok {
				return nil, false
			}
			e.Left, b = b[0] == 1, b[1:]
			*list = append(*list, e)
		}
	}
	r.packed = bytes()
	return r, ok && len(b) == 0
}

func (s *spool) close() error {
	if s.file == nil {
		return nil
	}
	name := s.file.Name()
	err := s.file.Close()
	_ = os.Remove(name) // where it could not be done before
	s.file = nil
	return err
}
