package peaks

import (
	"cmp"
	"math"
	"slices"

	"phasetally/xrd"
)

// Find searches a scan taken with a radiation for peaks and fits them. It never fails: a scan without peaks gives none,
// and every doubt is a caution.
//
// The noise model gives the variance of each point from the expected, not the observed, intensity; a smooth background
// is laid under the peaks; a filter matched to the Kα doublet at the width of the instrument takes the strongest peak,
// explains it away, and repeats; overlapping groups are fitted, the background is laid again under what they leave, and
// the residual is searched for shoulders.
func Find(scan xrd.Scan, radiation xrd.Radiation, settings Settings) Found {
	noise := MeasureNoise(scan)
	f := find(scan, noise, radiation, settings)
	for range mostCorrections {
		share := f.scatterShare(scan)
		if noise.Kind != Estimated || !(share < noise.leastShare()) {
			break
		}
		noise.Gain, noise.Floor, noise.Correlation = noise.Gain*share, noise.Floor*share, 0
		noise = noise.of(scan)
		f = find(scan, noise, radiation, settings)
	}
	return f
}

// mostCorrections ends the corrections of an estimated noise by what fits leave.
const mostCorrections = 3

// leastShare is the least scatter about a fit, over that of an estimated noise, that contradicts it not: points smoothed over up to
// farLag neighbours scatter by so much less, others by half at the least.
func (m NoiseModel) leastShare() float64 {
	if m.Correlation >= smoothed {
		return 0.5 / farLag
	}
	return 0.5
}

// scatterShare returns the median square of what a fit leaves over the variance of each point, over that of chance.
func (f Found) scatterShare(scan xrd.Scan) float64 {
	const medianOfChance = 0.4549 // of χ² with one degree of freedom
	squares := make([]float64, len(f.Fitted))
	for i, y := range f.Fitted {
		z := (scan.Intensity[i] - y) / f.Sigma[i]
		squares[i] = z * z
	}
	return median(squares) / medianOfChance
}

// find is Find with a noise model.
func find(scan xrd.Scan, noise NoiseModel, radiation xrd.Radiation, settings Settings) Found {
	set := settings.orDefaults()
	bad := defects{dropped: few(findDropped(scan, noise), scan)}
	scan = bridged(scan, bad.dropped)
	background := Background(scan, noise, radiation.KAlpha1)
	bad.clipped = few(findClipped(scan, noise, background), scan)
	bad.spikes = few(findSpikes(scan, noise, background), scan)
	for _, kind := range []*[]int{&bad.spikes, &bad.clipped} { // all of them together are few, too
		if few(bad.points(), scan) == nil {
			*kind = nil
		}
	}
	s := newSearcher(scan, newDoublet(radiation), noise, background, bad.mask(scan.Len()))
	s.kAlphaAlone = set.KAlphaAlone

	if set.Instrument != nil {
		s.width = instrumentWidth(scan, *set.Instrument)
	} else {
		s.estimateWidth(set)
	}
	bad = bad.withoutCoarse(scan, s.width)
	s.masked = bad.mask(scan.Len())
	scan = bridged(scan, bad.spikes)
	limit := threshold(looks(scan, s.width), set.FalseAlarms)
	s.begin(s.width, roughMisfit, nil)
	found := s.fitStarts(nil, s.run(limit, set.MaxPeaks), roughly)
	for range 2 {
		found = s.splitWide(found)
		s.background, s.backgroundU = refineBackground(scan, noise, s.tube.one, s.background, s.peaks)
		s.begin(s.width, misfitShare, starts(found))
		more := s.run(limit, set.MaxPeaks-len(found))
		found = s.fitStarts(found, more, roughly)
		found = s.dropWeak(found, limit)
		if len(more) == 0 {
			break
		}
	}
	s.background, s.backgroundU = refineBackground(scan, noise, s.tube.one, s.background, s.peaks)
	s.fitAll(found, nearCurve)
	found = s.dropWeak(found, limit)
	return s.result(found, limit, radiation, bad)
}

// estimateWidth finds the width curve from isolated strong peaks of the scan.
func (s *searcher) estimateWidth(set Settings) {
	first := s.firstWidth()
	limit := threshold(looks(s.scan, first), set.FalseAlarms)
	s.begin(first, roughMisfit, nil)
	var found []fitted
	for _, p := range s.run(math.Max(limit, 6), 18) {
		found = append(found, fitted{start: p})
	}
	s.fitAll(found, freeShapes)
	if s.stripped = s.lacksKAlpha2(found); s.stripped {
		s.fitAll(found, freeShapes)
	}
	s.scanAxial(found)
	s.background, s.backgroundU = refineBackground(s.scan, s.noise, s.tube.one, s.background, s.peaks)
	s.fitAll(found, freeShapes)
	var good []start
	for _, p := range found {
		if p.area > 12*p.areaU && p.fwhmU < 0.15*p.fwhm && p.areaU > 0 {
			good = append(good, p.start)
		}
	}
	if len(good) > 0 {
		axial, u := s.width.Axial, s.width.AxialU
		s.width = widthThrough(good, s.step)
		s.width.Axial, s.width.AxialU = axial, u
	}
}

// fitStarts adds starts to fitted peaks and fits all.
func (s *searcher) fitStarts(found []fitted, more []start, free freedom) []fitted {
	for _, p := range more {
		found = append(found, fitted{start: p})
	}
	s.fitAll(found, free)
	return found
}

// lacksKAlpha2 reports whether strong peaks at high angles are clearly better fitted without Kα2, and then does without. The contrary is
// kept, too.
func (s *searcher) lacksKAlpha2(found []fitted) bool {
	pair, single := s.tube, doublet{one: s.tube.one, two: s.tube.two, share: 1}
	double := s.apart(found)
	alone := slices.Clone(double)
	for i, p := range double {
		gap, _, _ := pair.gap(p.at)
		alone[i].at += (1 - pair.share) * gap // the fit of a pair to one peak puts that at their mean
	}
	s.tube = single
	s.fitAll(alone, freeShapes)
	var with, without, votes, against, n float64
	for i := range double {
		if gap, _, _ := pair.gap(double[i].at); !(gap > apartWidths*math.Min(double[i].fwhm, alone[i].fwhm)) {
			continue // a blend as broad as that is neither
		}
		n++
		s.tube = single
		a := s.fitOne(alone, i)
		s.tube = pair
		b := s.fitOne(double, i)
		with, without = with+b, without+a
		votes += vote(a, b)
		against += vote(b, a)
	}
	s.resolved = decided(with, without, against, n)
	if decided(without, with, votes, n) {
		s.tube = single
		return true
	}
	s.tube = pair
	return false
}

// vote is 1 for a peak that one fit describes clearly better than another, by their sums of squares; else 0.
func vote(better, worse float64) float64 {
	if better < 0.8*worse && worse-better > 9 {
		return 1
	}
	return 0
}

// decided reports whether one way of fitting n peaks is clearly better than another: one crowded place or broad peak may by chance look like
// anything, and most peaks must agree.
func decided(better, worse, votes, n float64) bool {
	return better < 0.7*worse && worse-better > 25 && votes > 0.6*n
}

// fitOne fits the group of peak i and returns its sum of squared residuals over variances.
func (s *searcher) fitOne(peaks []fitted, i int) (squares float64) {
	peaks = slices.Clone(peaks)
	at := peaks[i].at
	return s.fitSome(peaks, freeShapes, func(p fitted) bool { return p.at == at })
}

// alpha2Steps is the least distance of Kα1 and Kα2, in steps, from which points tell them apart: one at each top and two between.
const alpha2Steps = 3

// apartWidths is the least distance of Kα1 and Kα2, in full widths at half height, from which their tops show (two equal Gaussians part at
// 0.85, two equal Lorentzians at 0.58 of their width).
const apartWidths = 0.8

// apart returns the five strongest peaks, ascending by angle, whose Kα1 and Kα2 are apart at the steps of the scan and its width, or clearly at
// their own: a first look at the width of a scan with a blend of strong lines sees that of the blend.
func (s *searcher) apart(found []fitted) []fitted {
	found = slices.Clone(found)
	slices.SortFunc(found, func(a, b fitted) int { return cmp.Compare(b.score, a.score) })
	var out []fitted
	for _, p := range found {
		if gap, _, ok := s.tube.gap(p.at); ok && gap > math.Min(apartWidths*s.width.At(p.at), p.fwhm) && gap > alpha2Steps*s.step && len(out) < 5 {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b fitted) int { return cmp.Compare(a.at, b.at) })
	return out
}

// axialGrid are the axial divergences that are tried, degrees.
var axialGrid = []float64{0, 0.008, 0.016, 0.024, 0.034, 0.046, 0.06}

// telling is the number of peaks that decide about the axial divergence.
const telling = 10

// scanAxial fits the most telling peaks with each divergence of the grid in turn, every fit starting from the one before,
// and keeps the best if it is clearly better than none. A free parameter would not do: a symmetric profile changes with
// the third power of the divergence only, so that a fit started anywhere finds minima of its own.
func (s *searcher) scanAxial(found []fitted) {
	trial := s.chooseTelling(found)
	wanted := func(p fitted) bool { return p.telling }
	none := math.Inf(1)
	least, best, at := none, trial, 0
	for k, a := range axialGrid {
		s.width.Axial = a
		squares := s.fitSome(trial, freeShapes, wanted)
		if k == 0 {
			none = squares
		}
		if squares < least {
			least, best, at = squares, slices.Clone(trial), k
		} else if k > at+1 { // two worse ones: the sum only rises from here
			break
		}
	}
	s.width.Axial, s.width.AxialU = 0, 0
	better := func() bool { return at > 0 && none-least > math.Max(40, 0.02*none) }
	for k := 0; k < 2 && better(); k++ { // later fits start better, so the one without has its turns, too
		none = math.Min(none, s.fitSome(best, freeShapes, wanted))
	}
	if better() {
		s.width.Axial = axialGrid[at]
		s.width.AxialU = (axialGrid[at] - axialGrid[at-1]) / math.Sqrt(12) // of a value known to a step of the grid
	}
}

// chooseTelling returns the peaks with those marked whose shapes an axial divergence changes most beside the noise.
func (s *searcher) chooseTelling(found []fitted) []fitted {
	marked := slices.Clone(found)
	worth := func(p fitted) float64 { return s.shapeOf(p.start).cot / p.fwhm * p.area / math.Max(p.areaU, 1e-300) }
	slices.SortFunc(marked, func(a, b fitted) int { return cmp.Compare(math.Abs(worth(b)), math.Abs(worth(a))) })
	for k := range marked {
		marked[k].telling = k < telling
	}
	return marked
}

func starts(peaks []fitted) []start {
	out := make([]start, len(peaks))
	for i, p := range peaks {
		out[i] = p.start
	}
	return out
}

// dropWeak removes peaks that, with all others in place, noise could have made, and fits what they touched again, until
// every peak stands. It leaves the significance of each peak in its score.
func (s *searcher) dropWeak(found []fitted, limit float64) []fitted {
	for i := range found {
		found[i].score = s.alone(found[i].start, found)
	}
	for range maxDrops {
		kept, gone := s.parted(found, limit)
		if len(gone) == 0 {
			break
		}
		found = kept
		touched := func(p fitted) bool {
			return slices.ContainsFunc(gone, func(q fitted) bool { return near(p, q, s.tube) })
		}
		s.fitSome(found, nearCurve, touched)
		for i, p := range found {
			if touched(p) {
				found[i].score = s.alone(p.start, found)
			}
		}
	}
	return found
}

// maxDrops ends dropWeak; more than two turns are rare.
const maxDrops = 6

// parted tells peaks that stand from those that do not: lost in the noise, cut by an end of the scan or by a gap, or within a step of a
// larger one, which is one peak that the steps are too coarse for.
func (s *searcher) parted(found []fitted, limit float64) (kept, gone []fitted) {
	for _, p := range found {
		double := slices.ContainsFunc(found, func(q fitted) bool { return q.area > p.area && math.Abs(q.at-p.at) < s.step })
		if double || !(p.score >= limit) || !(p.area > 0) || s.fromEnd(p.at) < 0.7*p.fwhm {
			gone = append(gone, p)
		} else {
			kept = append(kept, p)
		}
	}
	return kept, gone
}

// near reports whether one peak can matter for the fit of the other: what is dropped or added is faint beyond.
func near(p, q fitted, tube doublet) bool {
	if p.at > q.at {
		p, q = q, p
	}
	return clearance(p, q, tube) < 2*fitWindow
}

// alone returns the significance of a fitted peak against the background and all other peaks. The background may be off
// by a constant of its slack over the surroundings, which costs nothing where counting noise is larger.
func (s *searcher) alone(p start, all []fitted) float64 {
	sh := s.shapeOf(p)
	i, j := s.scan.Between(p.at-6*p.fwhm, p.at+sh.gap+6*p.fwhm)
	unit := s.filled(sh, i, j)
	var tt, tr, third, tw, ww, wr, level float64
	for k := i; k < j; k++ {
		if s.masked != nil && s.masked[k] {
			continue
		}
		t := unit[k-i]
		mean := s.background[k] + math.Max(0, s.peaks[k]-p.area*t)
		v, skew := s.moments(k, mean)
		w, r := 1/v, s.scan.Intensity[k]-mean
		tt, tr, third = tt+w*t*t, tr+w*t*r, third+w*t*w*t*w*t*skew
		tw, ww, wr = tw+w*t, ww+w, wr+w*r
		level += s.background[k] / float64(j-i)
	}
	if !(tt > 0) {
		return 0
	}
	free := ww + 1/math.Max(slack*slack*level*level, 1e-300)
	information := tt - tw*tw/free
	tr -= tw * wr / free
	if !(information > 0.01*tt) {
		return 0
	}
	misfit := misfitShare * s.nearbyOthers(p, all)
	return significance(tr, information, third) / math.Sqrt(1+misfit*misfit*information)
}

// nearbyOthers returns the fading area of all other peaks at one of them.
func (s *searcher) nearbyOthers(p start, all []fitted) float64 {
	sum := 0.0
	for _, q := range all {
		if w := misfitReaches * q.fwhm; q.at != p.at && math.Abs(q.at-p.at) < 10*w+1 {
			sum += nearbyArea(s.shapeOf(q.start), q.area, w, p.at)
		}
	}
	return sum
}

// result describes the fitted peaks.
func (s *searcher) result(found []fitted, limit float64, radiation xrd.Radiation, bad defects) Found {
	f := Found{LeftOut: bad.points(), Background: s.background, Noise: s.noise, Width: s.width, Threshold: limit, Stripped: s.stripped, Resolved: s.resolved}
	n := s.scan.Len()
	f.Sigma, f.Fitted = make([]float64, n), make([]float64, n)
	for i := range n {
		f.Fitted[i] = s.background[i] + s.peaks[i]
		f.Sigma[i] = math.Sqrt(s.variance(i))
	}
	for _, p := range found {
		f.Peaks = append(f.Peaks, s.describe(p, radiation))
	}
	if !s.kAlphaAlone {
		labelImages(f.Peaks, radiation)
	}
	f.Cautions = f.doubts(s.scan, s.tube.one, bad)
	return f
}

// describe returns a fitted peak as a Peak.
func (s *searcher) describe(p fitted, radiation xrd.Radiation) Peak {
	sh := s.shapeOf(p.start)
	d, _ := xrd.DSpacing(p.at, radiation.KAlpha1)
	height, breadth := p.area*sh.value(p.at), xrd.IntegralBreadth(p.fwhm, p.eta)
	return Peak{
		TwoTheta: p.at, TwoThetaU: math.Hypot(p.atU, s.width.AxialU*sh.cot/3), D: d, Height: height, HeightU: height * p.heightU,
		Area: p.area, AreaU: p.areaU, FWHM: p.fwhm, FWHMU: p.fwhmU, IntegralBreadth: breadth, IntegralBreadthU: breadth * p.breadthU,
		AreaFWHM: p.withWidth, Overlap: p.withOther, Eta: p.eta, Significance: p.score, Kind: KAlpha, Of: -1,
	}
}
