package pattern

import (
	"math"
	"slices"
	"sort"

	"phasetally/refdata"
	"phasetally/xrd"
)

// A LineFit compares one line of a phase with the scan. Areas are integrated intensities of the Kα doublet, counts ×
// degrees.
type LineFit struct {
	Line      refdata.Line // of the reference
	TwoTheta  float64      // of Kα1 as fitted, degrees
	FWHM      float64      // degrees
	Expected  float64      // without texture
	Fitted    float64      // with texture
	Observed  float64      // with the residual under the line given to it
	ObservedU float64      // standard uncertainty from counting
	MisfitU   float64      // the same with the misfit of everything under the line, its own left out
	Clear     float64      // share of the line's phase in what the phases put under it: 1 when it stands alone
	Covered   bool         // the scan covers the line's centre and flanks
	Diffuse   bool         // so wide that background may be taken for it; for who judges the evidence to say
}

// Lines compares every line of phase number p, in ascending angle, with the scan.
func (f *Fit) Lines(p int) []LineFit {
	m := f.model
	pm := &m.phases[p]
	v := m.view(p)
	var buffer []float64
	out := make([]LineFit, 0, len(pm.lines))
	for l := range pm.lines {
		if lf, ok := f.line(v, p, l, &buffer); ok {
			out = append(out, lf)
		}
	}
	return out
}

// pointsInLine is how many points make up a line one point wide: between 1.5 (Gauss) and π (Lorentz).
const pointsInLine = 2.0

// OwnMisfit returns the relative standard uncertainty that the misfit of the fit, κ at every point, leaves the area of a line.
func (f *Fit) OwnMisfit(l LineFit) float64 {
	x := f.Setup.TwoTheta
	runs := f.runs()
	step := xrd.Covered(x, runs) / float64(len(x)-len(runs))
	return f.Kappa / math.Sqrt(math.Max(1, pointsInLine*l.FWHM/step))
}

// runs returns the stretches of the scan without a gap.
func (f *Fit) runs() []xrd.Run {
	if f.model == nil {
		return xrd.Runs(f.Setup.TwoTheta)
	}
	return f.model.runs
}

// line makes one comparison, with a buffer for the profile of the line.
func (f *Fit) line(v phaseView, p, l int, buffer *[]float64) (LineFit, bool) {
	m := f.model
	out := LineFit{Line: m.phases[p].lines[l], Clear: 1}
	x := m.setup.TwoTheta
	var shapes [2]shape // of the doublet
	n, first, last := 0, len(x), 0
	for e := range m.emissions {
		if m.emissions[e].share < 0 {
			continue
		}
		t, ok := m.newTerm(p, l, e)
		if !ok {
			return out, false
		}
		s, ok := m.shape(v, &t, nil)
		if !ok {
			return out, false
		}
		if e == 0 {
			out.TwoTheta, out.FWHM = s.centre, s.fwhm
			out.Covered = covered(x, s.centre, s.fwhm)
		}
		s.area *= f.Scales[p]
		out.Fitted += s.area
		out.Expected += f.Scales[p] * t.base * m.share(&t) * m.trend(&t)
		i, j := window(x, s)
		first, last = min(first, i), max(last, j)
		shapes[n] = s
		n++
	}
	if first >= last {
		return out, false
	}
	profile := slices.Grow((*buffer)[:0], last-first)[:last-first]
	clear(profile)
	for _, s := range shapes[:n] {
		i, j := window(x, s)
		addProfile(x[i:j], profile[i-first:j-first], s, xrd.AxialNodes(math.Abs(s.tail)/s.fwhm))
	}
	*buffer = profile
	f.compare(&out, p, profile, first)
	return out, true
}

// window returns the points of ascending angles that hold most of a profile.
func window(x []float64, s shape) (first, end int) {
	reach := 2.5*s.fwhm + math.Abs(s.tail)
	return sort.SearchFloat64s(x, s.centre-reach), sort.SearchFloat64s(x, s.centre+reach)
}

// compare fits the residual with the profile of a line; profile starts at point number first.
func (f *Fit) compare(out *LineFit, p int, profile []float64, first int) {
	var pr, pp, ppMisfit, own, all float64
	for k, q := range profile {
		i := first + k
		others := f.Fitted[i] - f.Background[i] - f.Curves[p][i]
		pr += q * (f.Setup.Intensity[i] - f.Fitted[i]) / f.Noise[i]
		pp += q * q / f.Noise[i]
		d := f.Kappa * (others + math.Max(0, f.Curves[p][i]-q))
		ppMisfit += q * q / (f.Noise[i] + d*d)
		own += q * q
		all += q * (q + math.Max(0, others))
	}
	if !(pp > 0) {
		out.Observed, out.ObservedU, out.MisfitU = math.NaN(), math.NaN(), math.NaN()
		return
	}
	out.Observed = out.Fitted * (1 + pr/pp)
	out.ObservedU = out.Fitted / math.Sqrt(pp)
	out.MisfitU = out.Fitted / math.Sqrt(ppMisfit)
	out.Clear = own / all
}

// covered reports whether the scan has points over the whole width of a line, without a gap.
func covered(x []float64, centre, fwhm float64) bool {
	i := sort.SearchFloat64s(x, centre-fwhm)
	j := sort.SearchFloat64s(x, centre+fwhm)
	if i == 0 || j >= len(x) {
		return false
	}
	for k := i; k <= j; k++ {
		if x[k]-x[k-1] > fwhm {
			return false
		}
	}
	return true
}

const (
	scatterSigmas = 10.0 // how far above counting a line stands that is asked
	scatterFloor  = 0.03 // relative misfit of strong lines, so that none of them decides alone
)

// IntensityScatter returns the standard deviation of observed over fitted intensity of a phase's own lines beyond counting, and how many
// lines it rests on.
func IntensityScatter(lines []LineFit) (scatter float64, n int) {
	var excess, weight float64
	for _, l := range lines {
		if !l.Own() || !(l.Fitted > scatterSigmas*l.ObservedU) {
			continue
		}
		d, u := l.Observed/l.Fitted-1, l.ObservedU/l.Fitted
		w := 1 / (u*u + scatterFloor*scatterFloor)
		excess += w * (d*d - u*u)
		weight += w
		n++
	}
	if !(weight > 0) {
		return 0, n
	}
	return math.Sqrt(math.Max(0, excess/weight)), n
}
