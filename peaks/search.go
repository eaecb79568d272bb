package peaks

import (
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// A pseudo-Voigt misses a measured profile by a few percent (common practice), an unfitted one by more. What is left
// within some widths of a strong peak must exceed that before it is called a shoulder.
const (
	misfitShare   = 0.03 // of the area of a fitted neighbour, at its place
	roughMisfit   = 0.08 // before the fit
	misfitReaches = 1.5  // widths at which the misfit has halved
)

// A start is where a fit of a peak begins.
type start struct {
	at, fwhm, eta, area, score float64
}

// A searcher holds the matched filter of one scan: what is left to explain, and how uncertain it is.
type searcher struct {
	solver      leastsq.SeparableSolver // keeps its memory from group to group
	scan        xrd.Scan
	runs        []xrd.Run // stretches of the scan without a gap
	even        bool
	step        float64 // median, degrees
	tube        doublet
	width       WidthCurve
	noise       NoiseModel
	background  []float64
	backgroundU []float64 // standard uncertainty of the background
	faint       float64   // intensity that is lost in the noise
	peaks       []float64 // the peaks so far
	nearby      []float64 // area of the peaks so far, fading over misfitReaches
	misfit      float64   // standard uncertainty of a new peak's area per nearby area
	masked      []bool    // spikes
	stripped    bool      // Kα2 was taken out of the data
	resolved    bool      // Kα2 is there, and apart from Kα1
	kAlphaAlone bool      // no other wavelength reaches the detector
	rest        []float64
	weight      []float64 // 1/variance
	skew        []float64 // third central moment
	score       []float64
	sigma       []float64 // under the peaks of the last fit
	blocked     []bool    // too near to a peak already found
	kernel      kernel
}

// A kernel is the filter at one angle: values at points lo, lo+1, … relative to that angle's point.
type kernel struct {
	run    xrd.Run // of the point that it was made for; it looks no farther
	lo     int
	values []float64
	angles []float64 // of the values on an even scan, which may lie beyond its ends
}

// fill computes the values at the given angles.
func (k *kernel) fill(sh shape, angles []float64) *kernel {
	k.values = slices.Grow(k.values[:0], len(angles))[:len(angles)]
	clear(k.values)
	sh.add(k.values, angles, 1)
	return k
}

// kernelBlock is for how many points of an even scan one kernel serves: the width changes far more slowly.
const kernelBlock = 32

func newSearcher(scan xrd.Scan, tube doublet, noise NoiseModel, background []float64, masked []bool) *searcher {
	n := scan.Len()
	s := &searcher{scan: scan, even: scan.EvenSteps(), step: scan.Step(), tube: tube, noise: noise, background: background, masked: masked}
	s.runs = xrd.Runs(scan.TwoTheta)
	s.peaks, s.nearby = make([]float64, n), make([]float64, n)
	s.rest, s.weight, s.skew = make([]float64, n), make([]float64, n), make([]float64, n)
	s.sigma, s.backgroundU = make([]float64, n), make([]float64, n)
	for i := range s.sigma {
		s.sigma[i] = math.Sqrt(s.variance(i))
		s.backgroundU[i] = math.Hypot(slack*background[i], s.sigma[i])
	}
	s.faint = faintTail * median(sample(s.sigma))
	s.score, s.blocked = make([]float64, n), make([]bool, n)
	return s
}

// variance returns that of point i when the peaks so far are all there is.
func (s *searcher) variance(i int) float64 {
	v, _ := s.moments(i, s.background[i]+s.peaks[i])
	return v
}

// prepare brings rest, weight and skew of points [i, j) up to date.
func (s *searcher) prepare(i, j int) {
	for ; i < j; i++ {
		mean := s.background[i] + s.peaks[i]
		v, skew := s.moments(i, mean)
		s.rest[i], s.weight[i], s.skew[i] = s.scan.Intensity[i]-mean, 1/v, skew
		if s.masked != nil && s.masked[i] {
			s.weight[i] = 0
		}
	}
}

// kernelAt returns the filter for a width at point i.
func (s *searcher) kernelAt(i int, fwhm, eta float64) *kernel {
	k := &s.kernel
	t := s.scan.TwoTheta[i]
	sh := s.tube.shape(t, fwhm, eta, s.width.Axial)
	k.run, k.values = xrd.RunOf(s.runs, i), k.values[:0]
	if s.even { // beyond the ends, too, since the kernel also serves its neighbours
		step := s.step
		n := s.scan.Len()
		lo, hi := max(i-n, i-int(1.5*fwhm/step)), min(i+n, i+int((1.5*fwhm+sh.gap)/step)+1)
		k.lo = lo - i
		k.angles = k.angles[:0]
		for j := lo; j < hi; j++ {
			k.angles = append(k.angles, t+float64(j-i)*step)
		}
		return k.fill(sh, k.angles)
	}
	lo, hi := s.scan.Between(t-1.5*fwhm, t+sh.gap+1.5*fwhm)
	lo, hi = max(min(lo, i), k.run.First), min(max(hi, i+1), k.run.End)
	k.lo = lo - i
	return k.fill(sh, s.scan.TwoTheta[lo:hi])
}

// filled returns a shape at points [i, j); the next kernel takes its place.
func (s *searcher) filled(sh shape, i, j int) []float64 {
	return s.kernel.fill(sh, s.scan.TwoTheta[i:j]).values
}

// moments returns the variance and the third central moment of point i when its expected intensity is mean.
func (s *searcher) moments(i int, mean float64) (variance, third float64) {
	if s.scan.Sigma != nil {
		return s.scan.Sigma[i] * s.scan.Sigma[i], 0
	}
	g := s.noise.Gain
	return s.noise.Variance(mean), g * g * math.Max(mean, 0.05*g)
}

// shapeOf returns the shape of a peak of this scan.
func (s *searcher) shapeOf(p start) shape { return s.tube.shape(p.at, p.fwhm, p.eta, s.width.Axial) }

// apply returns the area under the filter at point i and its significance in standard deviations of the noise.
func (s *searcher) apply(k *kernel, i int) (area, score float64) {
	area, score, information := s.applyRaw(k, i)
	misfit := s.misfit * s.nearby[i]
	return area, score / math.Sqrt(1+misfit*misfit*information)
}

// applyRaw is apply without regard to the misfit of neighbours; information is the inverse variance of the area.
func (s *searcher) applyRaw(k *kernel, i int) (area, score, information float64) {
	lo, hi := i+k.lo, i+k.lo+len(k.values)
	first := max(0, k.run.First-lo)
	hi = min(hi, k.run.End)
	var tt, tr, third float64
	for j := lo + first; j < hi; j++ {
		t := k.values[j-lo]
		w := s.weight[j] * t
		tt += w * t
		tr += w * s.rest[j]
		third += w * w * w * s.skew[j]
	}
	if !(tt > 0) {
		return 0, 0, 0
	}
	return tr / tt, significance(tr, tt, third), tt
}

// addNearby adds the fading area of a peak, as far as it can hide another.
func (s *searcher) addNearby(p start) {
	sh := s.shapeOf(p)
	w := misfitReaches * p.fwhm
	i, j := s.scan.Between(p.at-5*w, p.at+sh.gap+5*w)
	for ; i < j; i++ {
		s.nearby[i] += nearbyArea(sh, p.area, w, s.scan.TwoTheta[i])
	}
}

func nearbyArea(sh shape, area, w, t float64) float64 {
	x, x2 := (t-sh.at)/w, (t-sh.at-sh.gap)/w
	return area * (sh.share/(1+x*x*x*x) + (1-sh.share)/(1+x2*x2*x2*x2))
}

// significance turns a weighted sum with its variance and third moment under the null hypothesis into standard
// deviations. A sum of weighted counts is skew; it behaves as a Poisson variable in units of third/variance, whose
// signed root of the deviance is nearly normal (from memory: McCullagh & Nelder, Generalized Linear Models).
func significance(sum, variance, third float64) float64 {
	unit := third / variance
	if !(sum > 0) || !(unit > 1e-9*sum) || !(unit*unit > 1e-9*variance) {
		return sum / math.Sqrt(variance)
	}
	mean, excess := variance/(unit*unit), sum/unit
	return math.Sqrt(2 * ((mean+excess)*math.Log1p(excess/mean) - excess))
}

// scoreRange brings the scores of points [i, j) up to date.
func (s *searcher) scoreRange(i, j int) {
	made := -kernelBlock
	var k *kernel
	for i, j = max(i, 0), min(j, len(s.score)); i < j; i++ {
		if k == nil || !s.even || i-made >= kernelBlock || i >= k.run.End {
			at := i
			if s.even {
				at = min(i+kernelBlock/2, xrd.RunOf(s.runs, i).End-1)
			}
			k, made = s.kernelAt(at, s.width.At(s.scan.TwoTheta[at]), s.width.Eta), i
		}
		_, s.score[i] = s.apply(k, i)
	}
}

// begin prepares a search that starts from the given peaks.
func (s *searcher) begin(width WidthCurve, misfit float64, known []start) {
	s.width, s.misfit = width, misfit
	clear(s.peaks)
	clear(s.nearby)
	clear(s.blocked)
	for _, r := range s.runs { // a peak that the end of a run cuts cannot be measured
		s.block(s.scan.TwoTheta[r.First])
		s.block(s.scan.TwoTheta[r.End-1])
	}
	for _, p := range known {
		s.add(p, 1)
		s.addNearby(p)
		s.block(p.at)
	}
	s.prepare(0, len(s.rest))
	s.scoreRange(0, len(s.score))
}

// block keeps further peaks from within half a width, and a step, of one that is there.
func (s *searcher) block(at float64) {
	w := math.Max(0.5*s.width.At(at), s.step)
	i, j := s.scan.Between(at-w, at+w)
	for ; i < j; i++ {
		s.blocked[i] = true
	}
}

// run takes the strongest peak, explains it away, and repeats until noise could have made what is left.
func (s *searcher) run(threshold float64, most int) []start {
	var found []start
	for len(found) < most {
		best := -1
		for i, z := range s.score {
			if z >= threshold && !s.blocked[i] && (best < 0 || z > s.score[best]) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		if !s.isTop(best) {
			s.blocked[best] = true // the flank of a peak that is there
			continue
		}
		p := s.measure(best)
		found = append(found, p)
		s.explain(p)
	}
	return found
}

// isTop reports whether the score at i is not below both neighbours.
func (s *searcher) isTop(i int) bool {
	r := xrd.RunOf(s.runs, i)
	return (i == r.First || s.score[i-1] <= s.score[i]) && (i == r.End-1 || s.score[i+1] <= s.score[i])
}

// fromEnd returns how far an angle lies within its run, degrees from the nearer end; below 0 in a gap.
func (s *searcher) fromEnd(at float64) float64 {
	inside := math.Inf(-1)
	for _, r := range s.runs {
		inside = math.Max(inside, math.Min(at-s.scan.TwoTheta[r.First], s.scan.TwoTheta[r.End-1]-at))
	}
	return inside
}

// runAt returns the first and the last angle of the run that an angle lies in or is nearest to.
func (s *searcher) runAt(at float64) (first, last float64) {
	i, _ := s.scan.Between(at, at)
	i = min(i, s.scan.Len()-1)
	if i > 0 && at-s.scan.TwoTheta[i-1] < s.scan.TwoTheta[i]-at {
		i--
	}
	r := xrd.RunOf(s.runs, i)
	return s.scan.TwoTheta[r.First], s.scan.TwoTheta[r.End-1]
}

// broader are the widths, relative to the instrument's, at which a peak is tried as well.
var broader = []float64{2.5, 4.5}

// measure turns the top of the score into a start, by a parabola through it and its neighbours. A much broader peak than
// the instrument's is taken for one only when it is clearly the better match.
func (s *searcher) measure(i int) start {
	t := s.scan.TwoTheta
	p := start{at: t[i], fwhm: s.width.At(t[i]), eta: s.width.Eta}
	p.area, p.score, _ = s.applyRaw(s.kernelAt(i, p.fwhm, p.eta), i)
	run := s.kernel.run
	if i > run.First && i+1 < run.End {
		a, b, c := s.score[i-1], s.score[i], s.score[i+1]
		if bend := a - 2*b + c; bend < 0 {
			p.at += math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/bend)) * (t[i+1] - t[i-1]) / 2
		}
	}
	best := 1.3 * p.score
	narrow := p.fwhm
	for _, b := range broader {
		lo, hi := s.scan.Between(t[i]-narrow, t[i]+narrow)
		if s.occupied(t[i], b*narrow) {
			break // what is left beside a peak is its misfit, not a broad peak
		}
		k := s.kernelAt(i, b*narrow, p.eta)
		lo, hi = max(lo, run.First), min(hi, run.End)
		if !s.even {
			lo, hi = i, i+1
		}
		for j := lo; j < hi; j++ {
			if area, z, _ := s.applyRaw(k, j); z > best {
				best = z
				p = start{at: t[j], fwhm: b * narrow, eta: p.eta, area: area, score: z}
			}
		}
	}
	return p
}

// occupied reports whether a peak that is already there lies within half a width.
func (s *searcher) occupied(at, fwhm float64) bool {
	i, j := s.scan.Between(at-0.7*fwhm, at+0.7*fwhm)
	for ; i < j; i++ {
		if s.blocked[i] {
			return true
		}
	}
	return false
}

// touched is how far, in widths, a new peak changes the scores enough to compute them anew.
const touched = 10

// explain adds a peak to those that are there and rescores what it touches.
func (s *searcher) explain(p start) {
	sh := s.shapeOf(p)
	s.add(p, 1)
	s.addNearby(p)
	s.block(p.at)
	s.prepare(s.drawn(p))
	i, j := s.scan.Between(p.at-touched*p.fwhm, p.at+sh.gap+touched*p.fwhm)
	margin := int((sh.gap+2*s.width.At(p.at))/s.step) + 1
	s.scoreRange(i-margin, j+margin)
}

// looks returns the number of independent places of the scan: the sum of steps, those over gaps left out, over widths.
func looks(scan xrd.Scan, width WidthCurve) float64 {
	n := 0.0
	for _, r := range xrd.Runs(scan.TwoTheta) {
		for i := r.First + 1; i < r.End; i += 8 {
			k := min(i+8, r.End-1)
			n += (scan.TwoTheta[k] - scan.TwoTheta[i-1]) / width.At(scan.TwoTheta[i])
		}
	}
	return math.Max(n, 1)
}

// threshold returns the significance that noise alone exceeds falseAlarms times in a scan. The filtered noise is a
// smooth Gaussian process whose correlation is that of the filter with itself; it crosses z upwards
// 1/(2π) √(4 ln 2) exp(−z²/2) times a width (Rice 1945, from memory).
func threshold(looks, falseAlarms float64) float64 {
	rate := math.Sqrt(4*math.Ln2) / (2 * math.Pi)
	return math.Sqrt(2 * math.Max(math.Log(rate*looks/falseAlarms), 2))
}
