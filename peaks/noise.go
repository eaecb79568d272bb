package peaks

import (
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
	Kind  NoiseKind
	Gain  float64 // variance over mean; 1 for counts
	Floor float64 // variance at intensity 0
	// Scatter is variance over mean as measured, whatever Kind was decided; NaN when nothing could be measured.
	Scatter float64
	// Correlation is that of neighbouring points after trends are removed; smoothing makes it positive.
	Correlation float64
}

// Variance returns the variance of a point whose expected intensity is mean, above zero for every mean.
func (m NoiseModel) Variance(mean float64) float64 {
	return m.Gain*math.Max(mean, 0.05*m.Gain) + m.Floor
}

// smoothed is the correlation of neighbours from which data count as smoothed (common practice).
const smoothed = 0.2

// MeasureNoise decides what the intensities are. Whole non-negative numbers whose successive differences scatter as
// counts must are Poisson; a third column is believed; anything else is described by variance = gain·mean + floor, so
// that counts per second and scaled or smoothed data get their own scatter as uncertainty.
func MeasureNoise(scan xrd.Scan) NoiseModel {
	blocks := scatterBlocks(scan.Intensity, 1)
	m := NoiseModel{Kind: Poisson, Gain: 1, Scatter: gainOf(blocks), Correlation: sharedByNeighbours(scan.Intensity)}
	if scan.Sigma != nil {
		m.Kind = Recorded
		return m
	}
	if scan.Counts() && (math.IsNaN(m.Scatter) || m.Scatter > 0.75 && m.Scatter < 1.35) {
		return m
	}
	m.Kind = Estimated
	if m.Correlation < smoothed {
		m.Gain, m.Floor = gainAndFloor(blocks)
		return m
	}
	// A point smoothed over w neighbours has 1/w of the variance, and shares it. What a fit needs is the variance before
	// smoothing: that of points far enough apart to share nothing, times w.
	far := scatterBlocks(scan.Intensity, farLag)
	w := smoothedOver(blocks, far)
	m.Gain, m.Floor = gainAndFloor(far)
	m.Gain, m.Floor = w*m.Gain, w*m.Floor
	return m
}

// farLag is the distance of points that ordinary smoothing does not connect.
const farLag = 20

// smoothedOver returns over how many points a running mean must have gone: second differences of neighbours then have
// variance 4 σ²/w², those of far points 6 σ²/w.
func smoothedOver(near, far []block) float64 {
	n, f := lowerPart(near), lowerPart(far)
	if len(n) == 0 || len(f) == 0 {
		return 1
	}
	return math.Min(math.Max(2*medianVariance(f)/(3*medianVariance(n)), 1), farLag)
}

// A block is a short stretch of the scan: its mean, and the variance of a point from second differences, which a
// straight background does not enter.
type block struct{ mean, variance float64 }

// blockPoints is the length of a block: short against the distance of peaks.
const blockPoints = 12

// scatterBlocks cuts y into blocks. Stretches without any scatter (dead channels, padding) are left out.
func scatterBlocks(y []float64, lag int) []block {
	var out []block
	for lo := 0; lo+blockPoints+2*lag <= len(y); lo += blockPoints {
		var b block
		for i := lo + lag; i < lo+lag+blockPoints; i++ {
			d := y[i-lag] - 2*y[i] + y[i+lag]
			b.variance += d * d / (6 * blockPoints)
			b.mean += y[i] / blockPoints
		}
		if b.variance > 0 {
			out = append(out, b)
		}
	}
	return out
}

// gainOf returns variance over mean of the blocks without peaks: those of the lower half by mean, less the ones whose
// variance is far above what the rest says. It is NaN when there is nothing to measure.
func gainOf(blocks []block) float64 {
	low := lowerPart(blocks)
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
			if b.variance < 3*gain*math.Max(b.mean, 0)+6*gain*gain/blockPoints {
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

// lowerPart returns the blocks up to the 60th percentile of the mean, mostly background.
func lowerPart(blocks []block) []block {
	s := slices.Clone(blocks)
	slices.SortFunc(s, func(a, b block) int {
		switch {
		case a.mean < b.mean:
			return -1
		case a.mean > b.mean:
			return 1
		}
		return 0
	})
	return s[:(len(s)*3+4)/5]
}

// gainAndFloor fits variance = gain·mean + floor to the background blocks, both not negative. Blocks that scatter far more
// than the line says hold a peak; a floor must be more than chance, or the gain alone describes the blocks.
func gainAndFloor(blocks []block) (gain, floor float64) {
	low := lowerPart(blocks)
	if len(low) == 0 {
		return 1, 0
	}
	floor = medianVariance(low)
	if mean := medianMean(low); mean > 0 {
		gain, floor = floor/mean, 0
	}
	for range 4 {
		var kept []block
		for _, b := range low {
			if b.variance < 3*(gain*math.Max(b.mean, 0)+floor) {
				kept = append(kept, b)
			}
		}
		if len(kept) == 0 {
			break
		}
		gain, floor = varianceLine(kept)
	}
	return gain, math.Max(floor, 1e-6*medianVariance(low))
}

// varianceLine is the fit of gainAndFloor to blocks of background alone.
func varianceLine(blocks []block) (gain, floor float64) {
	n := float64(len(blocks))
	var mean, level, smm, smv float64
	for _, b := range blocks {
		mean, level = mean+b.mean/n, level+b.variance/n
		smm, smv = smm+b.mean*b.mean/n, smv+b.mean*b.variance/n
	}
	// The means must vary enough before a slope means anything. The variance of a block is known to half of itself.
	if spread := smm - mean*mean; spread > 0.1*mean*mean {
		slope := math.Max((smv-mean*level)/spread, 0)
		chance := 0.5 * level / math.Sqrt(n) * math.Sqrt(1+mean*mean/spread)
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
// stretches, which is 0 for white noise.
func sharedByNeighbours(y []float64) float64 {
	near, far := lowerPart(scatterBlocks(y, 1)), lowerPart(scatterBlocks(y, 4))
	if len(near) < 5 || len(far) < 5 {
		return 0
	}
	return 1 - medianVariance(near)/medianVariance(far)
}

func medianMean(blocks []block) float64 { // of blocks in order of their means, as lowerPart leaves them
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
