package analysis

import (
	"context"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd/result"
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

// unlessStripped returns a scan as it is, or as one without Kα2 where its fit lacks that and phases explain it then. Where they do not, a fit was
// bent to lines of phases that are missing, and what lacks beside its own lines says nothing.
func unlessStripped(ctx context.Context, m measured, g given) (measured, error) {
	if share, u := m.kAlpha2(); !(share < strippedBelow && 1-share > strippedSigmas*u) {
		return m, nil
	}
	without := m
	if err := without.strip(ctx); err != nil {
		return m, err
	}
	var err error
	without.explanation, err = explain(ctx, without.prepared, g)
	if err != nil || without.cover.Verdict == result.None {
		return m, err
	}
	return without, nil
}

// strip takes the scan for one without Kα2: its peaks are found again, and every fit is without.
func (m *measured) strip(ctx context.Context) error {
	of := m.found.Cautions
	m.job.Radiation.Ratio, m.beam.Radiation.Ratio = 0, 0
	var err error
	if m.found, err = findPeaks(ctx, m.scan, m.job.Radiation, m.peakSettings()); err != nil {
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
