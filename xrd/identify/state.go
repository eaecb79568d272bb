package identify

import (
	"maps"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// unexplained returns what the present explanation leaves, and the variance with which it is known.
func (s *search) unexplained() (residual, variance []float64) {
	if s.fit != nil {
		return s.unexplainedBy(s.fit, math.Max(s.fit.Kappa, policy.Search.LeastKappa))
	}
	y := s.job.Setup.Intensity
	residual = make([]float64, len(y))
	variance = make([]float64, len(y))
	for i := range y {
		residual[i] = y[i] - s.background[i]
		variance[i] = s.job.Setup.Sigma[i] * s.job.Setup.Sigma[i]
	}
	return residual, variance
}

// unexplainedBy does the same for a fit, its lines known within a relative misfit.
func (s *search) unexplainedBy(f *pattern.Fit, kappa float64) (residual, variance []float64) {
	y := s.job.Setup.Intensity
	residual = make([]float64, len(y))
	variance = make([]float64, len(y))
	for i := range y {
		residual[i] = y[i] - f.Fitted[i]
		variance[i] = f.NoiseAt(i)
		if g := s.job.Setup.Gain; g > 0 {
			variance[i] = math.Max(variance[i], g*y[i])
		}
		k := kappa * (f.Fitted[i] - f.Background[i])
		variance[i] += k * k
	}
	return residual, variance
}

// leftover returns the residual of the present fit, with the curves of matches that were taken out since; nil without one.
func (s *search) leftover() []float64 {
	if s.fit == nil {
		return nil
	}
	r, _ := s.unexplained()
	for _, curve := range s.orphaned {
		for i, c := range curve {
			r[i] += c
		}
	}
	return r
}

// setup returns the setup of a fit of the matches. The residual before the last of them (a candidate) was added tells
// where intensity will stay unexplained: those points are doubted, so that phases yet to come do not spoil the fit.
func (s *search) setup(matches []Match, c *candidate, residual []float64) pattern.Setup {
	set := s.job.Setup
	set.Phases = make([]refdata.Phase, len(matches))
	for i, m := range matches {
		set.Phases[i] = m.Phase
	}
	set.Start = pattern.Start{Displacement: s.displacement()}
	if s.fit != nil {
		set.Start.Values = s.fit.Values()
		set.Start.Kappa = s.fit.Kappa
		set.Start.Knots = s.knots
		set.Poles = polesOf(s.fit, set.Phases)
		if fitted(s.fit, set.Phases) {
			set.Start.From = pattern.QuickFit
		}
	}
	if c != nil {
		if s.fit == nil {
			set.Start.Displacement = c.Displacement
		}
		set.Start.Values = withStretch(set.Start.Values, c.phase, c.Stretch)
	}
	if residual == nil && s.fit == nil {
		residual = make([]float64, len(set.Intensity))
		for i, y := range set.Intensity {
			residual[i] = y - s.background[i]
		}
	}
	set.ExtraVariance = extraVariance(set, residual, c)
	return set
}

// fitted reports whether a fit has all the phases.
func fitted(f *pattern.Fit, phases []refdata.Phase) bool {
	has := make(map[string]bool, len(f.Setup.Phases))
	for _, p := range f.Setup.Phases {
		has[p.ID] = true
	}
	for _, p := range phases {
		if !has[p.ID] {
			return false
		}
	}
	return true
}

// polesOf carries the texture axes of a fit over to the phases of another.
func polesOf(f *pattern.Fit, phases []refdata.Phase) [][][3]int {
	if f.Setup.Poles == nil {
		return nil
	}
	out := make([][][3]int, len(phases))
	for i, p := range phases {
		for j, q := range f.Setup.Phases {
			if q.ID == p.ID {
				out[i] = f.Setup.Poles[j]
			}
		}
	}
	return out
}

// withStretch copies starting values and adds a common stretch of the edges of a phase.
func withStretch(values map[pattern.Key]float64, p refdata.Phase, stretch float64) map[pattern.Key]float64 {
	out := make(map[pattern.Key]float64, len(values)+3)
	maps.Copy(out, values)
	for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
		out[pattern.Key{Kind: k, ID: p.ID}] = stretch
	}
	return out
}

// extraVariance returns the extra variance of points whose residual, once the candidate's expected lines are taken away, is
// beyond chance.
func extraVariance(set pattern.Setup, residual []float64, c *candidate) []float64 {
	out := make([]float64, len(residual))
	left := residual
	if c != nil {
		left = make([]float64, len(residual))
		expected := pattern.Calculate(set, c.phase, c.Scale, c.Displacement, c.Stretch)
		for i := range left {
			left[i] = residual[i] - expected[i]
		}
	}
	for i, r := range left {
		if r > policy.Search.UnexplainedSigma*set.Sigma[i] {
			out[i] = r * r
		}
	}
	return out
}

func (s *search) displacement() float64 {
	if s.fit == nil {
		return 0
	}
	d, _ := displacementOf(s.fit)
	return d
}

// displacementOf returns the displacement of a fit with its standard uncertainty, mm.
func displacementOf(f *pattern.Fit) (d, u float64) {
	for _, p := range f.Parameters {
		if p.Kind == pattern.Displacement {
			return p.Value, p.U
		}
	}
	return 0, 0
}

// instrument returns the widths as far as they are known by now.
func (s *search) instrument() xrd.Instrument {
	if s.fit == nil {
		return s.job.Setup.Instrument
	}
	return s.fit.Instrument()
}

// view shows a residual to screening, at the displacement of the fit or at all of them while nothing is known of it.
func (s *search) view(residual, variance []float64) *screen.View {
	return s.screen.View(screen.Residual{Intensity: residual, Variance: variance, Instrument: s.instrument(),
		Displacement: s.displacement(), Known: s.fit != nil && len(s.matches) > 0})
}

// significance returns the scale of a phase over the standard uncertainty it would have at 0.
func significance(f *pattern.Fit, p int) float64 {
	if !(f.Scales[p] > 0) {
		return 0
	}
	return f.Scales[p] / math.Sqrt(f.ScaleCov[p][p])
}

func sumSquares(f *pattern.Fit, variance []float64) float64 {
	var sum float64
	for i, y := range f.Setup.Intensity {
		r := y - f.Fitted[i]
		sum += r * r / variance[i]
	}
	return sum
}

// lineScatter returns the mean square of how far the lines of a fit lie off, over what its variances allow them, at least 1.
func lineScatter(f *pattern.Fit) float64 {
	var sum, n float64
	for p := range f.Scales {
		for _, l := range f.Lines(p) {
			if !l.Own() || !(l.Fitted > pattern.SeenSigma*l.ObservedU) {
				continue
			}
			misfit := f.OwnMisfit(l) * l.Fitted
			d := l.Observed - l.Fitted
			sum += d * d / (l.ObservedU*l.ObservedU + misfit*misfit)
			n++
		}
	}
	if n == 0 {
		return 1
	}
	return math.Max(1, sum/n)
}

// penalty returns what the priors cost. Cells are judged by cellCost instead of their wide priors.
func penalty(f *pattern.Fit) float64 {
	var sum float64
	stretch := make([]float64, len(f.Setup.Phases))
	edges := make([]float64, len(f.Setup.Phases))
	for _, p := range f.Parameters {
		switch {
		case p.Kind >= pattern.CellA && p.Kind <= pattern.CellC:
			stretch[p.Phase] += p.Value
			edges[p.Phase]++
			if edges[p.Phase] > 1 {
				sum += occam(p)
			}
		case p.Kind > pattern.CellC && p.Kind <= pattern.CellGamma:
			sum += occam(p)
		case p.Free && p.Prior.Sigma > 0:
			d := (p.Value - p.Prior.Mean) / p.Prior.Sigma
			sum += d * d
		}
	}
	for i, p := range f.Setup.Phases {
		sum += cellCost(stretch[i]/edges[i], p.SolidSolution)
	}
	return sum
}

// occam returns what the freedom of a parameter costs: a cell that must be tuned closely in more parameters explains less
// by being right (Laplace's approximation of the evidence, −2 ln: 2 ln(prior width/width after the fit)).
func occam(p pattern.Parameter) float64 {
	if !p.Free || !(p.U > 0) || !(p.Prior.Sigma > p.U) {
		return 0
	}
	d := p.Value / p.Prior.Sigma
	return 2*math.Log(p.Prior.Sigma/p.U) + d*d
}

// cellCost returns −2 ln of the density of a mean change of the edges: most specimens have nearly the published cell,
// some a solid solution (a mixture of two Gaussians; common practice). A change of composition beyond screen.NarrowReach costs
// policy.Deviance.Solution more; so does one beyond policy.Cells.Same of a phase that forms no solid solutions, since it has but one composition.
func cellCost(e float64, solidSolution bool) float64 {
	near, share := policy.Cells.Near, policy.Cells.NearShare
	wide := screen.CellSigma(solidSolution)
	gauss := func(sigma float64) float64 { return math.Exp(-e*e/(2*sigma*sigma)) / sigma }
	from, over := 0.75*screen.NarrowReach, 0.25*screen.NarrowReach
	if !solidSolution {
		from, over = policy.Cells.Same, policy.Cells.Same
	}
	far := math.Min(1, math.Max(0, (math.Abs(e)-from)/over))
	return policy.Deviance.Solution*far - 2*math.Log(share*gauss(near)+(1-share)*gauss(wide)+1e-9)
}

func (s *search) has(index int) bool {
	return slices.ContainsFunc(s.matches, func(m Match) bool { return m.Index == index })
}

func (s *search) workers() int {
	if s.job.Workers > 0 {
		return s.job.Workers
	}
	return 2
}

func (s *search) elementsGiven() bool { return s.job.Filter.Elements != (refdata.ElementSet{}) }
