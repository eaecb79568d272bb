package quantify

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// A Slope is a trend of ln(observed/fitted intensity) with its standard uncertainty.
type Slope struct {
	Value float64 // for one unit of what it is against
	U     float64 // standard uncertainty; infinite when nothing is known
}

// Sigmas returns the trend over its uncertainty, 0 when nothing is known.
func (s Slope) Sigmas() float64 {
	if !(s.U > 0) || math.IsInf(s.U, 0) {
		return 0
	}
	return s.Value / s.U
}

// Trends are what the intensities of all lines do with the angle beyond what the model allows. An automatic slit that
// was taken for a fixed one makes every phase follow ln sin θ with a slope of 1; a beam longer than the specimen does so
// below a limit only; under a layer the lines of the substrate rise with the angle while those of the layer fall.
type Trends struct {
	Slit       Slope   // of ln(obs/fit) against ln sin θ, common to all phases
	Full       float64 // degrees 2θ above which the beam seems to lie on the specimen; NaN when the trend has no such end
	Phases     []Slope // of each phase alone, against −1/sin θ: above 0 when it rises with the angle
	Lines      int     // that the common slope rests on
	Improved   float64 // χ² that the common slope takes away
	LimitGains float64 // further χ² that an end of the trend takes away
}

// trendPoint is one line.
type trendPoint struct {
	phase       int
	sin, s2     float64 // sin θ and (sin θ/λ)²
	y, variance float64 // ln(obs/fit)
}

// TrendsOf looks for trends in the lines of a fit. The displacement parameter of each phase, which could take up a trend,
// is let go as far as its prior allows.
func TrendsOf(f *pattern.Fit) Trends {
	points := trendPoints(f, func(l pattern.LineFit) float64 { return l.Fitted })
	t := Trends{Full: math.NaN(), Lines: len(points), Phases: make([]Slope, len(f.Scales))}
	plain := regress(f, points, nil)
	slit := regress(f, points, func(p trendPoint) float64 { return math.Log(p.sin) })
	t.Slit, t.Improved = slit.slope, plain.chi2-slit.chi2
	for full := 20.0; full <= 80; full += 2 {
		limit := math.Sin(xrd.Radians(full) / 2)
		ended := regress(f, points, func(p trendPoint) float64 { return math.Min(0, math.Log(p.sin/limit)) })
		if gain := slit.chi2 - ended.chi2; gain > t.LimitGains && ended.slope.Value > 0 {
			t.LimitGains, t.Full = gain, full
		}
	}
	// A layer makes the lines of a phase look textured; what the model took for texture is part of its trend.
	bare := trendPoints(f, func(l pattern.LineFit) float64 { return l.Expected })
	for p := range t.Phases {
		var own []trendPoint
		for _, q := range bare {
			if q.phase == p {
				own = append(own, q)
			}
		}
		t.Phases[p] = regress(f, own, func(q trendPoint) float64 { return -1 / q.sin }).slope
	}
	return t
}

// trendPoints returns the lines that stand clear against what a model says of them, with the variance of counting and of
// the scatter that any phase has.
func trendPoints(f *pattern.Fit, model func(pattern.LineFit) float64) []trendPoint {
	var out []trendPoint
	for p := range f.Scales {
		for _, l := range f.Lines(p) {
			if !l.Own() || !(l.Observed > 5*l.ObservedU) {
				continue
			}
			d := math.Log(l.Observed / model(l))
			u := l.ObservedU / l.Observed
			out = append(out, trendPoint{p, f.Setup.Radiation.KAlpha1 / (2 * l.Line.D), 1 / (4 * l.Line.D * l.Line.D), d, u*u + leastScatter*leastScatter})
		}
	}
	return out
}

// leastScatter is the relative scatter that is allowed to the lines of any phase (common practice).
const leastScatter = 0.03

// regression is the outcome of a weighted linear fit.
type regression struct {
	slope Slope
	chi2  float64 // not scaled
}

// regress fits y = a_p − 2 s² ΔB_p + c g with a scale a_p and a displacement parameter ΔB_p for each phase, whose prior is
// that of the fit, and a common slope c of g (nil: none).
func regress(f *pattern.Fit, points []trendPoint, g func(trendPoint) float64) regression {
	phases := len(f.Scales)
	n := 2*phases + 1
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	var chi2 float64
	type coefficient struct {
		of    int
		value float64
	}
	observe := func(y, variance float64, row ...coefficient) { // in the order of the parameters
		for k, u := range row {
			b.SetVec(u.of, b.AtVec(u.of)+u.value*y/variance)
			for _, v := range row[k:] {
				a.SetSym(u.of, v.of, a.At(u.of, v.of)+u.value*v.value/variance)
			}
		}
		chi2 += y * y / variance
	}
	trend := func(trendPoint) float64 { return 0 }
	if g != nil {
		trend = g
	}
	for _, p := range points {
		observe(p.y, p.variance, coefficient{2 * p.phase, 1}, coefficient{2*p.phase + 1, -2 * p.s2}, coefficient{n - 1, trend(p)})
	}
	for p := range phases {
		observe(0, 1, coefficient{2 * p, 1}) // a scale is known to a factor of e: keeps what has no lines solvable
		mean, variance := 0.0, 1e-6
		if q, ok := f.Get(pattern.Thermal, p); ok && q.Prior.Sigma > 0 {
			mean, variance = q.Prior.Mean-q.Value, q.Prior.Sigma*q.Prior.Sigma
		}
		observe(mean, variance, coefficient{2*p + 1, 1})
	}
	if g == nil {
		observe(0, 1e-12, coefficient{n - 1, 1})
	} else {
		observe(0, 100, coefficient{n - 1, 1}) // a slope beyond ±10 is nothing that optics make
	}
	var c mat.Cholesky
	if !c.Factorize(a) {
		return regression{Slope{0, math.Inf(1)}, chi2}
	}
	var x mat.VecDense
	var inverse mat.SymDense
	if c.SolveVecTo(&x, b) != nil || c.InverseTo(&inverse) != nil {
		return regression{Slope{0, math.Inf(1)}, chi2}
	}
	chi2 -= mat.Dot(&x, b)
	// Lines that scatter more than was allowed tell less, by as much.
	more := math.Max(1, chi2/math.Max(1, float64(len(points)-2*phasesOf(points)-1)))
	return regression{Slope{x.AtVec(n - 1), math.Sqrt(more * inverse.At(n-1, n-1))}, chi2}
}

// phasesOf counts the phases that some lines belong to.
func phasesOf(points []trendPoint) int {
	seen := map[int]bool{}
	for _, p := range points {
		seen[p.phase] = true
	}
	return len(seen)
}
