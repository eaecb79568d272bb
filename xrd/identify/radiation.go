package identify

import (
	"cmp"
	"context"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/screen"
)

// A BetterRadiation is a tube whose wavelength explains a scan far better than the one stated.
type BetterRadiation struct {
	Name  string  // of the tube
	Gain  float64 // share of the peak area that is explained with it, over that with the stated one
	Share float64 // of the peak area that is explained with it
}

// anodes, the commonest first.
var anodes = []string{"Cu", "Co", "Mo", "Cr", "Fe", "Ag"}

// checkRadiation looks for a better radiation when the explanation is none, or in part and by no name that holds: screening says with which
// tubes a phase would gain much, and a search with these, whether the scan is explained then, one of its phases established: any cubic phase looks like
// another one with another tube.
func (s *search) checkRadiation(ctx context.Context) (*BetterRadiation, error) {
	partial := s.coverage.Verdict == result.Partial && !Holds(s.matches)
	if s.job.OtherTube || s.coverage.Verdict != result.None && !partial {
		return nil, nil
	}
	var best *BetterRadiation
	for _, r := range s.likelyTubes() {
		job := s.job
		job.Setup.Radiation, job.Beam.Radiation = r, r
		if job.Progress != nil {
			job.Progress = s.tellOf(r.Name)
		}
		job.Peaks, job.OtherTube, job.likely = nil, true, true
		out, err := Run(ctx, job)
		if err != nil {
			return nil, err
		}
		share := out.Coverage.Share
		more := share >= s.coverage.Share+policy.Tube.By && out.Coverage.Verdict != result.None
		if partial { // nothing that holds against the whole
			more = out.Coverage.Verdict == result.Complete
		}
		if share < policy.Tube.Share || !more || !Established(out.Matches) || best != nil && share <= best.Share {
			continue
		}
		best = &BetterRadiation{Name: r.Name, Gain: share / s.coverage.Share, Share: share}
	}
	return best, nil
}

// Holds reports whether the name of some phase is at least probable.
func Holds(matches []Match) bool {
	return slices.ContainsFunc(matches, func(m Match) bool { return m.Evidence != result.Tentative })
}

// Established reports whether some phase is established.
func Established(matches []Match) bool {
	return slices.ContainsFunc(matches, func(m Match) bool { return m.Evidence == result.Established })
}

// likelyTubes returns the tubes other than the stated one with which a phase gains most, best first. Screening costs little; with a
// wrong wavelength no phase fits at any displacement or cell.
func (s *search) likelyTubes() []xrd.Radiation {
	type tube struct {
		radiation xrd.Radiation
		gain      float64
	}
	matches, fit := s.matches, s.fit
	defer func() { s.matches, s.fit = matches, fit }()
	s.matches, s.fit = nil, nil
	residual, variance := s.unexplained()
	residual = s.sharp(residual)
	var list []tube
	for _, name := range anodes {
		r, err := xrd.ParseRadiation(name)
		if err != nil || r.SameTube(s.job.Setup.Radiation) {
			continue
		}
		if g := s.bestGain(r, residual, variance, policy.Tube.Gain); g >= policy.Tube.Gain {
			list = append(list, tube{r, g})
		}
	}
	slices.SortStableFunc(list, func(a, b tube) int { return cmp.Compare(b.gain, a.gain) })
	var out []xrd.Radiation
	for _, t := range list[:min(policy.Effort.Tubes, len(list))] {
		out = append(out, t.radiation)
	}
	return out
}

// bestGain returns the gain of the phase that explains most with a radiation, if it is at least as much as asked for.
func (s *search) bestGain(r xrd.Radiation, residual, variance []float64, least float64) float64 {
	sc := s.screenOf(r)
	v := sc.View(screen.Residual{Intensity: residual, Variance: variance, Instrument: s.job.Setup.Instrument})
	list := sc.Best(v, math.Max(s.threshold*s.threshold, least), policy.Effort.Shortlist, s.has)
	if len(list) == 0 {
		return 0
	}
	return list[0].Gain
}

// sharp takes the mean about each point away, so that what is left of a halo counts for no radiation.
func (s *search) sharp(residual []float64) []float64 {
	x := s.job.Setup.TwoTheta
	step := (x[len(x)-1] - x[0]) / float64(len(x)-1)
	h := max(2, int(policy.Tube.Widths*s.job.Setup.Instrument.FWHM((x[0]+x[len(x)-1])/2)/step))
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
