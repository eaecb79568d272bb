package peaks

import (
	"context"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// maxGroup is the largest number of peaks fitted together; longer chains are cut at their widest gaps and fitted in
// turn, each with the others in place.
const maxGroup = 6

// A fitted peak: where it is, and the standard uncertainties that belong to it.
type fitted struct {
	start
	atU, fwhmU, areaU float64
	heightU, breadthU float64 // relative
	withWidth         float64 // correlation of area and width
	withOther         float64 // that of the area with the area of the peak it is most mixed with
	telling           bool    // of the axial divergence
}

// A group is the separable model of some overlapping peaks: areas are linear; places, logarithms of widths and one
// mixing are not. The axial divergence is that of the scan. One more linear parameter may raise the background.
type group struct {
	angles []float64
	tube   doublet
	axial  float64
	n      int
	level  bool
	shapes []shape
}

// Size implements leastsq.Separable.
func (g *group) Size() (points, linear, nonlinear int) {
	linear = g.n
	if g.level {
		linear++
	}
	return len(g.angles), linear, 2*g.n + 1
}

// setShapes reads the parameters: n places, n logarithms of widths, the mixing.
func (g *group) setShapes(theta []float64) {
	g.shapes = g.shapes[:0]
	for k := range g.n {
		g.shapes = append(g.shapes, g.tube.shape(theta[k], math.Exp(theta[g.n+k]), theta[2*g.n], g.axial))
	}
}

// Columns implements leastsq.Separable.
func (g *group) Columns(theta []float64, phi [][]float64) {
	g.setShapes(theta)
	for k, s := range g.shapes {
		clear(phi[k])
		s.add(phi[k], g.angles, 1)
	}
	if g.level {
		for i := range phi[g.n] {
			phi[g.n][i] = 1
		}
	}
}

// Derivatives implements leastsq.Separable.
func (g *group) Derivatives(theta, c []float64, jac [][]float64) {
	g.setShapes(theta)
	mix := jac[2*g.n]
	clear(mix)
	for k, s := range g.shapes {
		place, width := jac[k], jac[g.n+k]
		clear(place)
		clear(width)
		s.addSlopes(g.angles, c[k], place, width, mix)
	}
}

var _ leastsq.Separable = (*group)(nil)

// The priors of a peak's shape against the width curve (common practice: lines of one scan differ by a quarter in
// width); they decide only where the counts cannot.
const (
	widthSpread  = 0.3
	mixingSpread = 0.2
	fitWindow    = 4.0 // widths on either side
	broadest     = 2.0 // degrees with Cu Kα; what is broader is a halo
)

// groups returns index ranges [i, j) of peaks, ascending by angle, that overlap.
func groups(peaks []fitted, tube doublet) [][2]int {
	var out [][2]int
	for i := 0; i < len(peaks); {
		j := i + 1
		for j < len(peaks) && clearance(peaks[j-1], peaks[j], tube) < 3 {
			j++
		}
		out = append(out, cut(peaks, tube, i, j)...)
		i = j
	}
	return out
}

// clearance is the distance between neighbours in widths, from the Kα2 of the lower one.
func clearance(a, b fitted, tube doublet) float64 {
	gap, _, _ := tube.gap(a.at)
	return (b.at - a.at - gap) / math.Max(a.fwhm, b.fwhm)
}

// cut halves a chain that is too long at the widest gap of its middle.
func cut(peaks []fitted, tube doublet, i, j int) [][2]int {
	if j-i <= maxGroup {
		return [][2]int{{i, j}}
	}
	at, widest := i+(j-i)/2, math.Inf(-1)
	for k := i + (j-i)/4 + 1; k < j-(j-i)/4; k++ {
		if c := clearance(peaks[k-1], peaks[k], tube); c > widest {
			at, widest = k, c
		}
	}
	return append(cut(peaks, tube, i, at), cut(peaks, tube, at, j)...)
}

// A freedom says what a fit may change beside places and areas.
type freedom int

const (
	nearCurve  freedom = iota // widths and mixing close to the width curve
	roughly                   // the same, to be fitted again
	freeShapes                // widths and mixing as the data pull them
)

// tolerances end a fit when a step brings far less than chance: of fits that only lead to others, earlier.
var tolerances = map[freedom]leastsq.Settings{
	nearCurve:  {MaxIterations: 30, RelTolerance: 1e-5, StepTolerance: 1e-6},
	roughly:    {MaxIterations: 30, RelTolerance: 1e-3, StepTolerance: 1e-4},
	freeShapes: {MaxIterations: 30, RelTolerance: 1e-4, StepTolerance: 1e-5},
}

// fitAll fits every group once, in order of angle, and leaves the sum of all peaks in s.peaks. It returns the sum of
// squared residuals over variances.
func (s *searcher) fitAll(peaks []fitted, free freedom) (squares float64) {
	return s.fitSome(peaks, free, func(fitted) bool { return true })
}

// fitSome is fitAll for the groups with a member that is wanted.
func (s *searcher) fitSome(peaks []fitted, free freedom, wanted func(fitted) bool) (squares float64) {
	slices.SortFunc(peaks, func(a, b fitted) int {
		if a.at < b.at {
			return -1
		}
		return 1
	})
	s.draw(peaks)
	sigma := s.sigmas()
	for _, g := range groups(peaks, s.tube) {
		members := peaks[g[0]:g[1]]
		if !slices.ContainsFunc(members, wanted) {
			continue
		}
		if q := s.fitGroup(members, sigma, free); q > 0 {
			squares += q
		}
	}
	return squares
}

// draw sets s.peaks to the sum of all peaks.
func (s *searcher) draw(peaks []fitted) {
	clear(s.peaks)
	for _, p := range peaks {
		s.add(p.start, 1)
	}
}

// sigmas returns the standard uncertainty of every point under the peaks so far; spikes hardly count.
func (s *searcher) sigmas() []float64 {
	sigma := s.sigma
	for i := range sigma {
		sigma[i] = math.Sqrt(s.variance(i))
		if s.masked != nil && s.masked[i] {
			sigma[i] *= 1e3
		}
	}
	return sigma
}

// splitWide replaces peaks that are much wider than the instrument's by two, where that fits clearly better: the sum of
// squares must fall by what three more parameters need to be beyond chance, and by a share that no misfit of the
// profile explains.
func (s *searcher) splitWide(peaks []fitted) []fitted {
	sigma := s.sigmas()
	var added []fitted
	for _, g := range groups(peaks, s.tube) {
		members := peaks[g[0]:g[1]]
		for k := range members {
			if members[k].fwhm < 1.3*s.width.At(members[k].at) || members[k].area < 15*members[k].areaU {
				continue
			}
			if more, ok := s.split(members, k, sigma); ok {
				added = append(added, more)
			}
		}
	}
	return append(peaks, added...)
}

// split tries two peaks in place of one of a group. When they are better, it changes the group and returns the new one.
func (s *searcher) split(members []fitted, k int, sigma []float64) (fitted, bool) {
	before := slices.Clone(members)
	single := s.fitGroup(members, sigma, roughly)
	both := slices.Clone(members)
	half := both[k]
	half.area, half.fwhm = half.area/2, math.Max(0.6*half.fwhm, s.width.At(half.at))
	distance := 0.35 * both[k].fwhm
	both[k] = half
	both[k].at -= distance
	half.at += distance
	for _, p := range members {
		s.add(p.start, -1)
	}
	both = append(both, half)
	for _, p := range both {
		s.add(p.start, 1)
	}
	double := s.fitGroup(both, sigma, roughly)
	if single-double > math.Max(30, 0.15*single) && both[k].area > 5*both[k].areaU && both[len(both)-1].area > 5*both[len(both)-1].areaU {
		copy(members, both)
		return both[len(both)-1], true
	}
	for _, p := range both {
		s.add(p.start, -1)
	}
	copy(members, before)
	for _, p := range members {
		s.add(p.start, 1)
	}
	return fitted{}, false
}

// fitGroup fits peaks together, with all others as they are, and returns the sum of squared residuals over variances, or
// NaN when it could not be fitted.
func (s *searcher) fitGroup(peaks []fitted, sigma []float64, free freedom) (squares float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range peaks {
		gap, _, _ := s.tube.gap(p.at)
		lo, hi = math.Min(lo, p.at-fitWindow*p.fwhm), math.Max(hi, p.at+gap+fitWindow*p.fwhm)
	}
	i, j := s.scan.Between(lo, hi)
	n := len(peaks)
	if j-i < 3*n+1 {
		return math.NaN()
	}
	for _, p := range peaks {
		s.add(p.start, -1)
	}
	y := make([]float64, j-i)
	for k := range y {
		y[k] = s.scan.Intensity[i+k] - s.background[i+k] - s.peaks[i+k]
	}
	problem := s.problem(peaks, free)
	model := &group{angles: s.scan.TwoTheta[i:j], tube: s.tube, axial: s.width.Axial, n: n, level: free != freeShapes}
	if model.level {
		problem.LinearPrior = make([]leastsq.Prior, n+1)
		problem.LinearPrior[n].Sigma = s.backgroundU[(i+j)/2]
		problem.NonNegative = append(problem.NonNegative, false)
	}
	problem.Model = model
	problem.Y, problem.Sigma = y, sigma[i:j]
	fit, err := s.solver.Fit(context.Background(), problem, tolerances[free])
	squares = math.NaN()
	if err == nil && finite(fit.Theta) && finite(fit.C) {
		accept(peaks, problem, fit)
		squares = fit.SumSquares
	}
	for _, p := range peaks {
		s.add(p.start, 1)
	}
	return squares
}

// problem sets starting values, bounds and priors of a group.
func (s *searcher) problem(peaks []fitted, free freedom) leastsq.SeparableProblem {
	n := len(peaks)
	m := 2*n + 1
	p := leastsq.SeparableProblem{Theta: make([]float64, m), Lower: make([]float64, m), Upper: make([]float64, m),
		ThetaPrior: make([]leastsq.Prior, m), NonNegative: make([]bool, n)}
	loose := 1.0
	if free == freeShapes {
		loose = 3
	}
	for k, q := range peaks {
		first, last := s.runAt(q.at)
		p.Theta[k], p.Lower[k], p.Upper[k] = q.at, math.Max(first, q.at-0.7*q.fwhm), math.Min(last, q.at+0.7*q.fwhm)
		w := math.Log(q.fwhm)
		mean := math.Log(s.width.At(q.at))
		if w-mean > 0.7 { // found as a broad peak
			mean = w
		}
		floor := math.Log(math.Max(0.5*s.width.Least, 0.7*s.step))
		p.Lower[n+k], p.Upper[n+k] = math.Min(floor, w), math.Max(w, math.Min(mean+1.5, math.Log(broadest*xrd.Broadness(s.tube.one))))
		p.Theta[n+k] = w
		p.ThetaPrior[n+k] = leastsq.Prior{Mean: mean, Sigma: widthSpread * loose}
		p.NonNegative[k] = true
	}
	p.Theta[m-1] = math.Min(math.Max(peaks[0].eta, 0.02), 0.98)
	p.Upper[m-1] = 1
	p.ThetaPrior[m-1] = leastsq.Prior{Mean: s.width.Eta, Sigma: mixingSpread * loose}
	return p
}

// accept takes a fit over. Standard uncertainties grow with the misfit where it exceeds the noise; where a parameter
// ended on a bound, they are those of the allowed range.
func accept(peaks []fitted, problem leastsq.SeparableProblem, fit leastsq.SeparableResult) {
	n := len(peaks)
	linear := len(fit.C)
	size := linear + len(fit.Theta)
	scale := math.Max(1, fit.SumSquares/float64(max(1, len(problem.Y)-3*n-1)))
	cov := func(i, j int) float64 { return scale * fit.Covariance[i*size+j] }
	u := func(theta int) float64 {
		if v := cov(linear+theta, linear+theta); v > 0 {
			return math.Sqrt(v)
		}
		return (problem.Upper[theta] - problem.Lower[theta]) / math.Sqrt(12)
	}
	mixing := linear + 2*n
	for k := range peaks {
		p := &peaks[k]
		p.at, p.fwhm, p.eta, p.area = fit.Theta[k], math.Exp(fit.Theta[n+k]), fit.Theta[2*n], fit.C[k]
		p.areaU, p.atU, p.fwhmU = math.Sqrt(math.Max(0, cov(k, k))), u(k), p.fwhm*u(n+k)
		width := linear + n + k
		slope := breadthSlope(p.eta) // of the logarithm of the breadth; that of the width has slope 1
		breadth := cov(width, width) + 2*slope*cov(width, mixing) + slope*slope*cov(mixing, mixing)
		p.breadthU, p.heightU = math.Sqrt(math.Max(0, breadth)), 0
		if p.area > 0 {
			both := (cov(k, width) + slope*cov(k, mixing)) / p.area
			p.heightU = math.Sqrt(math.Max(0, cov(k, k)/(p.area*p.area)+breadth-2*both))
		}
		p.withWidth = correlation(cov, k, width)
		p.withOther = 0
		for j := range n {
			if r := correlation(cov, k, j); j != k && math.Abs(r) > math.Abs(p.withOther) {
				p.withOther = r
			}
		}
	}
}

// breadthSlope is the derivative of the logarithm of the integral breadth of a pseudo-Voigt by its Lorentzian share.
func breadthSlope(eta float64) float64 {
	l, g := 2/math.Pi, 2*math.Sqrt(math.Ln2/math.Pi) // heights of unit area and width
	return -(l - g) / (eta*l + (1-eta)*g)
}

// correlation is that of two parameters, 0 when one of them is fixed.
func correlation(cov func(i, j int) float64, i, j int) float64 {
	if v := cov(i, i) * cov(j, j); v > 0 {
		return math.Max(-1, math.Min(1, cov(i, j)/math.Sqrt(v)))
	}
	return 0
}

func finite(v []float64) bool {
	for _, x := range v {
		if x-x != 0 {
			return false
		}
	}
	return true
}
