package analysis

import (
	"fmt"
	"math"

	"phasetally/peaks"
	"phasetally/xrd/result"
)

// peakOf describes a found peak with the phases that explain it.
func peakOf(p peaks.Peak, all []peaks.Peak, phases []result.Phase) result.Peak {
	q := result.Peak{TwoTheta: p.TwoTheta, TwoThetaU: p.TwoThetaU, D: p.D, Height: p.Height, HeightU: p.HeightU, Area: p.Area, AreaU: p.AreaU,
		FWHM: p.FWHM, FWHMU: p.FWHMU, IntegralBreadth: p.IntegralBreadth, IntegralBreadthU: p.IntegralBreadthU,
		AreaFWHM: p.AreaFWHM, Overlap: p.Overlap, Significance: p.Significance, PhaseIDs: []string{}, HKL: []string{}, Kind: kindOf(p, all)}
	for _, ph := range phases {
		if l, ok := lineAt(ph, p); ok {
			q.PhaseIDs = append(q.PhaseIDs, ph.ID)
			q.HKL = append(q.HKL, indices(l))
		}
	}
	return q
}

// lineAt returns the strongest line of a phase that may explain a peak: near enough, and strong enough to matter there.
func lineAt(ph result.Phase, p peaks.Peak) (best result.PhaseLine, ok bool) {
	for _, l := range ph.Lines {
		if math.Abs(l.TwoTheta-p.TwoTheta) > math.Max(0.6*p.FWHM, 0.02) || l.Expected < 0.1*p.Area {
			continue
		}
		if !ok || l.Expected > best.Expected {
			best, ok = l, true
		}
	}
	return best, ok
}

// kindNames are the words for where a peak comes from.
var kindNames = map[peaks.Kind]string{peaks.KAlpha: "Kα", peaks.KBeta: "Kβ", peaks.WLine: "W Lα"}

// kindOf names what a peak is: a Kα doublet of its own, or the image of another in a further wavelength of the tube.
func kindOf(p peaks.Peak, all []peaks.Peak) string {
	if p.Of < 0 || p.Of >= len(all) {
		return kindNames[p.Kind]
	}
	return fmt.Sprintf("%s of %.2f", kindNames[p.Kind], all[p.Of].TwoTheta)
}

// curves returns the columns of fit.csv for the points that were used.
func (m measured) curves() result.Curves {
	c := result.Curves{TwoTheta: m.scan.TwoTheta, Observed: m.scan.Intensity, Sigma: m.found.Sigma, Background: m.found.Background}
	if m.identified == nil || m.identified.Fit == nil {
		c.Calculated = m.found.Fitted
		return c
	}
	fit := m.identified.Fit
	c.Calculated, c.Background = fit.Fitted, fit.Background
	for _, i := range m.order {
		c.Phases = append(c.Phases, fit.Curves[i])
	}
	c.Sigma = make([]float64, len(fit.Noise))
	for i := range fit.Noise {
		c.Sigma[i] = math.Sqrt(math.Max(fit.NoiseAt(i), 1e-12))
	}
	return c
}

// indices returns "h k l" of a line, empty when they are not known.
func indices(l result.PhaseLine) string {
	if l.H == nil || l.K == nil || l.L == nil {
		return ""
	}
	return fmt.Sprintf("%d %d %d", *l.H, *l.K, *l.L)
}
