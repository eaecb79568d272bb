package identify

import (
	"math"
	"math/bits"
	"slices"

	"phasetally/refdata"
)

// A sieve tells of a phase, from its strong lines alone, the most that it could gain at any misplacement. Most phases of a
// large collection fail it in a few dozen look-ups, so that few have to be tried.
type sieve struct {
	bar    float64 // gain
	coarse []sheet // all displacements at once
	fine   []sheet // displacements that lie together
}

// A hole is the largest area and the smallest uncertainty that a matched filter shows anywhere within reach of a
// misplacement; u is 0 outside the scan.
type hole struct{ area, u float32 }

func (h hole) or(o hole) hole {
	switch {
	case o.u == 0:
		return h
	case h.u == 0:
		return o
	}
	return hole{max(h.area, o.area), min(h.u, o.u)}
}

// top is the most that a line there may have; no limit outside the scan.
func (h hole) top() float32 {
	if h.u == 0 {
		return math.MaxFloat32
	}
	return max(0, h.area) + 2*h.u
}

// gain is what a line alone can bring, in units and rounded up.
func (h hole) gain(unit float32) uint64 {
	if !(h.area > 0) || h.u == 0 {
		return 0
	}
	z := h.area / h.u
	return uint64(min(127, z*z/unit+1))
}

// merge joins tables mark by mark.
func merge(r ruler, tables []table) []hole {
	merged := make([]hole, r.marks)
	for _, t := range tables {
		for k := range merged {
			if t.u[k] > 0 {
				merged[k] = merged[k].or(hole{t.area[k], t.u[k]})
			}
		}
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
	s := scale{first: math.Float32bits(bottom)>>scaleBits + 1}
	for k := s.first; k < math.Float32bits(float32(math.Exp(r.top)))>>scaleBits; k++ {
		middle := math.Float32frombits(k<<scaleBits | 1<<(scaleBits-1))
		s.marks = append(s.marks, int32(min(r.marks-1, max(0, r.mark(float64(middle))))))
	}
	return s
}

// place returns the step of a spacing; it is not below the number of steps for what lies outside.
func (s *scale) place(d float32) uint32 { return math.Float32bits(d)>>scaleBits - s.first } // too small wraps round

// slack, in marks, is what steps of the scale and lines joined with their neighbours may lie off.
const slack = 2

// A weight is what the strong lines of a phase can bring in a scan.
type weight struct {
	power float32 // sum of squares of intensity over uncertainty
	share float32 // makes the intensities of all lines in the scan sum to wholeShare; 0 when there are none
}

// Intensities are shares of 127 in a sheet, so that they sum up in a byte; absentShare of them may fall short.
const (
	wholeShare  = 127
	absentShare = 31 // absentQuantile of it, rounded down: shares are, too
)

// weights holds the least uncertainty at every step of a scale.
type weights struct {
	scale
	u []float32 // 0 outside the scan
}

func newWeights(r ruler, tables []table, reach int) weights {
	w := weights{scale: newScale(r)}
	wide := widen(merge(r, tables), reach+slack)
	for _, mark := range w.marks {
		w.u = append(w.u, wide[mark].u)
	}
	return w
}

func (w *weights) of(lines []refdata.StrongLine) weight {
	var total, power float32
	for _, l := range lines {
		if k := w.place(l.D); k < uint32(len(w.u)) && w.u[k] > 0 {
			e := l.Intensity / w.u[k]
			power += e * e
			total += l.Intensity
		}
	}
	if !(total > 0) {
		return weight{}
	}
	return weight{power, wholeShare / total}
}

// A sheet tells for eight bands of changes of the cell at once, in the eight bytes of a word, how much a line may have.
type sheet struct {
	scale
	base  uint32
	unit  float32 // of gains: the bar over fullGain
	steps []step
	holes [][bands]hole
}

const (
	bands     = 8
	bandMarks = 8 // of the ruler that a band covers
	eachByte  = 0x0101010101010101
	highBits  = 0x80 * eachByte
	// levelBits are dropped from a float32: 8 levels an octave.
	levelBits = 20
)

// A step has a byte for every band.
type step struct {
	levels uint64  // of the tops, on a logarithmic scale
	gains  uint64  // that a line alone can bring, of fullGain for the bar
	u      float32 // least of all bands; 0 outside the scan
}

// fullGain is what a bar is in a byte.
const fullGain = 100

// newSheet makes the sheet whose bands begin with shifts of lines by first marks.
func newSheet(s scale, merged []hole, base uint32, unit float32, first int) sheet {
	wide := widen(merged, bandMarks/2+slack)
	out := sheet{s, base, unit, make([]step, len(s.marks)), make([][bands]hole, len(s.marks))}
	for k, mark := range s.marks {
		for b := range bands {
			h := &out.holes[k][b]
			if m := int(mark) + first + b*bandMarks + bandMarks/2; m >= 0 && m < len(wide) {
				*h = wide[m]
			}
			out.steps[k].levels |= out.level(h.top()) << (8 * b)
			out.steps[k].gains |= h.gain(unit) << (8 * b)
			if h.u > 0 && !(h.u >= out.steps[k].u && out.steps[k].u > 0) {
				out.steps[k].u = h.u
			}
		}
	}
	return out
}

// level is monotonic and below 128.
func (s *sheet) level(v float32) uint64 {
	return uint64(min(127, max(0, int64(math.Float32bits(v)>>levelBits)-int64(s.base))))
}

// allows returns the bands in which all but absentQuantile of the intensity allows a scale; each sets the highest bit of its
// byte.
func (s *sheet) allows(lines []refdata.StrongLine, least, share float32) uint64 {
	var absent uint64
	alive := uint64(highBits)
	for _, l := range lines {
		k := s.place(l.D)
		if k >= uint32(len(s.steps)) {
			continue
		}
		short := ^((s.steps[k].levels | highBits) - s.level(least*l.Intensity)*eachByte) & highBits
		absent += short >> 7 * uint64(share*l.Intensity)
		if alive = ((highBits | absentShare*eachByte) - absent) & highBits; alive == 0 { // no sum exceeds wholeShare
			return 0
		}
	}
	return alive
}

// repays returns the bands in which lines of at most a scale can gain the bar together.
func (s *sheet) repays(lines []refdata.StrongLine, most float32) uint64 {
	var sum uint64
	for _, l := range lines {
		k := s.place(l.D)
		if k >= uint32(len(s.steps)) || s.steps[k].u == 0 {
			continue
		}
		e := most * l.Intensity / s.steps[k].u
		limit := uint64(min(127, e*e/s.unit+1)) * eachByte
		gains := s.steps[k].gains
		within := ((limit | highBits) - gains) & highBits
		within -= within >> 7                         // 127 where the limit is not reached
		sum += gains&within | limit&^within&^highBits // at most 254 a byte
		over := sum & highBits                        // more than 127 counts as 127
		sum = (sum | (over - over>>7)) &^ highBits
	}
	return (sum + (128-fullGain)*eachByte) & highBits
}

// gain returns the most that a phase gains in a band.
func (s *sheet) gain(lines []refdata.StrongLine, band int) float64 {
	var room [mostSticks]observed
	seen := room[:0]
	for _, l := range lines {
		if k := s.place(l.D); k < uint32(len(s.holes)) {
			if h := s.holes[k][band]; h.u > 0 {
				seen = append(seen, observed{float64(l.Intensity) / 100, float64(h.area), float64(h.u)})
			}
		}
	}
	return weigh(seen).gain
}

// meshTables is how many displacements share a sheet.
const meshTables = 3

// newSieve makes the sieve for changes of the cell by up to a reach and gains above a bar.
func newSieve(r ruler, tables []table, reach, bar float64) sieve {
	scale := newScale(r)
	marks := min(mostMarks, reachMarks(reach))
	least := float32(math.MaxFloat32)
	for _, h := range merge(r, tables) {
		least = min(least, h.top())
	}
	base := math.Float32bits(least) >> levelBits
	sheets := func(tables []table) (list []sheet) {
		merged := merge(r, tables)
		for first := -marks; first < marks; first += bands * bandMarks {
			list = append(list, newSheet(scale, merged, base, float32(bar)/fullGain, first))
		}
		return list
	}
	out := sieve{bar: bar, coarse: sheets(tables)}
	if len(tables) == 1 {
		out.fine = out.coarse
		return out
	}
	for k := 0; k < len(tables); k += meshTables {
		out.fine = append(out.fine, sheets(tables[k:min(k+meshTables, len(tables))])...)
	}
	return out
}

// least returns the scale that it takes to gain more than a bar.
func (w weight) least(bar float64) float32 {
	return float32(math.Sqrt(bar/float64(w.power))) * (1 - lineTolerance)
}

// promise returns the most that a phase could gain, to a factor of 2, or 0 when that is below the bar of the sieve.
func (s *sieve) promise(lines []refdata.StrongLine, w weight) float64 {
	least := w.least(s.bar)
	if !(w.share > 0) || !allowed(s.coarse, lines, least, w.share) {
		return 0
	}
	climbed := 0
	for i := range s.fine {
		sheet := &s.fine[i]
		if sheet.allows(lines, least, w.share) == 0 {
			continue
		}
		rungs, most := sheet.climb(lines, least, w.share)
		if climbed+rungs > fewRungs || sheet.repays(lines, most) != 0 {
			climbed += rungs
			least *= float32(math.Pow(math.Sqrt2, float64(rungs))) // others must come farther
		}
	}
	if climbed == 0 {
		return 0
	}
	return math.Ldexp(s.bar, climbed)
}

// Each rung doubles the gain that is asked for. Phases that climb no more than fewRungs must show that they repay.
const mostRungs, fewRungs = 60, 6

// climb returns how often the gain can be doubled until no band allows it, and a scale that none allows.
func (s *sheet) climb(lines []refdata.StrongLine, least, share float32) (rungs int, most float32) {
	rungs, most = 1, least*math.Sqrt2
	for rungs < mostRungs && s.allows(lines, most, share) != 0 {
		rungs++
		most *= math.Sqrt2
	}
	const half, quarter = 0.8408964, 0.9170040 // a fourth and an eighth of an octave down
	for _, down := range []float32{half, quarter} {
		if s.allows(lines, most*down, share) == 0 {
			most *= down
		}
	}
	return rungs, most
}

func allowed(sheets []sheet, lines []refdata.StrongLine, least, share float32) bool {
	for i := range sheets {
		if sheets[i].allows(lines, least, share) != 0 {
			return true
		}
	}
	return false
}

// gain returns the most that a phase could gain, or 0 when that is below a bar.
func (s *sieve) gain(lines []refdata.StrongLine, w weight, bar float64) float64 {
	best := 0.0
	for i := range s.fine {
		for alive := s.fine[i].allows(lines, w.least(bar), w.share); alive != 0; alive &= alive - 1 {
			best = math.Max(best, s.fine[i].gain(lines, bits.TrailingZeros64(alive)/8))
		}
	}
	return best
}
