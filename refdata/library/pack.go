package library

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"

	"phasetally/refdata"
)

// errPack says that a packed blob is damaged.
var errPack = errors.New("the packed entries are damaged; build the library again")

// packSize is how many entries share a blob, but for the last: large enough to load fast, small enough to decode on all
// cores.
const packSize = 4096

// A pack holds entries in columns. An entry has no pointer of its own there, so that a large library costs the garbage
// collector nothing.
type pack struct {
	rows     []uint32 // of table phase
	elements []refdata.ElementSet
	soluble  []bool
	first    []uint32 // of the strong lines of each entry, and their end
	lines    []refdata.StrongLine
	at       []uint32 // where the texts of each entry begin
	texts    string   // id, name, formula, preparation, each after its length
}

func (p *pack) len() int { return len(p.rows) }

// A packer makes the blob of a pack.
type packer struct {
	rows                                            uint32
	row, elements, flags, spacings, intensity, text []byte
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
	if e.Soluble {
		flags |= 1
	}
	p.flags = append(p.flags, flags)
	for _, l := range strong {
		share := math.Min(1, math.Max(0, float64(l.Intensity)/100))
		p.spacings = binary.LittleEndian.AppendUint32(p.spacings, math.Float32bits(l.D))
		p.intensity = binary.LittleEndian.AppendUint16(p.intensity, uint16(math.Round(intensitySteps*share)))
	}
	for _, text := range []string{e.ID, e.Name, e.Formula, e.Preparation} {
		p.text = append(binary.AppendUvarint(p.text, uint64(len(text))), text...)
	}
}

// blob returns the columns one after the other.
func (p *packer) blob() []byte {
	head := binary.LittleEndian.AppendUint32(nil, p.rows)
	return slices.Concat(head, p.row, p.elements, p.flags, p.spacings, p.intensity, p.text)
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
	p := pack{rows: make([]uint32, n), elements: make([]refdata.ElementSet, n), soluble: make([]bool, n), first: make([]uint32, n+1), at: make([]uint32, n)}
	for k, rows := 0, r.take(4*n); k < n; k++ {
		p.rows[k] = binary.LittleEndian.Uint32(rows[4*k:])
	}
	for k, sets := 0, r.take(16*n); k < n; k++ {
		p.elements[k] = refdata.ElementSet{binary.LittleEndian.Uint64(sets[16*k:]), binary.LittleEndian.Uint64(sets[16*k+8:])}
	}
	for k, flags := range r.take(n) {
		p.soluble[k] = flags&1 == 1
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
	p.texts = string(r.rest)
	return p, p.findTexts()
}

// minEntry is the least an entry takes, which bounds how many a blob can hold.
const minEntry = 4 + 16 + 1 + 4

// findTexts finds where the texts of each entry begin.
func (p *pack) findTexts() error {
	offset := 0
	for k := range p.at {
		p.at[k] = uint32(offset)
		for range 4 {
			_, end := textAt(p.texts, offset)
			if end < 0 {
				return errPack
			}
			offset = end
		}
	}
	if offset != len(p.texts) {
		return errPack
	}
	return nil
}

// textAt returns a text and where the next begins; -1 when there is none.
func textAt(texts string, offset int) (text string, end int) {
	var n uint64
	for shift := 0; ; shift += 7 {
		if offset >= len(texts) || shift > 56 {
			return "", -1
		}
		c := texts[offset]
		offset++
		n |= uint64(c&0x7f) << shift
		if c < 0x80 {
			break
		}
	}
	if n > uint64(len(texts)-offset) {
		return "", -1
	}
	return texts[offset : offset+int(n)], offset + int(n)
}

func (p *pack) id(k int) string {
	text, _ := textAt(p.texts, int(p.at[k]))
	return text
}

// entry returns an entry whose texts and lines are parts of the pack.
func (p *pack) entry(k int) refdata.Entry {
	lo, hi := p.first[k], p.first[k+1]
	e := refdata.Entry{Elements: p.elements[k], Strong: p.lines[lo:hi:hi], Soluble: p.soluble[k]}
	offset := int(p.at[k])
	for _, text := range []*string{&e.ID, &e.Name, &e.Formula, &e.Preparation} {
		*text, offset = textAt(p.texts, offset)
	}
	return e
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
