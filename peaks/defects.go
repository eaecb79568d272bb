package peaks

import (
	"math"
	"slices"

	"phasetally/xrd"
)

// A defects lists the points, by index, that tell of the detector and not of the specimen. They are left out of every fit.
type defects struct {
	spikes  []int // single points that stand up alone: cosmic rays, hot channels
	dropped []int // points far below all around them: dead channels, a beam that went away
	clipped []int // at the level beyond which the detector does not count
}

// few returns points that are a defect of some, and none when half of the scan or more would be left out, or no scan would be left: what
// is usual is no defect.
func few(points []int, scan xrd.Scan) []int {
	if 2*len(points) >= scan.Len() || scan.Len()-len(points) < xrd.MinPoints {
		return nil
	}
	return points
}

// points returns all of them, ascending.
func (d defects) points() []int {
	all := slices.Concat(d.spikes, d.dropped, d.clipped)
	slices.Sort(all)
	return slices.Compact(all)
}

// mask marks the points among n; it is nil when there are none.
func (d defects) mask(n int) []bool { return maskOf(d.points(), n) }

// maskOf marks some points among n; it is nil when there are none.
func maskOf(points []int, n int) []bool {
	if len(points) == 0 {
		return nil
	}
	out := make([]bool, n)
	for _, i := range points {
		out[i] = true
	}
	return out
}

// bridged returns the scan with straight lines in place of the points, for what averages over neighbours.
func bridged(scan xrd.Scan, points []int) xrd.Scan {
	if len(points) == 0 {
		return scan
	}
	gone := maskOf(points, scan.Len())
	scan.Intensity = slices.Clone(scan.Intensity)
	for _, r := range xrd.Runs(scan.TwoTheta) {
		bridge(scan.TwoTheta[r.First:r.End], scan.Intensity[r.First:r.End], gone[r.First:r.End])
	}
	return scan
}

// bridge lays straight lines in place of the points that are gone; where all are, nothing changes.
func bridge(x, y []float64, gone []bool) {
	last := -1 // point that is kept
	for i := 0; i <= len(gone); i++ {
		if i < len(gone) && gone[i] {
			continue
		}
		for k := last + 1; k < i; k++ {
			switch {
			case last < 0 && i == len(gone):
				return
			case last < 0:
				y[k] = y[i]
			case i == len(gone):
				y[k] = y[last]
			default:
				f := (x[k] - x[last]) / (x[i] - x[last])
				y[k] = (1-f)*y[last] + f*y[i]
			}
		}
		last = i
	}
}

// withoutCoarse returns the defects less the spikes where a peak of the width curve would itself be a single point.
func (d defects) withoutCoarse(scan xrd.Scan, width WidthCurve) defects {
	least := 2.5 * scan.Step()
	d.spikes = slices.DeleteFunc(d.spikes, func(i int) bool { return width.At(scan.TwoTheta[i]) < least })
	return d
}

// findSpikes returns the points that are at least eight standard uncertainties over the background, while both neighbours
// have less than a quarter of that. When there are more of them than of other maxima, and more than a few, the steps are
// too coarse rather than the detector ill, and none is returned.
func findSpikes(scan xrd.Scan, noise NoiseModel, background []float64) []int {
	var spikes []int
	others := 0
	y := scan.Intensity
	for _, i := range insides(scan.TwoTheta) {
		net := y[i] - background[i]
		sigma := math.Sqrt(noise.Variance(background[i]))
		if scan.Sigma != nil {
			sigma = scan.Sigma[i]
		}
		if y[i] < y[i-1] || y[i] < y[i+1] || !(net > 8*sigma) || !(net > 6*math.Sqrt(noise.Variance(y[i]))) {
			continue
		}
		beside := math.Max(y[i-1]-background[i-1], y[i+1]-background[i+1])
		if beside < 0.25*net-3*math.Sqrt(noise.Variance(background[i]+0.25*net)) {
			spikes = append(spikes, i)
		} else {
			others++
		}
	}
	if len(spikes) > max(5, others/2) {
		return nil
	}
	return spikes
}

// insides returns the points that have a neighbour on either side.
func insides(x []float64) []int {
	out := make([]int, 0, len(x))
	for _, r := range xrd.Runs(x) {
		for i := r.First + 1; i+1 < r.End; i++ {
			out = append(out, i)
		}
	}
	return out
}

// The surroundings of a point that may have dropped out: so many points on either side, and the least that is credible
// for a valley between peaks, as a share of what a fifth of the surroundings stays under.
const (
	dropReach = 15
	dropShare = 0.5
)

// findDropped returns the points that lie both under half of the level that a fifth of their surroundings stays under, and
// under half of the points beside them, and more than six standard uncertainties below both; and stretches of nothing where
// the scan has counts on either side.
func findDropped(scan xrd.Scan, noise NoiseModel) []int {
	var dropped []int
	typical := median(sample(scan.Intensity))
	for _, r := range xrd.Runs(scan.TwoTheta) {
		y := scan.Intensity[r.First:r.End]
		for _, i := range append(lostBeam(y, typical, noise), droppedPoints(y, noise)...) {
			dropped = append(dropped, r.First+i)
		}
	}
	slices.Sort(dropped)
	return dropped
}

// leastLost is how many points of nothing in a row a beam that was lost leaves at least.
const leastLost = dropReach/3 + 1

// lostBeam returns the points of stretches of zeros that counts such as those on either side cannot have left: their expected sum
// lies more than six standard uncertainties above nothing. Where the whole scan has next to no counts, or its background was
// taken off, zeros mean nothing.
func lostBeam(y []float64, typical float64, noise NoiseModel) (lost []int) {
	if !(typical > 9*noise.Gain) { // of Poisson counts, one in e⁹ is 0
		return nil
	}
	for i := 0; i < len(y); i++ {
		n := zeros(y[i:])
		if n < leastLost {
			i += n
			continue
		}
		beside := math.Inf(1)
		if i > 0 {
			beside = mean(y[max(0, i-dropReach):i])
		}
		if i+n < len(y) {
			beside = math.Min(beside, mean(y[i+n:min(len(y), i+n+dropReach)]))
		}
		if sum := float64(n) * beside; !math.IsInf(sum, 0) && sum > 6*math.Sqrt(float64(n)*noise.Variance(beside)) {
			for k := range n {
				lost = append(lost, i+k)
			}
		}
		i += n
	}
	return lost
}

// droppedPoints returns the others of findDropped in a run without gaps.
func droppedPoints(y []float64, noise NoiseModel) (dropped []int) {
	around := make([]float64, 0, 2*dropReach+1)
	for i := 0; i < len(y); i++ {
		if n := zeros(y[i:]); n >= leastLost {
			i += n - 1
			continue
		}
		around = append(around[:0], y[max(0, i-dropReach):min(len(y), i+dropReach+1)]...)
		fifth := len(around) / 5
		if below(around, y[i]/dropShare) > fifth { // cheaper than sorting, which few points need
			continue
		}
		slices.Sort(around)
		if low := around[fifth]; low-y[i] > 6*math.Sqrt(noise.Variance(low)) {
			dropped = append(dropped, i)
		}
	}
	gone := maskOf(dropped, len(y))
	return slices.DeleteFunc(dropped, func(i int) bool { return !fallsOff(y, i, gone, noise) })
}

// below returns how many values are not above a limit.
func below(values []float64, limit float64) (n int) {
	for _, v := range values {
		if v <= limit {
			n++
		}
	}
	return n
}

// fallsOff reports whether point i lies as far below the nearest points on either side that did not drop out: the floor of
// a valley between peaks does not.
func fallsOff(y []float64, i int, dropped []bool, noise NoiseModel) bool {
	lo, hi := i-1, i+1
	for lo >= 0 && dropped[lo] {
		lo--
	}
	for hi < len(y) && dropped[hi] {
		hi++
	}
	beside := math.Inf(1)
	if lo >= 0 {
		beside = y[lo]
	}
	if hi < len(y) {
		beside = math.Min(beside, y[hi])
	}
	return y[i] < dropShare*beside && beside-y[i] > 6*math.Sqrt(noise.Variance(beside))
}

// zeros returns how many values from the first on are 0.
func zeros(y []float64) int {
	for i, v := range y {
		if v != 0 {
			return i
		}
	}
	return len(y)
}

// findClipped returns the points at the top level of the scan when the detector cannot have counted on: three neighbours
// or more of just the same value, or five within a tenth of what counting allows, far above the background. Of a low level, as the 255 of
// eight bits, it takes more: see flatByChance.
func findClipped(scan xrd.Scan, noise NoiseModel, background []float64) []int {
	y := scan.Intensity
	level := slices.Max(y)
	top, longest, runs := flatTops(y, level)
	sigma := math.Sqrt(noise.Variance(level))
	far := level >= background[top]+20*sigma
	within := 0
	for within < len(y)-top && y[top+within] >= level-0.1*sigma {
		within++
	}
	least := level
	switch {
	case far && within >= 5:
		least -= 0.1 * sigma
	case far && longest >= 3, !flatByChance(level, longest, runs):
	default:
		return nil
	}
	var clipped []int
	for i, v := range y {
		if v >= least {
			clipped = append(clipped, i)
		}
	}
	return clipped
}

// flatTops returns where the longest run of values at a level begins, how long it is, and how many runs of three or more there are.
func flatTops(y []float64, level float64) (top, longest, runs int) {
	for i := 0; i < len(y); i++ {
		n := 0
		for i+n < len(y) && y[i+n] == level {
			n++
		}
		if n > longest {
			top, longest = i, n
		}
		if n >= 3 {
			runs++
		}
		i += n
	}
	return top, longest, runs
}

// flatByChance reports whether counts may have runs of one value at their highest level by chance. Of 50 counts and more, one in 18 is just like
// its neighbour: five in a row, or two runs of three at the very top, are no chance.
func flatByChance(level float64, longest, runs int) bool {
	return level < 50 || longest < 5 && runs < 2
}

// Without returns a scan and what was found in it without the points of LeftOut, for the fits that follow.
func (f Found) Without(scan xrd.Scan) (xrd.Scan, Found) {
	if len(f.LeftOut) == 0 {
		return scan, f
	}
	gone := maskOf(f.LeftOut, scan.Len())
	keep := func(v []float64) []float64 {
		if v == nil {
			return nil
		}
		out := make([]float64, 0, len(v))
		for i, x := range v {
			if !gone[i] {
				out = append(out, x)
			}
		}
		return out
	}
	scan.TwoTheta, scan.Intensity, scan.Sigma = keep(scan.TwoTheta), keep(scan.Intensity), keep(scan.Sigma)
	f.Background, f.Sigma, f.Fitted, f.LeftOut = keep(f.Background), keep(f.Sigma), keep(f.Fitted), nil
	return scan, f
}
