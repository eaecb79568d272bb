package peaks_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd/xrdtest"
)

// TestOversampledLeavesTenPointsAcrossALine: ordinary scans are left alone; of others so many points are joined that ten or more lie
// across the narrowest lines, be they of a laboratory or three times as sharp.
func TestOversampledLeavesTenPointsAcrossALine(t *testing.T) {
	for _, c := range []struct{ step, width float64 }{{0.02, 0.08}, {0.005, 0.08}, {0.002, 0.08}, {0.0005, 0.08}, {0.0005, 0.012}, {0.0005, 0.5}} {
		p := xrdtest.Pattern{Lo: 10, Hi: 90, Step: c.step, Background: flat(5)}
		for i := range 20 {
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: 13.3 + 3.7*float64(i), Area: 4000 * c.width, FWHM: c.width, Eta: 0.5})
		}
		scan := p.Scan(t, 1)
		k := peaks.Oversampled(scan, copper.KAlpha1)
		if scan.Len() <= 20_000 {
			assert.Equal(t, 1, k, "%+v", c)
			continue
		}
		across := c.width / (c.step * float64(k))
		assert.GreaterOrEqual(t, across, 8.0, "%+v: %d joined", c, k)
		assert.Less(t, scan.Len()/k, 90_000, "%+v", c)
	}
}

// TestJoinedPointsTellTheSame: the peaks of a scan of 180,000 points, joined, are those of the lines that were put in, to what their
// uncertainties say, and as sure as when each point had held the counts of all that were joined.
func TestJoinedPointsTellTheSame(t *testing.T) {
	p := ordinary()
	p.Step, p.Background = 0.0005, flat(2)
	for i := range p.Lines {
		p.Lines[i].Area *= 0.05
	}
	fine := p.Scan(t, 3)
	k := peaks.Oversampled(fine, copper.KAlpha1)
	require.Greater(t, k, 4)
	f := peaks.Find(fine.Rebinned(k), copper, peaks.Settings{})
	assert.Equal(t, peaks.Poisson, f.Noise.Kind)
	require.Len(t, f.Peaks, len(p.Lines))
	for i, q := range f.Peaks {
		l := p.Lines[i]
		assert.InDelta(t, l.TwoTheta, q.TwoTheta, 4*q.TwoThetaU)
		assert.InDelta(t, l.Area*float64(k), q.Area, 4*q.AreaU)
	}
}
