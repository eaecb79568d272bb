package library

import (
	"encoding/binary"
	"errors"
	"math"

	"phasetally/refdata"
)

// errPack says that a packed blob is damaged.
var errPack = errors.New("the packed entries are damaged; build the library again")

// packSize is how many entries share a blob: large enough to load fast, small enough to decode on all cores.
const packSize = 4096

// packEntry packs an entry: four texts with their lengths, elements, flags, strong lines. In a blob each follows the row of
// its phase.
func packEntry(e refdata.Entry) []byte {
	var b []byte
	for _, text := range []string{e.ID, e.Name, e.Formula, e.Preparation} {
		b = binary.AppendUvarint(b, uint64(len(text)))
		b = append(b, text...)
	}
	b = binary.LittleEndian.AppendUint64(b, e.Elements[0])
	b = binary.LittleEndian.AppendUint64(b, e.Elements[1])
	flags := byte(len(e.Strong) << 1)
	if e.Soluble {
		flags |= 1
	}
	b = append(b, flags)
	for _, s := range e.Strong {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(s.D))
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(s.Intensity))
	}
	return b
}

// minEntry is the least an entry takes, which bounds how many a blob can hold.
const minEntry = 1 + 4 + 16 + 1

// An unpacker reads a blob; after the first damage everything is zero and damaged is set.
type unpacker struct {
	rest    string
	damaged bool
}

// unpack fills entries and rows, equally long. Texts point into the blob, so that they cost no memory of their own.
func unpack(blob string, entries []refdata.Entry, rows []int64) error {
	u := unpacker{rest: blob}
	lines := make([]refdata.StrongLine, 0, 12*len(entries)) // common length; a few more cost a copy
	for i := range entries {
		rows[i] = int64(u.uvarint())
		e := refdata.Entry{ID: u.text(), Name: u.text(), Formula: u.text(), Preparation: u.text()}
		e.Elements = refdata.ElementSet{u.uint64(), u.uint64()}
		flags := u.take(1)
		if u.damaged {
			return errPack
		}
		e.Soluble = flags[0]&1 == 1
		first := len(lines)
		for range flags[0] >> 1 {
			lines = append(lines, refdata.StrongLine{D: u.float32(), Intensity: u.float32()})
		}
		e.Strong = lines[first:len(lines):len(lines)]
		entries[i] = e
	}
	if u.damaged || u.rest != "" {
		return errPack
	}
	return nil
}

// zeros stands in for what a damaged blob lacks.
const zeros = "\x00\x00\x00\x00\x00\x00\x00\x00"

func (u *unpacker) take(n int) string {
	if u.damaged || n > len(u.rest) {
		u.damaged = true
		return zeros[:min(n, len(zeros))]
	}
	s := u.rest[:n]
	u.rest = u.rest[n:]
	return s
}

func (u *unpacker) uvarint() uint64 {
	var v uint64
	for shift := 0; shift < 63; shift += 7 {
		c := u.take(1)[0]
		v |= uint64(c&0x7f) << shift
		if c < 0x80 {
			return v
		}
	}
	u.damaged = true
	return 0
}

func (u *unpacker) text() string {
	n := u.uvarint()
	if n > uint64(len(u.rest)) {
		u.damaged = true
		return ""
	}
	return u.take(int(n))
}

func (u *unpacker) uint64() uint64 {
	s := u.take(8)
	return uint64(u.word(s)) | uint64(u.word(s[4:]))<<32
}

func (u *unpacker) float32() float32 { return math.Float32frombits(u.word(u.take(4))) }

func (u *unpacker) word(s string) uint32 {
	return uint32(s[0]) | uint32(s[1])<<8 | uint32(s[2])<<16 | uint32(s[3])<<24
}
