package screen

import (
	"math"
	"slices"

	"phasetally/refdata"
)

// A bound tells from the strong lines of a phase alone whether it could gain as much as is asked for at any misplacement. Most phases of a large
// collection fail it in a dozen look-ups, so that few have to be tried. None that could gain enough fails, but for lines so
// close that trials take them as one at a place between them.
type bound struct {
	scale
	base   uint32    // of levels
	enough float32   // gain that is asked for
	sharp  []float32 // one over the least uncertainty within reach, at every step of the scale; 0 outside the scan
	groups []group   // that together reach as far as the cell may be changed
}

// An extreme is the most that a matched filter shows anywhere within reach of a misplacement.
type extreme struct {
	z   float32 // area over uncertainty
	top float32 // of what a line may have: the area, if there is any, and two uncertainties
	u   float32 // least uncertainty; 0 where all is outside the scan
}

// outside asks nothing of a line and gives it nothing.
var outside = extreme{top: math.MaxFloat32}

func (h extreme) or(o extreme) extreme {
	u := min(h.u, o.u)
	if u == 0 {
		u = max(h.u, o.u)
	}
	return extreme{max(h.z, o.z), max(h.top, o.top), u}
}

func (t table) extreme(bin int) extreme {
	a, u := t.area[bin], t.u[bin]
	if u == 0 {
		return outside
	}
	return extreme{max(0, a/u), max(0, a) + 2*u, u}
}

// merge joins tables bin by bin, from margin before the first bin of a grid to margin behind the last.
func merge(r logGrid, tables []table) []extreme {
	merged := slices.Repeat([]extreme{outside}, r.bins+2*margin)
	for k := range r.bins {
		h := tables[0].extreme(k)
		for _, t := range tables[1:] {
			h = h.or(t.extreme(k))
		}
		merged[k+margin] = h
	}
	return merged
}

// widen merges each extreme with those up to reach away, in steps that double what is merged.
func widen(h []extreme, reach int) []extreme {
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
	centred := make([]extreme, len(h)) // out[k] holds k … k+window−1
	for k := range centred {
		centred[k] = out[max(0, k-reach)]
	}
	return centred
}

// A scale finds the place of a spacing among steps that follow the leading bits of a float32.
type scale struct {
	first uint32
	bins  []int32 // of the grid, in the middle of each step
}

// scaleBits are dropped from a float32: 2048 steps an octave.
const scaleBits = 12

func newIndex(r logGrid) scale {
	bottom := float32(math.Exp(r.top - float64(r.bins-1)*binWidth))
	s := scale{first: math.Float32bits(bottom) >> scaleBits}
	for k := s.first; k <= math.Float32bits(float32(math.Exp(r.top)))>>scaleBits; k++ {
		middle := math.Float32frombits(k<<scaleBits | 1<<(scaleBits-1))
		s.bins = append(s.bins, int32(min(r.bins-1, max(0, r.bin(float64(middle))))))
	}
	return s
}

// place returns the step of a spacing; it is not below the number of steps for what lies outside.
func (s *scale) place(d float32) uint32 { return math.Float32bits(d)>>scaleBits - s.first } // too small wraps round

const (
	bands    = 8 // changes of the cell that a group holds, one in each byte of a word
	bandBins = 8 // of the grid that a band covers
	// slack, in bins, is what steps of the scale and lines joined with their neighbours may lie off.
	slack = 2
	// margin is how far, in bins, lines may be looked for beyond a grid.
	margin = mostBins + bands*bandBins

	eachByte = 0x0101010101010101
	highBits = 0x80 * eachByte
	// levelBits are dropped from a float32: 8 levels an octave.
	levelBits = 20
	// fullGain is what is enough, in a byte.
	fullGain = 100
	// Intensities are shares of wholeShare, so that they sum up in a byte; absentShare of them may fall short.
	wholeShare  = 127
	absentShare = 31 // absentQuantile of it, rounded down: shares are, too
)

// A group tells for neighbouring bands, at the steps of a scale, the most that a line may have and bring.
type group struct {
	first  int      // shift of lines, in bins, in the middle of the first band
	levels []uint64 // of the tops, on a logarithmic scale
	gains  []uint64 // that a line alone can bring, of fullGain for enough, rounded up
}

// inBands returns at every bin the bytes of the eight extremes from there on at the distance of a band.
func inBands(extremes []extreme, of func(extreme) uint64) []uint64 {
	out := make([]uint64, len(extremes))
	for m := len(out) - 1; m >= 0; m-- {
		next := of(outside) * eachByte
		if m+bandBins < len(out) {
			next = out[m+bandBins]
		}
		out[m] = next<<8 | of(extremes[m])
	}
	return out
}

// at returns words at the steps of a scale when lines are shifted.
func (s *scale) at(words []uint64, shift int) []uint64 {
	out := make([]uint64, len(s.bins))
	for k, bin := range s.bins {
		out[k] = words[int(bin)+margin+shift]
	}
	return out
}

// level is monotonic and below 128.
func level(v float32, base uint32) uint64 {
	return uint64(min(127, max(0, int64(math.Float32bits(v)>>levelBits)-int64(base))))
}

// bounds are those for phases of narrow and of wide reach.
type bounds struct {
	extremes []extreme // within half a band of every bin
	of       [2]bound
}

func newBounds(r logGrid, tables []table) *bounds {
	extremes := merge(r, tables)
	least := outside.top
	for _, h := range extremes {
		least = min(least, h.top)
	}
	base := math.Float32bits(least) >> levelBits
	out := &bounds{extremes: widen(extremes, bandBins/2+slack)}
	levels := inBands(out.extremes, func(h extreme) uint64 { return level(h.top, base) })
	for i, reach := range []float64{NarrowReach, WideReach} {
		bins := min(mostBins, reachBins(reach))
		s := bound{scale: r.steps, base: base, sharp: make([]float32, len(r.steps.bins))}
		wide := widen(extremes, bins+slack)
		for k, bin := range s.bins {
			if u := wide[bin+margin].u; u > 0 {
				s.sharp[k] = 1 / u
			}
		}
		for first := bandBins/2 - bins; first < bins; first += bands * bandBins {
			s.groups = append(s.groups, group{first: first, levels: s.at(levels, first)})
		}
		out.of[i] = s
	}
	return out
}

// ask makes the bounds for gains of at least so much.
func (s *bounds) ask(least float64) {
	unit := float32(least / fullGain)
	gains := inBands(s.extremes, func(h extreme) uint64 {
		if h.z == 0 {
			return 0
		}
		return uint64(min(127, h.z*h.z/unit+1))
	})
	for i := range s.of {
		of := &s.of[i]
		of.enough = float32(least)
		for k := range of.groups {
			of.groups[k].gains = of.at(gains, of.groups[k].first)
		}
	}
}

// A weight is a line as a bound sees it.
type weight struct {
	step      uint32
	intensity float32
	share     uint64  // of wholeShare, rounded down
	gain      float32 // of fullGain, when all lines together have that
}

// joined is how much more lines can gain when trials join them: two of the same intensity twice.
const joined = 2

// weights returns the lines that may be in the scan, and the least scale with which they can gain enough.
func (s *bound) weights(lines []refdata.StrongLine, buffer []weight) (list []weight, least float32) {
	var total, power float32
	list = buffer
	for _, l := range lines {
		if k := s.place(l.D); k < uint32(len(s.sharp)) && s.sharp[k] > 0 {
			e := l.Intensity * s.sharp[k]
			power += e * e
			total += l.Intensity
			list = append(list, weight{k, l.Intensity, 0, e * e})
		}
	}
	for k := range list {
		list[k].share = uint64(wholeShare / total * list[k].intensity)
		list[k].gain *= fullGain / power
	}
	return list, float32(math.Sqrt(float64(s.enough / (joined * power))))
}

// mayGain reports whether a phase may gain enough.
func (s *bound) mayGain(lines []refdata.StrongLine) bool {
	var buffer [mostSticks]weight
	var weights []weight
	var least float32
	for i := range s.groups {
		t := &s.groups[i]
		among := s.promises(t, lines)
		if among == 0 {
			continue
		}
		if weights == nil {
			weights, least = s.weights(lines, buffer[:0])
		}
		if s.lets(t, among, weights, least) {
			return true
		}
	}
	return false
}

// promises returns the bands in which lines can gain enough if no scale bounds them; each sets the highest bit of its byte.
func (s *bound) promises(t *group, lines []refdata.StrongLine) uint64 {
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

// lets reports whether there is a band among some, and a scale, that most lines allow and with which they gain enough. Scales
// are tried in doublings, each of twice the gain of the one before.
func (s *bound) lets(t *group, among uint64, weights []weight, least float32) bool {
	for doubling := 0; among != 0 && doubling < mostDoublings; doubling++ {
		among &= s.allows(t, weights, least)
		least *= math.Sqrt2
		if among != 0 && among&t.repays(weights, float32(int(2)<<doubling)) != 0 {
			return true
		}
	}
	return among != 0
}

// mostDoublings is after how many doublings even the weakest lines may have their full gain.
const mostDoublings = 8

// allows returns the bands in which all but absentQuantile of the intensity allows a scale.
func (s *bound) allows(t *group, weights []weight, scale float32) uint64 {
	var absent uint64
	alive := uint64(highBits)
	for i := range weights {
		l := &weights[i]
		want := level((1-lineTolerance)*scale*l.intensity, s.base) * eachByte
		short := ^((t.levels[l.step] | highBits) - want) & highBits
		absent += short >> 7 * l.share
		if alive = ((highBits | absentShare*eachByte) - absent) & highBits; alive == 0 { // no sum exceeds wholeShare
			return 0
		}
	}
	return alive
}

// repays returns the bands in which lines gain enough when each gains no more than a multiple of its own gain.
func (t *group) repays(weights []weight, times float32) uint64 {
	var sum sums
	for i := range weights {
		l := &weights[i]
		limit := uint64(min(127, times*l.gain+1)) * eachByte
		gains := t.gains[l.step]
		within := ((limit | highBits) - gains) & highBits
		within -= within >> 7 // 127 where the limit is not reached
		sum.add(gains&within | limit&^within&^highBits)
	}
	return sum.enough()
}
