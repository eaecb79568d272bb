package peaks

import (
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
	set := settings.orDefaults()
	noise := MeasureNoise(scan)
	background := Background(scan, noise)
	spikes, masked := findSpikes(scan, noise, background)
	s := newSearcher(scan, newDoublet(radiation), noise, background, masked)

	if set.Instrument != nil {
		s.width = instrumentWidth(scan, *set.Instrument)
	} else {
		s.estimateWidth(set)
	}
	limit := threshold(looks(scan, s.width), set.FalseAlarms)
	s.begin(s.width, 5*misfitShare, nil)
	found := s.fitStarts(nil, s.run(limit, set.MaxPeaks))
	for range 2 {
		s.background = refineBackground(scan, noise, s.background, s.peaks)
		s.begin(s.width, misfitShare, starts(found))
		more := s.run(limit, set.MaxPeaks-len(found))
		found = s.fitStarts(found, more)
		found = s.dropWeak(found, limit)
		if len(more) == 0 {
			break
		}
	}
	s.fitAll(found, false)
	found = s.dropWeak(found, limit)
	return s.result(found, limit, radiation, spikes)
}

// estimateWidth finds the width curve from isolated strong peaks of the scan.
func (s *searcher) estimateWidth(set Settings) {
	first := s.firstWidth()
	limit := threshold(looks(s.scan, first), set.FalseAlarms)
	s.begin(first, 5*misfitShare, nil)
	found := s.fitStarts(nil, s.run(math.Max(limit, 6), 60))
	s.fitAll(found, true)
	var good []start
	for _, p := range found {
		if p.area > 12*p.areaU && p.fwhmU < 0.15*p.fwhm && p.areaU > 0 {
			good = append(good, p.start)
		}
	}
	s.width = first
	if len(good) > 0 {
		s.width = widthThrough(good, s.step)
	}
}

// fitStarts adds starts to fitted peaks and fits all.
func (s *searcher) fitStarts(found []fitted, more []start) []fitted {
	for _, p := range more {
		found = append(found, fitted{start: p})
	}
	s.fitAll(found, false)
	return found
}

func starts(peaks []fitted) []start {
	out := make([]start, len(peaks))
	for i, p := range peaks {
		out[i] = p.start
	}
	return out
}

// dropWeak removes peaks that, with all others in place, noise could have made; the rest is fitted again if any went.
// It leaves the significance of each peak in its score.
func (s *searcher) dropWeak(found []fitted, limit float64) []fitted {
	before := len(found)
	for i := range found {
		found[i].score = s.alone(found[i].start)
	}
	found = slices.DeleteFunc(found, func(p fitted) bool { return !(p.score >= limit) || !(p.area > 0) })
	if len(found) < before {
		s.fitAll(found, false)
		for i := range found {
			found[i].score = s.alone(found[i].start)
		}
	}
	return found
}

// alone returns the significance of a fitted peak against the background and all other peaks.
func (s *searcher) alone(p start) float64 {
	sh := s.tube.shape(p.at, p.fwhm, p.eta)
	i, j := s.scan.Between(p.at-2*p.fwhm, p.at+sh.gap+2*p.fwhm)
	var tt, tr, third float64
	for ; i < j; i++ {
		if s.masked != nil && s.masked[i] {
			continue
		}
		t := sh.value(s.scan.TwoTheta[i])
		others := math.Max(0, s.peaks[i]-p.area*t)
		mean := s.background[i] + others
		v, third3 := s.noise.Variance(mean), s.noise.Gain*s.noise.Gain*math.Max(mean, 0.05*s.noise.Gain)
		if s.scan.Sigma != nil {
			v, third3 = s.scan.Sigma[i]*s.scan.Sigma[i], 0
		}
		m, b := misfitShare*others, slack*s.background[i]
		w := t / (v + m*m + b*b)
		tt += w * t
		tr += w * (s.scan.Intensity[i] - mean)
		third += w * w * w * third3
	}
	if !(tt > 0) {
		return 0
	}
	return significance(tr, tt, third)
}

// result describes the fitted peaks.
func (s *searcher) result(found []fitted, limit float64, radiation xrd.Radiation, spikes []int) Found {
	f := Found{Background: s.background, Noise: s.noise, Width: s.width, Threshold: limit}
	n := s.scan.Len()
	f.Sigma, f.Fitted = make([]float64, n), make([]float64, n)
	sum := sumOf(s.scan, s.tube, found)
	copy(s.peaks, sum)
	for i := range n {
		f.Fitted[i] = s.background[i] + sum[i]
		f.Sigma[i] = math.Sqrt(s.variance(i))
	}
	for _, p := range found {
		d, _ := xrd.DSpacing(p.at, radiation.KAlpha1)
		f.Peaks = append(f.Peaks, Peak{
			TwoTheta: p.at, TwoThetaU: p.atU, D: d, Height: p.area * s.tube.shape(p.at, p.fwhm, p.eta).value(p.at),
			Area: p.area, AreaU: p.areaU, FWHM: p.fwhm, FWHMU: p.fwhmU, IntegralBreadth: xrd.IntegralBreadth(p.fwhm, p.eta),
			Eta: p.eta, Significance: p.score, Kind: KAlpha, Of: -1,
		})
	}
	labelImages(f.Peaks, radiation)
	f.Cautions = f.doubts(s.scan, spikes)
	return f
}
