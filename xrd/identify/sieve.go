package identify

import (
	"math"
	"slices"

	"phasetally/refdata"
)

// A sieve tells from the strong lines of a phase alone whether it could gain a bar at any misplacement. Most phases of a large
// collection fail it in a dozen look-ups, so that few have to be tried. None that could gain the bar fails, but for lines so
// close that trials take them as one at a place between them.
type sieve struct {
	scale
	base   uint32    // of levels
	bar    float32   // gain
	sharp  []float32 // one over the least uncertainty within reach, at every step of the scale; 0 outside the scan
	sheets []sheet   // that together reach as far as the cell may be changed
}

// A hole is the most that a matched filter shows anywhere within reach of a misplacement.
type hole struct {
	z   float32 // area over uncertainty
	top float32 // of what a line may have: the area, if there is any, and two uncertainties
	u   float32 // least uncertainty; 0 where all is outside the scan
}

// outside asks nothing of a line and gives it nothing.
var outside = hole{top: math.MaxFloat32}

func (h hole) or(o hole) hole {
	u := min(h.u, o.u)
	if u == 0 {
		u = max(h.u, o.u)
	}
	return hole{max(h.z, o.z), max(h.top, o.top), u}
}

func (t table) hole(mark int) hole {
	a, u := t.area[mark], t.u[mark]
	if u == 0 {
		return outside
	}
	return hole{max(0, a/u), max(0, a) + 2*u, u}
}

// merge joins tables mark by mark, from margin before the first mark of a ruler to margin behind the last.
func merge(r ruler, tables []table) []hole {
	merged := slices.Repeat([]hole{outside}, r.marks+2*margin)
	for k := range r.marks {
		h := tables[0].hole(k)
		for _, t := range tables[1:] {
			h = h.or(t.hole(k))
		}
		merged[k+margin] = h
	}
	return merged
}

// widen merges each hole with those up to reach away, in steps that double what is merged.
func widen(h []hole, reach int) []hole {
	window := 2*reach + 1
	out := slices.Clone(h)
	covered := 1
	for covered < window {
		step := min(covered, window-covered)
		for k := 0; k+step < len(out); k++ {
			out[k] = out[k].or(out[k+step])
		}
		covered += step
	}
	centred := make([]hole, len(h)) // out[k] holds k … k+window−1
	for k := range centred {
		centred[k] = out[max(0, k-reach)]
	}
	return centred
}

// A scale finds the place of a spacing among steps that follow the leading bits of a float32.
type scale struct {
	first uint32
	marks []int32 // of the ruler, in the middle of each step
}

// scaleBits are dropped from a float32: 2048 steps an octave.
const scaleBits = 12

func newScale(r ruler) scale {
	bottom := float32(math.Exp(r.top - float64(r.marks-1)*rulerStep))
	s := scale{first: math.Float32bits(bottom) >> scaleBits}
	for k := s.first; k <= math.Float32bits(float32(math.Exp(r.top)))>>scaleBits; k++ {
		middle := math.Float32frombits(k<<scaleBits | 1<<(scaleBits-1))
		s.marks = append(s.marks, int32(min(r.marks-1, max(0, r.mark(float64(middle))))))
	}
	return s
}

// place returns the step of a spacing; it is not below the number of steps for what lies outside.
func (s *scale) place(d float32) uint32 { return math.Float32bits(d)>>scaleBits - s.first } // too small wraps round

const (
	bands     = 8 // changes of the cell that a sheet holds, one in each byte of a word
	bandMarks = 8 // of the ruler that a band covers
	// slack, in marks, is what steps of the scale and lines joined with their neighbours may lie off.
	slack = 2
	// margin is how far, in marks, lines may be looked for beyond a ruler.
	margin = mostMarks + bands*bandMarks

	eachByte = 0x0101010101010101
	highBits = 0x80 * eachByte
	// levelBits are dropped from a float32: 8 levels an octave.
	levelBits = 20
	// fullGain is what the bar is in a byte.
	fullGain = 100
	// Intensities are shares of wholeShare, so that they sum up in a byte; absentShare of them may fall short.
	wholeShare  = 127
	absentShare = 31 // absentQuantile of it, rounded down: shares are, too
)

// A sheet tells for neighbouring bands, at the steps of a scale, the most that a line may have and bring.
type sheet struct {
	first  int      // shift of lines, in marks, in the middle of the first band
	levels []uint64 // of the tops, on a logarithmic scale
	gains  []uint64 // that a line alone can bring, of fullGain for the bar, rounded up
}

// inBands returns at every mark the bytes of the eight holes from there on at the distance of a band.
func inBands(holes []hole, of func(hole) uint64) []uint64 {
	out := make([]uint64, len(holes))
	for m := len(out) - 1; m >= 0; m-- {
		next := of(outside) * eachByte
		if m+bandMarks < len(out) {
			next = out[m+bandMarks]
		}
		out[m] = next<<8 | of(holes[m])
	}
	return out
}

// at returns words at the steps of a scale when lines are shifted.
func (s *scale) at(words []uint64, shift int) []uint64 {
	out := make([]uint64, len(s.marks))
	for k, mark := range s.marks {
		out[k] = words[int(mark)+margin+shift]
	}
	return out
}

// level is monotonic and below 128.
func level(v float32, base uint32) uint64 {
	return uint64(min(127, max(0, int64(math.Float32bits(v)>>levelBits)-int64(base))))
}

// sieves are those for phases of narrow and of wide reach.
type sieves struct {
	holes []hole // within half a band of every mark
	of    [2]sieve
}

func newSieves(r ruler, tables []table) *sieves {
	holes := merge(r, tables)
	least := outside.top
	for _, h := range holes {
		least = min(least, h.top)
	}
	base := math.Float32bits(least) >> levelBits
	out := &sieves{holes: widen(holes, bandMarks/2+slack)}
	levels := inBands(out.holes, func(h hole) uint64 { return level(h.top, base) })
	for i, reach := range []float64{narrowReach, wideReach} {
		marks := min(mostMarks, reachMarks(reach))
		s := sieve{scale: r.steps, base: base, sharp: make([]float32, len(r.steps.marks))}
		wide := widen(holes, marks+slack)
		for k, mark := range s.marks {
			if u := wide[mark+margin].u; u > 0 {
				s.sharp[k] = 1 / u
			}
		}
		for first := bandMarks/2 - marks; first < marks; first += bands * bandMarks {
			s.sheets = append(s.sheets, sheet{first: first, levels: s.at(levels, first)})
		}
		out.of[i] = s
	}
	return out
}

// raise makes the sieves for gains above a bar.
func (s *sieves) raise(bar float64) {
	unit := float32(bar / fullGain)
	gains := inBands(s.holes, func(h hole) uint64 {
		if h.z == 0 {
			return 0
		}
		return uint64(min(127, h.z*h.z/unit+1))
	})
	for i := range s.of {
		of := &s.of[i]
		of.bar = float32(bar)
		for k := range of.sheets {
			of.sheets[k].gains = of.at(gains, of.sheets[k].first)
		}
	}
}

// A spot is a line as a sieve sees it.
type spot struct {
	step      uint32
	intensity float32
	share     uint64  // of wholeShare, rounded down
	gain      float32 // of fullGain, when all lines together have that
}

// joined is how much more lines can gain when trials join them: two of the same intensity twice.
const joined = 2

// spots returns the lines that may be in the scan, and the least scale with which they can gain the bar.
func (s *sieve) spots(lines []refdata.StrongLine, room []spot) (list []spot, least float32) {
	var total, power float32
	list = room
	for _, l := range lines {
		if k := s.place(l.D); k < uint32(len(s.sharp)) && s.sharp[k] > 0 {
			e := l.Intensity * s.sharp[k]
			power += e * e
			total += l.Intensity
			list = append(list, spot{k, l.Intensity, 0, e * e})
		}
	}
	for k := range list {
		list[k].share = uint64(wholeShare / total * list[k].intensity)
		list[k].gain *= fullGain / power
	}
	return list, float32(math.Sqrt(float64(s.bar / (joined * power))))
}

// passes reports whether a phase may gain the bar.
func (s *sieve) passes(lines []refdata.StrongLine) bool {
	var room [mostSticks]spot
	var spots []spot
	var least float32
	for i := range s.sheets {
		t := &s.sheets[i]
		among := s.promises(t, lines)
		if among == 0 {
			continue
		}
		if spots == nil {
			spots, least = s.spots(lines, room[:0])
		}
		if s.lets(t, among, spots, least) {
			return true
		}
	}
	return false
}

// promises returns the bands in which lines can gain the bar if no scale bounds them; each sets the highest bit of its byte.
func (s *sieve) promises(t *sheet, lines []refdata.StrongLine) uint64 {
	var sum sums
	for i := range lines {
		if k := s.place(lines[i].D); k < uint32(len(t.gains)) {
			sum.add(t.gains[k])
		}
	}
	return sum.enough()
}

// sums are those of the bytes of words, in two bytes each.
type sums struct{ even, odd uint64 }

const eachPair = 0x0001000100010001

func (s *sums) add(word uint64) {
	s.even += word & (0xff * eachPair)
	s.odd += word >> 8 & (0xff * eachPair)
}

// enough sets the highest bits of the bytes whose sums are at least fullGain; no sum may exceed 32767.
func (s sums) enough() uint64 {
	const short, high = (1<<15 - fullGain) * eachPair, 1 << 15 * eachPair
	return (s.odd+short)&high | (s.even+short)&high>>8
}

// lets reports whether there is a band among some, and a scale, that most lines allow and with which they gain the bar. Scales
// are tried in rungs, each of twice the gain of the one before.
func (s *sieve) lets(t *sheet, among uint64, spots []spot, least float32) bool {
	for rung := 0; among != 0 && rung < mostRungs; rung++ {
		among &= s.allows(t, spots, least)
		least *= math.Sqrt2
		if among != 0 && among&t.repays(spots, float32(int(2)<<rung)) != 0 {
			return true
		}
	}
	return among != 0
}

// mostRungs is after how many rungs even the weakest lines may have their full gain.
const mostRungs = 8

// allows returns the bands in which all but absentQuantile of the intensity allows a scale.
func (s *sieve) allows(t *sheet, spots []spot, scale float32) uint64 {
	var absent uint64
	alive := uint64(highBits)
	for i := range spots {
		l := &spots[i]
		want := level((1-lineTolerance)*scale*l.intensity, s.base) * eachByte
		short := ^((t.levels[l.step] | highBits) - want) & highBits
		absent += short >> 7 * l.share
		if alive = ((highBits | absentShare*eachByte) - absent) & highBits; alive == 0 { // no sum exceeds wholeShare
			return 0
		}
	}
	return alive
}

// repays returns the bands in which lines gain the bar when each gains no more than a multiple of its own gain.
func (t *sheet) repays(spots []spot, times float32) uint64 {
	var sum sums
	for i := range spots {
		l := &spots[i]
		limit := uint64(min(127, times*l.gain+1)) * eachByte
		gains := t.gains[l.step]
		within := ((limit | highBits) - gains) & highBits
		within -= within >> 7 // 127 where the limit is not reached
		sum.add(gains&within | limit&^within&^highBits)
	}
	return sum.enough()
}
