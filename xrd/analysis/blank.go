package analysis

import (
	"context"
	"math"

	"phasetally/peaks"
)

// inBlank returns the share of the peak area of the scan that stands in the blank, too, 0 to 1: a peak counts, up to its own area, that
// has one of the blank within half its width. It is 0 without a blank.
func (p prepared) inBlank(ctx context.Context) (float64, error) {
	if p.job.Blank == nil {
		return 0, nil
	}
	blank := p.job.Blank.Rebinned(peaks.Oversampled(*p.job.Blank, p.job.Radiation.KAlpha1))
	found, err := findPeaks(ctx, blank, p.job.Radiation, p.peakSettings())
	if err != nil {
		return 0, err
	}
	var all, both float64
	for _, own := range p.found.Peaks {
		all += own.Area
		for _, other := range found.Peaks {
			if math.Abs(other.TwoTheta-own.TwoTheta) <= own.FWHM/2 {
				both += math.Min(own.Area, other.Area)
				break
			}
		}
	}
	if !(all > 0) {
		return 0, nil
	}
	return both / all, nil
}
