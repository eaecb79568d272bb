package identify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// peakPlaces are the peaks of a scan, with what is left of each.
type peakPlaces struct {
	search *search
	left   []float64 // of every found peak
}

func (s *search) peakPlaces(left []LeftPeak) peakPlaces {
	p := peakPlaces{s, make([]float64, len(s.found))}
	for _, l := range left {
		p.left[l.Peak] = l.Area
	}
	return p
}

// spacing returns d at an angle of the scan, freed from the displacement of the fit.
func (p peakPlaces) spacing(twoTheta float64) float64 {
	set := p.search.job.Setup
	angle := twoTheta - set.Instrument.Shift(twoTheta, p.search.displacement())
	d, _ := xrd.DSpacing(angle, set.Radiation.KAlpha1)
	return d
}

// spacings returns d of every peak.
func (p peakPlaces) spacings() (out []float64) {
	for _, q := range p.search.found {
		out = append(out, p.spacing(q.TwoTheta))
	}
	return out
}

// score is the area of peaks that are left and that lines of a phase explain, less what of its lines is not there at all.
func (p peakPlaces) score(lines []refdata.StrongLine, stretch, scale float64) float64 {
	var sum float64
	for _, l := range lines {
		at, ok := p.angle(float64(l.D) * (1 + stretch))
		if !ok {
			continue
		}
		expected := scale * float64(l.Intensity)
		k := p.near(at)
		if k < 0 {
			sum -= expected
			continue
		}
		sum += math.Min(expected, p.left[k])
	}
	return sum
}

// angle returns where a spacing diffracts, as the specimen is displaced; false outside the scan.
func (p peakPlaces) angle(d float64) (at float64, ok bool) {
	set := p.search.job.Setup
	at, ok = xrd.TwoTheta(d, set.Radiation.KAlpha1)
	if !ok || at < set.TwoTheta[0] || at > set.TwoTheta[len(set.TwoTheta)-1] {
		return 0, false
	}
	return at + set.Instrument.Shift(at, p.search.displacement()), true
}

// near returns the number of the peak nearest to an angle, -1 when none is within a width.
func (p peakPlaces) near(at float64) int {
	best, least := -1, math.Inf(1)
	for k, q := range p.search.found {
		if d := math.Abs(q.TwoTheta - at); d < q.FWHM && d < least {
			best, least = k, d
		}
	}
	return best
}
