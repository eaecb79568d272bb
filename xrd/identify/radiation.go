package identify

import (
	"math"

	"phasetally/xrd"
	"phasetally/xrd/screen"
)

// A BetterRadiation is a tube whose wavelength explains a scan far better than the one stated.
type BetterRadiation struct {
	Name string
	Gain float64 // of the best phase with it, over that with the stated one
}

const (
	poorShare    = 0.5 // of the intensity at first sight: an explanation that leaves more is poor
	leastBetter  = strongFirst * strongFirst
	sharpWidths  = 4.0 // widths on either side over which a mean is taken
	betterFactor = 1.5 // gain over that with the stated radiation from which another one is named (PRACTICE 2, no. 10)
)

// anodes, the commonest first: a rarer one must explain far more than a commoner.
var anodes = []string{"Cu", "Co", "Mo", "Cr", "Fe", "Ag"}

// doubtRadiation looks for a better radiation when the explanation is poor. It screens only, so that it costs little; with
// a wrong wavelength no phase fits at any displacement or cell.
func (s *search) doubtRadiation() *BetterRadiation {
	if s.explained() > poorShare {
		return nil
	}
	fit, members := s.fit, s.members
	defer func() { s.fit, s.members = fit, members }()
	s.fit, s.members = nil, nil
	residual, variance := s.unexplained()
	residual = s.sharp(residual)
	stated := s.bestGain(s.job.Setup.Radiation, residual, variance, 0)
	least := math.Max(leastBetter, betterFactor*stated)
	var best *BetterRadiation
	for _, name := range anodes {
		r, err := xrd.ParseRadiation(name)
		if err != nil || r.SameTube(s.job.Setup.Radiation) {
			continue
		}
		if g := s.bestGain(r, residual, variance, least); g > least {
			best = &BetterRadiation{name, g}
			least = betterFactor * g
		}
	}
	if best != nil && stated > 0 {
		best.Gain /= stated
	}
	return best
}

// bestGain returns the gain of the phase that explains most with a radiation, if it is at least as much as asked for.
func (s *search) bestGain(r xrd.Radiation, residual, variance []float64, least float64) float64 {
	sc := s.screenOf(r)
	v := sc.View(screen.Residual{Intensity: residual, Variance: variance, Instrument: s.job.Setup.Instrument})
	list := sc.Best(v, math.Max(s.threshold*s.threshold, least), shortlist, s.has)
	if len(list) == 0 {
		return 0
	}
	return list[0].Gain
}

// sharp takes the mean about each point away, so that what is left of a halo counts for no radiation.
func (s *search) sharp(residual []float64) []float64 {
	x := s.job.Setup.TwoTheta
	step := (x[len(x)-1] - x[0]) / float64(len(x)-1)
	h := max(2, int(sharpWidths*s.job.Setup.Instrument.FWHM((x[0]+x[len(x)-1])/2)/step))
	sum := make([]float64, len(residual)+1)
	for i, v := range residual {
		sum[i+1] = sum[i] + v
	}
	out := make([]float64, len(residual))
	for i, v := range residual {
		lo, hi := max(0, i-h), min(len(residual), i+h+1)
		out[i] = v - (sum[hi]-sum[lo])/float64(hi-lo)
	}
	return out
}

// explained returns the share of the intensity above the first background that the phases of the fit account for.
func (s *search) explained() float64 {
	if s.fit == nil {
		return 0
	}
	var net, all float64
	for i, y := range s.job.Setup.Intensity {
		if d := y - s.background[i]; d > 4*s.job.Setup.Sigma[i] {
			all += d
			net += min(d, s.fit.Fitted[i]-s.fit.Background[i])
		}
	}
	if !(all > 0) {
		return 1
	}
	return net / all
}
