package peaks

import (
	"cmp"
	"math"
	"slices"

	"phasetally/xrd"
)

// NoiseKind says where the standard uncertainties come from.
type NoiseKind string

// The kinds of noise: raw counts, uncertainties that the file records, or an estimate from the scatter of the scan.
const (
	Poisson   NoiseKind = "poisson"
	Recorded  NoiseKind = "recorded"
	Estimated NoiseKind = "estimated"
)

// A NoiseModel gives the variance of a point from its expected intensity.
type NoiseModel struct {
	Kind  NoiseKind // where it comes from
	Gain  float64   // variance over mean; 1 for counts
	Floor float64   // variance at intensity 0
	// Scatter is variance over mean as measured, whatever Kind was decided; NaN when nothing could be measured.
	Scatter float64
	// Correlation is that of neighbouring points after trends are removed; smoothing makes it positive.
	Correlation float64
}

// Variance returns the variance of a point whose expected intensity is mean, above zero for every mean.
func (m NoiseModel) Variance(mean float64) float64 {
	return m.Gain*math.Max(mean, 0.05*m.Gain) + m.Floor
}

// smoothed is the correlation of neighbours from which data count as smoothed: the weakest smoothing in use, over three points or
// by interpolation to half the steps, leaves 0.7 or more, and raw data none.
const smoothed = 0.5

// unsmoothed is the variance over mean of neighbours above which whole numbers are not smoothed counts: of those even the weakest
// smoothing leaves 0.15.
const unsmoothed = 0.3

// MeasureNoise decides what the intensities are. Whole non-negative numbers whose successive differences scatter as
// counts must are Poisson; a third column is believed; anything else is described by variance = gain·mean + floor, so that
// counts per second and scaled or smoothed data get their own scatter as uncertainty.
//
// All of it is measured in the flattest third of the scan and by differences that peaks of more than a few points do not enter,
// so that peaks do not count as noise, however broad they are.
func MeasureNoise(scan xrd.Scan) NoiseModel {
	flat := flatter(blocksOf(scan, blockPoints))
	blocks := scatter(scan, flat, fourth)
	m := NoiseModel{Kind: Poisson, Gain: 1, Scatter: gainOf(blocks), Correlation: sharedByNeighbours(scan, flat)}
	if scan.Sigma != nil {
		m.Kind = Recorded
		m.Gain, m.Floor = recordedNoise(scan)
		return m
	}
	slack := blockU / math.Sqrt(float64(max(1, len(blocks)))) // standard uncertainty of the gain
	if scan.Counts() && (math.IsNaN(m.Scatter) || m.Scatter > 0.75-slack/2 && m.Scatter < 1.35+slack) {
		return m
	}
	m.Kind = Estimated
	if scan.Counts() && m.Scatter > unsmoothed {
		m.Correlation = math.Min(m.Correlation, 0) // peaks without a flat stretch between them, no smoothing
	}
	if m.Correlation < smoothed {
		m.Gain, m.Floor = gainAndFloor(blocks)
		return m.of(scan)
	}
	// A point smoothed over w neighbours has 1/w of the variance, and shares it. What a fit needs is the variance before
	// smoothing: that of points far enough apart to share nothing, times w.
	all := blocksOf(scan, longBlock)
	far := lowerPart(scatter(scan, all, second(farLag)))
	w := smoothedOver(lowerPart(scatter(scan, all, second(1))), far)
	m.Gain, m.Floor = gainAndFloor(far)
	m.Gain, m.Floor = w*m.Gain, w*m.Floor
	return m.of(scan)
}

// of gives intensities that do not scatter at all the uncertainty of numbers of six digits.
func (m NoiseModel) of(scan xrd.Scan) NoiseModel {
	most := 0.0
	for _, y := range scan.Intensity {
		most = math.Max(most, math.Abs(y))
	}
	if digits := 1e-12 * most * most; !(m.Variance(most) > digits) {
		m.Floor = digits
	}
	return m
}

// recordedNoise turns the uncertainties that a scan records into variance over mean, 1 for counts and less for counts per second; where the
// middle of the scan is hardly above 0, as after the background was taken away, they are a floor.
func recordedNoise(scan xrd.Scan) (gain, floor float64) {
	variances := make([]float64, scan.Len())
	for i, u := range scan.Sigma {
		variances[i] = u * u
	}
	variance, level := median(variances), median(scan.Intensity)
	if !(level > math.Sqrt(variance)) {
		return 0, variance
	}
	return variance / level, 0
}

// farLag is the distance of points that ordinary smoothing does not connect.
const farLag = 20

// smoothedOver returns over how many points a running mean must have gone: second differences of neighbours then have
// variance 4 σ²/w², those of far points 6 σ²/w.
func smoothedOver(near, far []block) float64 {
	if len(near) == 0 || len(far) == 0 {
		return 1
	}
	return math.Min(math.Max(2*medianVariance(far)/(3*medianVariance(near)), 1), farLag)
}

// A block is a short stretch of a run: its points first to end−1, its mean, how far that lies off the straight line through the
// blocks beside it, and the variance of a point from differences.
type block struct {
	first, end int
	run        xrd.Run
	mean, bend float64
	variance   float64
}

// The lengths of blocks: short against the distance of peaks, and enough for the differences of far points.
const (
	blockPoints = 8
	longBlock   = 12
)

// blockU is the relative standard uncertainty of the variance of one block: fourth differences of eight points have three degrees of
// freedom.
const blockU = 0.8

// blocksOf cuts the runs of a scan into blocks.
func blocksOf(scan xrd.Scan, points int) []block {
	var all []block
	for _, r := range xrd.Runs(scan.TwoTheta) {
		from := len(all)
		for lo := r.First; lo+points <= r.End; lo += points {
			all = append(all, block{first: lo, end: lo + points, run: r, mean: mean(scan.Intensity[lo : lo+points])})
		}
		mine := all[from:]
		for k := range mine {
			if c := min(max(k, 1), len(mine)-2); c > 0 {
				mine[k].bend = math.Abs(mine[c-1].mean - 2*mine[c].mean + mine[c+1].mean)
			}
		}
	}
	return all
}

// flatter returns the flattest third of blocks. The mean of a block is hardly correlated with the differences within, so that the
// choice does not change what they say of the noise.
func flatter(all []block) []block {
	flat := slices.Clone(all)
	slices.SortStableFunc(flat, func(a, b block) int { return cmp.Compare(a.bend, b.bend) })
	return flat[:(len(flat)+2)/3]
}

// lowerPart returns the blocks, in order of their means, up to the 60th percentile: mostly background.
func lowerPart(blocks []block) []block { return blocks[:(len(blocks)*3+4)/5] }

// differences are weights of points at equal distances, so many points apart, that add up to nothing.
type differences struct {
	weights []float64
	lag     int
}

// fourth differences of neighbours leave of a line six points wide an eighth of what second ones do.
var fourth = differences{[]float64{1, -4, 6, -4, 1}, 1}

func second(lag int) differences { return differences{[]float64{1, -2, 1}, lag} }

// scatter returns the blocks with the variance that the differences have, in order of their means. Blocks at the ends of runs that
// have too few, and those without any scatter (dead channels, padding), are left out.
func scatter(scan xrd.Scan, blocks []block, d differences) []block {
	norm := 0.0
	for _, w := range d.weights {
		norm += w * w
	}
	reach := len(d.weights) / 2 * d.lag
	var out []block
	for _, b := range blocks {
		b.variance = 0
		n := 0.0
		for i := max(b.first, b.run.First+reach); i < min(b.end, b.run.End-reach); i++ {
			sum := 0.0
			for k, w := range d.weights {
				sum += w * scan.Intensity[i-reach+k*d.lag]
			}
			b.variance += sum * sum / norm
			n++
		}
		if b.variance /= n; n >= float64(b.end-b.first)/2 && b.variance > 0 {
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b block) int { return cmp.Compare(a.mean, b.mean) })
	return out
}

// gainOf returns variance over mean of blocks, less the ones whose variance is far above what the rest says. It is NaN when
// there is nothing to measure.
func gainOf(low []block) float64 {
	if len(low) < 3 {
		return math.NaN()
	}
	ratios := make([]float64, len(low))
	for i, b := range low {
		ratios[i] = b.variance / math.Max(math.Abs(b.mean), 1e-300)
	}
	slices.Sort(ratios)
	gain := ratios[len(ratios)/2]
	for range 5 {
		var v, m float64
		for _, b := range low {
			if b.variance < outlying*gain*math.Max(b.mean, 0)+6*gain*gain/blockPoints {
				v, m = v+b.variance, m+b.mean
			}
		}
		if !(m > 0) {
			break
		}
		gain = v / m
	}
	return gain
}

// outlying is over how many times the variance expected a block is taken for one with a peak: noise alone goes there in less than one of
// a hundred.
const outlying = 4.0

// gainAndFloor fits variance = gain·mean + floor to the background blocks, both not negative. Blocks that scatter far more
// than the line says hold a peak; a floor must be more than chance, or the gain alone describes the blocks.
func gainAndFloor(blocks []block) (gain, floor float64) {
	low := blocks
	if len(low) == 0 {
		return 1, 0
	}
	floor = medianVariance(low)
	if mean := medianMean(low); mean > 0 {
		gain, floor = floor/mean, 0
	}
	least := 1e-3 * medianVariance(low)
	for range 4 {
		expected := func(mean float64) float64 { return math.Max(gain*math.Max(mean, 0)+floor, least) }
		var kept []block
		for _, b := range low {
			if b.variance < outlying*(gain*math.Max(b.mean, 0)+floor) {
				kept = append(kept, b)
			}
		}
		if len(kept) == 0 {
			break
		}
		gain, floor = varianceLine(kept, expected)
	}
	return gain, math.Max(floor, 1e-6*medianVariance(low))
}

// varianceLine is the fit of gainAndFloor to blocks of background alone, each weighed by the variance that is expected of it: known
// to a share of itself, as all are.
func varianceLine(blocks []block, expected func(mean float64) float64) (gain, floor float64) {
	var w, wm, wv, wmm, wmv float64
	for _, b := range blocks {
		u := expected(b.mean)
		k := 1 / (u * u)
		w, wm, wv, wmm, wmv = w+k, wm+k*b.mean, wv+k*b.variance, wmm+k*b.mean*b.mean, wmv+k*b.mean*b.variance
	}
	mean, level := wm/w, wv/w
	// The means must vary enough before a slope means anything.
	if spread := wmm/w - mean*mean; spread > 0.1*mean*mean {
		slope := math.Max((wmv/w-mean*level)/spread, 0)
		chance := blockU * math.Sqrt((1+mean*mean/spread)/w)
		if rest := level - slope*mean; rest > 3*chance || !(mean > 0) {
			return slope, math.Max(rest, 0)
		}
	}
	if !(mean > 0) {
		return 0, level
	}
	return level / mean, 0
}

// sharedByNeighbours returns how much neighbours share: 1 less the ratio of second-difference variances at lags 1 and 4 in flat
// stretches, which is 0 for white noise; 0 where too few blocks are flat to tell. A block is not flat when its mean lies farther
// off its neighbours than half of what the differences of far points within do: then what they show is a peak.
func sharedByNeighbours(scan xrd.Scan, blocks []block) float64 {
	var ratios []float64
	for _, b := range scatter(scan, blocks, second(4)) {
		near := scatter(scan, []block{b}, second(1))
		if len(near) == 1 && b.bend*b.bend < 0.25*b.variance {
			ratios = append(ratios, near[0].variance/b.variance)
		}
	}
	if len(ratios) < 5 {
		return 0
	}
	slices.Sort(ratios)
	return 1 - ratios[len(ratios)/2]
}

func medianMean(blocks []block) float64 { // of blocks in order of their means, as scatter leaves them
	return blocks[len(blocks)/2].mean
}

func medianVariance(blocks []block) float64 {
	v := make([]float64, len(blocks))
	for i, b := range blocks {
		v[i] = b.variance
	}
	slices.Sort(v)
	return v[len(v)/2]
}
