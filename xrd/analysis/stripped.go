package analysis

import (
	"context"
	"math"
	"slices"

	"phasetally/peaks"
)

// A fit in which less than three quarters of Kα2 are there, beyond doubt, is of a scan from which it was taken away. By hand: of 26
// simulated scans with Kα2, half of them textured, all had 0.993 to 1.005 of it; a fit to scans without, to which its widths
// adapt, 0.47 to 0.65.
const strippedBelow, strippedSigmas = 0.75, 8.0

// kAlpha2 returns how much of Kα2 the scan has, 1 where that cannot be told.
func (m measured) kAlpha2() (share, u float64) {
	if m.identified == nil || m.identified.Fit == nil || len(m.identified.Matches) == 0 || m.found.Stripped {
		return 1, math.Inf(1)
	}
	return m.identified.Fit.KAlpha2()
}

// strip takes the scan for one without Kα2: its peaks are found again, and every fit is without.
func (m *measured) strip(ctx context.Context) error {
	of := m.found.Cautions
	m.job.Radiation.Ratio, m.beam.Radiation.Ratio = 0, 0
	var err error
	if m.found, err = findPeaks(ctx, m.scan, m.job.Radiation, peaks.Settings{Instrument: m.calibrated()}); err != nil {
		return err
	}
	m.found.Stripped = true
	for _, c := range of { // of points that are left out already
		if slices.Contains([]string{"spikes", "dropouts", "saturation", "oversampled"}, c.Code) {
			m.found.Cautions = append(m.found.Cautions, c)
		}
	}
	m.found.Cautions = append(m.found.Cautions, peaks.Stripped())
	return nil
}
