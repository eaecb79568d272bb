package pattern

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

const (
	leastCount  = 0.5  // intensity, in gains, that lends its variance to points where the model expects next to nothing
	strongSigma = 5.0  // intensity over noise from which the misfit of a point can be seen
	lineTau     = 0.02 // relative misfit of a line that is taken for granted when lines are weighted against each other
	maxKappa    = 1.0
)

// variance fills v with the variance of each point: of the fitted counts (or as recorded, when intensities are not
// counts), of the blank, and of the misfit (κ × intensity of the lines)².
func (m *Model) variance(v, fitted, peaks []float64, blankScale, kappa float64) {
	for i := range v {
		v[i] = m.setup.noiseAt(i, fitted[i])
		if m.setup.BlankVar != nil {
			v[i] += blankScale * blankScale * m.setup.BlankVar[i]
		}
		if m.setup.ExtraVariance != nil {
			v[i] += m.setup.ExtraVariance[i]
		}
		k := kappa * peaks[i]
		v[i] += k * k
	}
}

// noiseAt returns the variance of point number i for a fitted intensity.
func (s Setup) noiseAt(i int, fitted float64) float64 {
	if s.Gain > 0 {
		return s.Gain*math.Max(fitted, leastCount*s.Gain) + s.Floor
	}
	return s.Sigma[i] * s.Sigma[i]
}

// misfit estimates κ from residuals, from the intensity of the lines and from the variance without misfit. Two views
// are taken and the larger counts: how far single points lie off (wrong profiles), and how far whole lines lie off
// (wrong intensities). If independent misfits κP of n points make up a line, its relative scatter is κ/√n with
// n = (ΣP)²/ΣP²; so a scatter τ of whole lines is κ = τ√n.
func misfit(residual, peaks, variance []float64) float64 {
	kappa2 := math.Max(pointMisfit(residual, peaks, variance), lineMisfit(residual, peaks, variance))
	return math.Sqrt(math.Min(maxKappa*maxKappa, math.Max(0, kappa2)))
}

// beyondChance returns an average that estimates κ² less its standard uncertainty, so that noise alone is rarely taken
// for misfit: excess/weight with variance chance/weight².
func beyondChance(excess, weight, chance float64) float64 {
	if !(weight > 0) {
		return 0
	}
	return (excess - math.Sqrt(chance)) / weight
}

func pointMisfit(residual, peaks, variance []float64) float64 {
	var excess, weight, chance float64
	for i, p := range peaks {
		if v := variance[i]; p > strongSigma*math.Sqrt(v) {
			excess += (residual[i]*residual[i] - v) / p
			weight += p
			chance += 2 * v * v / (p * p)
		}
	}
	return beyondChance(excess, weight, chance)
}

// lineMisfit averages (δ² − var δ) n over runs of strong points, δ being the relative residual of a run, with the
// weights of their variances when lines scatter by lineTau.
func lineMisfit(residual, peaks, variance []float64) float64 {
	var excess, weight, chance float64
	for i := 0; i < len(peaks); {
		var r, p, p2, v float64
		for ; i < len(peaks) && peaks[i] > strongSigma*math.Sqrt(variance[i]); i++ {
			r += residual[i]
			p += peaks[i]
			p2 += peaks[i] * peaks[i]
			v += variance[i]
		}
		if p2 > 0 {
			n, rel := p*p/p2, v/(p*p)
			w := 1 / ((rel + lineTau*lineTau) * n)
			w *= w
			excess += w * (r*r/(p*p) - rel) * n
			weight += w
			chance += 2 * w * w * rel * rel * n * n
		}
		i++
	}
	return beyondChance(excess, weight, chance)
}

// reweigh renews the variance of every point from the fit, with no more misfit than trust.
func (f *Fit) reweigh(trust float64) {
	f.allowed = f.allows
	peaks := f.peaks()
	f.model.variance(f.Noise, f.Fitted, peaks, f.BlankScale, 0)
	f.Kappa = misfit(f.residual(), f.trusted(peaks), f.Noise)
	f.allows = math.Min(f.Kappa, trust)
	f.model.variance(f.Variance, f.Fitted, peaks, f.BlankScale, f.allows)
}

// peaks returns the summed contribution of the phases.
func (f *Fit) peaks() []float64 {
	return floats.SubTo(make([]float64, len(f.Fitted)), f.Fitted, f.Background)
}

// trusted returns the peaks with those points set to 0 that other, unexplained intensity spoils.
func (f *Fit) trusted(peaks []float64) []float64 {
	if f.Setup.ExtraVariance == nil {
		return peaks
	}
	out := append([]float64(nil), peaks...)
	for i, d := range f.Setup.ExtraVariance {
		if d > f.Noise[i]/2 {
			out[i] = 0
		}
	}
	return out
}

func (f *Fit) residual() []float64 {
	return floats.SubTo(make([]float64, len(f.Fitted)), f.Setup.Intensity, f.Fitted)
}
