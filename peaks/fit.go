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
}

// A group is the separable model of some overlapping peaks: areas are linear; places, logarithms of widths and one
// mixing are not.
type group struct {
	angles []float64
	tube   doublet
	n      int
	shapes []shape
}

// Size implements leastsq.Separable.
func (g *group) Size() (points, linear, nonlinear int) { return len(g.angles), g.n, 2*g.n + 1 }

// setShapes reads the parameters: n places, n logarithms of widths, the mixing.
func (g *group) setShapes(theta []float64) {
	g.shapes = g.shapes[:0]
	for k := range g.n {
		g.shapes = append(g.shapes, g.tube.shape(theta[k], math.Exp(theta[g.n+k]), theta[2*g.n]))
	}
}

// Columns implements leastsq.Separable.
func (g *group) Columns(theta []float64, phi [][]float64) {
	g.setShapes(theta)
	for k, s := range g.shapes {
		for i, t := range g.angles {
			phi[k][i] = s.value(t)
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
		for i, t := range g.angles {
			_, toAt, toFWHM, toEta := s.slopes(t)
			place[i], width[i] = c[k]*toAt, c[k]*toFWHM*s.fwhm
			mix[i] += c[k] * toEta
		}
	}
}

var _ leastsq.Separable = (*group)(nil)

// The priors of a peak's shape against the width curve (common practice: lines of one scan differ by a quarter in
// width); they decide only where the counts cannot.
const (
	widthSpread  = 0.3
	mixingSpread = 0.2
	fitWindow    = 4.0 // widths on either side
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

// fitAll fits every group once, in order of angle, and leaves the sum of all peaks in s.peaks. free lets widths and
// mixing go where the data pull them.
func (s *searcher) fitAll(peaks []fitted, free bool) {
	slices.SortFunc(peaks, func(a, b fitted) int {
		if a.at < b.at {
			return -1
		}
		return 1
	})
	clear(s.peaks)
	for _, p := range peaks {
		s.tube.shape(p.at, p.fwhm, p.eta).addTo(s.scan, s.peaks, p.area)
	}
	sigma := make([]float64, s.scan.Len())
	for i := range sigma {
		sigma[i] = math.Sqrt(s.variance(i))
		if s.masked != nil && s.masked[i] {
			sigma[i] *= 1e3
		}
	}
	for _, g := range groups(peaks, s.tube) {
		s.fitGroup(peaks[g[0]:g[1]], sigma, free)
	}
}

// fitGroup fits peaks together, with all others as they are.
func (s *searcher) fitGroup(peaks []fitted, sigma []float64, free bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range peaks {
		gap, _, _ := s.tube.gap(p.at)
		lo, hi = math.Min(lo, p.at-fitWindow*p.fwhm), math.Max(hi, p.at+gap+fitWindow*p.fwhm)
	}
	i, j := s.scan.Between(lo, hi)
	n := len(peaks)
	if j-i < 3*n+1 {
		return
	}
	for _, p := range peaks {
		s.tube.shape(p.at, p.fwhm, p.eta).addTo(s.scan, s.peaks, -p.area)
	}
	y := make([]float64, j-i)
	for k := range y {
		y[k] = s.scan.Intensity[i+k] - s.background[i+k] - s.peaks[i+k]
	}
	problem := s.problem(peaks, free)
	problem.Model = &group{angles: s.scan.TwoTheta[i:j], tube: s.tube, n: n}
	problem.Y, problem.Sigma = y, sigma[i:j]
	fit, err := leastsq.FitSeparable(context.Background(), problem, leastsq.Settings{MaxIterations: 30, RelTolerance: 1e-7, StepTolerance: 1e-6})
	if err == nil && finite(fit.Theta) && finite(fit.C) {
		accept(peaks, fit, len(y))
	}
	for _, p := range peaks {
		s.tube.shape(p.at, p.fwhm, p.eta).addTo(s.scan, s.peaks, p.area)
	}
}

// problem sets starting values, bounds and priors of a group.
func (s *searcher) problem(peaks []fitted, free bool) leastsq.SeparableProblem {
	n := len(peaks)
	m := 2*n + 1
	p := leastsq.SeparableProblem{Theta: make([]float64, m), Lower: make([]float64, m), Upper: make([]float64, m),
		ThetaPrior: make([]leastsq.Prior, m), NonNegative: make([]bool, n)}
	loose := 1.0
	if free {
		loose = 3
	}
	for k, q := range peaks {
		p.Theta[k], p.Lower[k], p.Upper[k] = q.at, q.at-0.7*q.fwhm, q.at+0.7*q.fwhm
		w := math.Log(q.fwhm)
		mean := math.Log(s.width.At(q.at))
		if w-mean > 0.7 { // found as a broad peak
			mean = w
		}
		floor := math.Log(math.Max(0.5*s.width.Least, 0.7*s.step))
		p.Lower[n+k], p.Upper[n+k] = math.Min(floor, w), math.Max(mean, w)+1.5
		p.Theta[n+k] = w
		p.ThetaPrior[n+k] = leastsq.Prior{Mean: mean, Sigma: widthSpread * loose}
		p.NonNegative[k] = true
	}
	p.Theta[m-1] = math.Min(math.Max(peaks[0].eta, 0.02), 0.98)
	p.Upper[m-1] = 1
	p.ThetaPrior[m-1] = leastsq.Prior{Mean: s.width.Eta, Sigma: mixingSpread * loose}
	return p
}

// accept takes a fit over. Standard uncertainties grow with the misfit where it exceeds the noise.
func accept(peaks []fitted, fit leastsq.SeparableResult, points int) {
	n := len(peaks)
	size := n + len(fit.Theta)
	scale := math.Sqrt(math.Max(1, fit.SumSquares/float64(max(1, points-3*n-1))))
	u := func(k int) float64 { return scale * math.Sqrt(math.Max(0, fit.Covariance[k*size+k])) }
	for k := range peaks {
		p := &peaks[k]
		p.at, p.fwhm, p.eta, p.area = fit.Theta[k], math.Exp(fit.Theta[n+k]), fit.Theta[2*n], fit.C[k]
		p.areaU, p.atU, p.fwhmU = u(k), u(n+k), p.fwhm*u(2*n+k)
	}
}

func finite(v []float64) bool {
	for _, x := range v {
		if x-x != 0 {
			return false
		}
	}
	return true
}

// sumOf returns the curve of all peaks.
func sumOf(scan xrd.Scan, tube doublet, peaks []fitted) []float64 {
	y := make([]float64, scan.Len())
	for _, p := range peaks {
		tube.shape(p.at, p.fwhm, p.eta).addTo(scan, y, p.area)
	}
	return y
}
