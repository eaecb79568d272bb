package library

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
)

// errPack says that a packed blob is damaged.
var errPack = fmt.Errorf("%w: the packed entries", ErrDamaged)

// packSize is how many entries share a blob, but for the last: large enough to load fast, small enough to decode on all
// cores.
const packSize = 4096

// A pack holds entries in columns. An entry has no pointer of its own there, so that a large library costs the garbage
// collector nothing.
type pack struct {
	rows          []uint32 // of table phase
	elements      []refdata.ElementSet
	solidSolution []bool
	first         []uint32 // of the strong lines of each entry, and their end
	lines         []refdata.StrongLine
	lengths       [][textsEach]uint16 // of the texts of each entry: id, name, formula, preparation
	at            []uint32            // where they begin
	texts         string
}

const (
	textsEach = 4
	maxText   = math.MaxUint16 // bytes; a longer text is cut off
)

func (p *pack) len() int { return len(p.rows) }

// A packer makes the blob of a pack.
type packer struct {
	rows                                                     uint32
	row, elements, flags, spacings, intensity, lengths, text []byte
}

// maxLines is how many strong lines the byte of an entry's flags can count.
const maxLines = 127

// intensitySteps is how finely a pack tells intensities apart: to 0.002 % of the strongest line, which keeps the digits that
// tables give.
const intensitySteps = 50000

// add appends an entry; more than maxLines lines are cut off.
func (p *packer) add(row uint32, e refdata.Entry) {
	p.rows++
	p.row = binary.LittleEndian.AppendUint32(p.row, row)
	p.elements = binary.LittleEndian.AppendUint64(p.elements, e.Elements[0])
	p.elements = binary.LittleEndian.AppendUint64(p.elements, e.Elements[1])
	strong := e.Strong[:min(maxLines, len(e.Strong))]
	flags := byte(len(strong)) << 1
	if e.SolidSolution {
		flags |= 1
	}
	p.flags = append(p.flags, flags)
	for _, l := range strong {
		share := math.Min(1, math.Max(0, float64(l.Intensity)/100))
		p.spacings = binary.LittleEndian.AppendUint32(p.spacings, math.Float32bits(l.D))
		p.intensity = binary.LittleEndian.AppendUint16(p.intensity, uint16(math.Round(intensitySteps*share)))
	}
	for _, text := range []string{e.ID, e.Name, e.Formula, e.Preparation} {
		text = text[:min(maxText, len(text))]
		p.lengths = binary.LittleEndian.AppendUint16(p.lengths, uint16(len(text)))
		p.text = append(p.text, text...)
	}
}

// blob returns the columns one after the other.
func (p *packer) blob() []byte {
	head := binary.LittleEndian.AppendUint32(nil, p.rows)
	return slices.Concat(head, p.row, p.elements, p.flags, p.spacings, p.intensity, p.lengths, p.text)
}

// packEntry packs an entry by itself.
func packEntry(e refdata.Entry) []byte {
	var p packer
	p.add(0, e)
	return p.blob()
}

// decodePack reads a blob; it returns errPack for anything else.
func decodePack(blob []byte) (pack, error) {
	r := reader{rest: blob}
	n := int(r.uint32())
	if n > len(r.rest)/minEntry {
		return pack{}, errPack
	}
	p := pack{rows: make([]uint32, n), elements: make([]refdata.ElementSet, n), solidSolution: make([]bool, n), first: make([]uint32, n+1),
		lengths: make([][textsEach]uint16, n), at: make([]uint32, n)}
	for k, rows := 0, r.take(4*n); k < n; k++ {
		p.rows[k] = binary.LittleEndian.Uint32(rows[4*k:])
	}
	for k, sets := 0, r.take(16*n); k < n; k++ {
		p.elements[k] = refdata.ElementSet{binary.LittleEndian.Uint64(sets[16*k:]), binary.LittleEndian.Uint64(sets[16*k+8:])}
	}
	for k, flags := range r.take(n) {
		p.solidSolution[k] = flags&1 == 1
		p.first[k+1] = p.first[k] + uint32(flags>>1)
	}
	total := int(p.first[n])
	spacings, intensities := r.take(4*total), r.take(2*total)
	if r.damaged {
		return pack{}, errPack
	}
	p.lines = make([]refdata.StrongLine, total)
	for k := range p.lines {
		p.lines[k].D = math.Float32frombits(binary.LittleEndian.Uint32(spacings[4*k:]))
		p.lines[k].Intensity = float32(binary.LittleEndian.Uint16(intensities[2*k:])) / (intensitySteps / 100)
	}
	return p, p.decodeTexts(&r)
}

// minEntry is the least an entry takes, which bounds how many a blob can hold.
const minEntry = 4 + 16 + 1 + 2*textsEach

// decodeTexts takes the lengths and all that follows.
func (p *pack) decodeTexts(r *reader) error {
	column, offset := r.take(2*textsEach*len(p.at)), 0
	p.texts = string(r.rest)
	for k := range p.at {
		p.at[k] = uint32(offset)
		for j := range textsEach {
			n := binary.LittleEndian.Uint16(column[2*(textsEach*k+j):])
			p.lengths[k][j] = n
			offset += int(n)
		}
	}
	if r.damaged || offset != len(p.texts) {
		return errPack
	}
	return nil
}

func (p *pack) id(k int) string { return p.texts[p.at[k]:][:p.lengths[k][0]] }

// entry returns an entry whose texts and lines are parts of the pack.
func (p *pack) entry(k int) refdata.Entry {
	lo, hi := p.first[k], p.first[k+1]
	rest, n := p.texts[p.at[k]:], &p.lengths[k]
	next := func(n uint16) (text string) {
		text, rest = rest[:n], rest[n:]
		return text
	}
	return refdata.Entry{ID: next(n[0]), Name: next(n[1]), Formula: next(n[2]), Preparation: next(n[3]), Elements: p.elements[k],
		Strong: p.lines[lo:hi:hi], SolidSolution: p.solidSolution[k]}
}

// A reader takes pieces off a blob; after the first damage there are none and damaged is set.
type reader struct {
	rest    []byte
	damaged bool
}

func (r *reader) take(n int) []byte {
	if r.damaged || n > len(r.rest) {
		r.damaged = true
		return make([]byte, n)
	}
	piece := r.rest[:n]
	r.rest = r.rest[n:]
	return piece
}

func (r *reader) uint32() uint32 { return binary.LittleEndian.Uint32(r.take(4)) }
