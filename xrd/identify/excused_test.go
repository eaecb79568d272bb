package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// A broad, low peak beside a line a hundred times as strong is its foot where the fit has as much foot there; a narrow one, a strong one, one that
// stands far off, and one that rises above the foot are peaks of their own.
func TestFeetAreNoPeaks(t *testing.T) {
	line := peaks.Peak{TwoTheta: 30, Area: 1000, FWHM: 0.06, Kind: peaks.KAlpha}
	foot := peaks.Peak{TwoTheta: 30.5, Area: 10, FWHM: 0.5, Kind: peaks.KAlpha}
	fit := &pattern.Fit{}
	for x := 28.0; x < 34; x += 0.02 {
		y := 50.0
		fit.Setup.TwoTheta, fit.Background = append(fit.Setup.TwoTheta, x), append(fit.Background, 10)
		fit.Fitted, fit.Setup.Intensity = append(fit.Fitted, y), append(fit.Setup.Intensity, y+10*xrd.PseudoVoigt(x-30.5, 0.5, 0.5))
	}
	change := func(edit func(p *peaks.Peak)) []peaks.Peak {
		p := foot
		edit(&p)
		return []peaks.Peak{line, p}
	}
	assert.Equal(t, []int{1}, excused(fit, []peaks.Peak{line, foot}))
	assert.Empty(t, excused(fit, change(func(p *peaks.Peak) { p.FWHM = 0.1 })), "as narrow as a line")
	assert.Empty(t, excused(fit, change(func(p *peaks.Peak) { p.Area = 100 })), "strong")
	assert.Empty(t, excused(fit, change(func(p *peaks.Peak) { p.TwoTheta = 32 })), "far")
	for i := range fit.Setup.Intensity {
		fit.Setup.Intensity[i] += 50
	}
	assert.Empty(t, excused(fit, []peaks.Peak{line, foot}), "above the foot")
}
