package draft

import (
	"bytes"
	"encoding/binary"
	"slices"

	"ropewalk/service"
)

// Parts is into how many parts what a book knows is packed, by the first byte of the
// paths' hashes. A publication writes those anew in which something changed.
const Parts = 256

// packedSize is the length of what is packed of an address: the first 16 bytes of the
// SHA-256 of its path, the digest, the first 8 of the SHA-256 of the IRI, and, as
// little-endian numbers, 8 bytes of the seq, 4 of the place of its names, 1 of the state.
const packedSize = 16 + 16 + 8 + 8 + 4 + 1

// Unpack tells a new book what another knew when it was published: the texts of names in
// their order, all parts, and how many addresses there are. It reports false if that does
// not fit together; the book is of no use then. Moves are told with [Book.AddMoved].
func (b *Book) Unpack(texts []string, parts [][]byte, n int) bool {
	for _, t := range texts {
		b.text(t)
	}
	if len(b.texts) != len(texts) {
		return false
	}
	for _, part := range parts {
		for ; len(part) >= packedSize; part = part[packedSize:] {
			k := known{
				iri: binary.LittleEndian.Uint64(part[32:]), seq: int64(binary.LittleEndian.Uint64(part[40:])),
				names: int32(binary.LittleEndian.Uint32(part[48:])), state: service.State(part[52]),
			}
			copy(k.digest[:], part[16:])
			if k.names < 0 || int(k.names) >= len(texts) {
				return false
			}
			b.add(pathHash(part[:16]), k)
		}
		if len(part) > 0 {
			return false
		}
	}
	return len(b.at) == n && len(b.things) == n
}

// Pack calls f with each part that is not as it was unpacked, and returns the texts of
// names that came after the first of them.
func (b *Book) Pack(f func(part int, packed []byte) error, first int) ([]string, error) {
	var parts [Parts][]byte
	for hash, at := range b.at {
		part := hash[0]
		if !b.dirty[part] {
			continue
		}
		k := &b.things[at]
		p := append(append(parts[part], hash[:]...), k.digest[:]...)
		p = binary.LittleEndian.AppendUint64(p, k.iri)
		p = binary.LittleEndian.AppendUint64(p, uint64(k.seq))
		p = binary.LittleEndian.AppendUint32(p, uint32(k.names))
		parts[part] = append(p, byte(k.state))
	}
	for i := range parts {
		if !b.dirty[i] {
			continue
		}
		rows := slices.Collect(slices.Chunk(parts[i], packedSize))
		slices.SortFunc(rows, bytes.Compare)
		if err := f(i, bytes.Join(rows, nil)); err != nil {
			return nil, err
		}
	}
	return b.texts[first:], nil
}

// Spoil makes Pack take every part for changed.
func (b *Book) Spoil() {
	for i := range b.dirty {
		b.dirty[i] = true
	}
}
