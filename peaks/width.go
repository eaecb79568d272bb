package peaks

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"phasetally/xrd"
)

// instrumentWidth turns an instrument's Gaussian and Lorentzian widths into a width curve over the scan.
func instrumentWidth(scan xrd.Scan, in xrd.Instrument) WidthCurve {
	lo, hi := scan.Range()
	var samples []start
	for k := range 16 {
		t := math.Min(lo+(hi-lo)*(float64(k)+0.5)/16, 165)
		fwhm, eta := xrd.ThompsonCoxHastings(in.GaussianFWHM(t), in.LorentzianFWHM(t))
		samples = append(samples, start{at: t, fwhm: fwhm, eta: eta, score: 100})
	}
	w := widthThrough(samples, scan.Step())
	w.Peaks, w.Axial = 0, in.Axial
	return w
}

// firstWidth finds the one width at which the strongest features match best.
func (s *searcher) firstWidth() WidthCurve {
	step := s.step
	grid := []float64{}
	for w := math.Max(1.5*step, 0.025); w < math.Max(0.5, 4*step) && len(grid) < 20; w *= 1.3 {
		grid = append(grid, w)
	}
	middle := math.Min(math.Max(5*step, 0.06), 0.2)
	s.begin(constantWidth(middle, 0.5, step), 0, nil)
	var widths []float64
	for _, i := range s.tops(12) {
		best, bestWidth := 0.0, middle
		for _, w := range grid {
			k := s.kernelAt(i, w, 0.5)
			for j := max(k.run.First, i-2); j < min(i+3, k.run.End); j++ {
				if _, z := s.apply(k, j); z > best {
					best, bestWidth = z, w
				}
			}
		}
		widths = append(widths, bestWidth)
	}
	if len(widths) == 0 {
		return constantWidth(math.Max(0.1, 3*step), 0.5, step)
	}
	slices.Sort(widths)
	return constantWidth(widths[len(widths)/3], 0.5, step)
}

// tops returns the n highest maxima of the score above 4, at least a degree apart.
func (s *searcher) tops(n int) []int {
	var all []int
	for i, z := range s.score {
		if z > 4 && s.isTop(i) {
			all = append(all, i)
		}
	}
	slices.SortFunc(all, func(a, b int) int { return cmp.Compare(s.score[b], s.score[a]) })
	var out []int
	for _, i := range all {
		near := slices.ContainsFunc(out, func(j int) bool { return math.Abs(s.scan.TwoTheta[i]-s.scan.TwoTheta[j]) < 1 })
		if !near {
			out = append(out, i)
		}
		if len(out) == n {
			break
		}
	}
	return out
}

func constantWidth(w, eta, step float64) WidthCurve {
	return WidthCurve{W: w * w, Eta: eta, Least: math.Max(0.5*w, step), Most: 2 * w}
}

// widthThrough fits a width curve to measured widths, robustly: specimens broaden some peaks, so the curve starts from
// the narrower third.
func widthThrough(peaks []start, step float64) WidthCurve {
	ratio := make([]float64, len(peaks))
	for i, p := range peaks {
		ratio[i] = p.fwhm
	}
	slices.Sort(ratio)
	typical := ratio[len(ratio)/3]
	curve := constantWidth(typical, meanMixing(peaks), step)
	curve.Least, curve.Most = math.Max(0.5*typical, step), 3*typical
	terms := 1
	switch lo, hi := tanRange(peaks); {
	case len(peaks) >= 8 && hi-lo > 0.4:
		terms = 3
	case len(peaks) >= 4 && hi-lo > 0.2:
		terms = 2
	}
	for range 6 {
		for i, p := range peaks {
			ratio[i] = math.Log(p.fwhm / curve.At(p.at))
		}
		u, ok := solveWidth(peaks, ratio, terms)
		if !ok {
			break
		}
		curve.U, curve.V, curve.W = u[0], u[1], u[2]
	}
	curve.Peaks = len(peaks)
	return curve
}

// meanMixing weighs each Lorentzian share by how well its peak stands out.
func meanMixing(peaks []start) float64 {
	var sum, weight float64
	for _, p := range peaks {
		w := p.score * p.score
		sum, weight = sum+w*p.eta, weight+w
	}
	if !(weight > 0) {
		return 0.5
	}
	return sum / weight
}

func tanRange(peaks []start) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range peaks {
		t := math.Tan(xrd.Radians(p.at) / 2)
		lo, hi = math.Min(lo, t), math.Max(hi, t)
	}
	return lo, hi
}

// solveWidth returns U, V, W by least squares on relative widths, with Tukey weights of the logarithmic residuals.
// One term is W alone, two are W and U.
func solveWidth(peaks []start, residual []float64, terms int) (u [3]float64, ok bool) {
	const cutoff = 0.35
	a, b := mat.NewSymDense(terms, nil), mat.NewVecDense(terms, nil)
	for i, p := range peaks {
		r := residual[i] / cutoff
		if math.Abs(r) >= 1 {
			continue
		}
		w := (1 - r*r) * (1 - r*r) * math.Min(p.score, 100) / math.Pow(p.fwhm, 4)
		t := math.Tan(xrd.Radians(p.at) / 2)
		x := []float64{1, t * t, t}
		for j := range terms {
			b.SetVec(j, b.AtVec(j)+w*x[j]*p.fwhm*p.fwhm)
			for k := j; k < terms; k++ {
				a.SetSym(j, k, a.At(j, k)+w*x[j]*x[k])
			}
		}
	}
	for j := range terms {
		a.SetSym(j, j, a.At(j, j)*(1+1e-6))
	}
	var c mat.Cholesky
	var sol mat.VecDense
	if !c.Factorize(a) || c.SolveVecTo(&sol, b) != nil {
		return u, false
	}
	u[2] = sol.AtVec(0)
	if terms > 1 {
		u[0] = sol.AtVec(1)
	}
	if terms > 2 {
		u[1] = sol.AtVec(2)
	}
	return u, true
}
