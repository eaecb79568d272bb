package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// Worked by hand from the definitions: four lines with |Δ2θ| of 0.01, 0.02, 0.01, 0.04 (mean 0.02°) of five possible give
// F = 4/(0.02 × 5) = 40; |ΔQ| of 0.001 and 0.003 (mean 0.002), Q = 0.4, four possible give M = 0.4/(2 × 0.002 × 4) = 25.
func TestFiguresOfMeritByHand(t *testing.T) {
	assert.InDelta(t, 40, SmithSnyder([]float64{0.01, -0.02, 0.01, 0.04}, 5), 1e-9)
	assert.InDelta(t, 25, DeWolff(0.4, []float64{-0.001, 0.003}, 4), 1e-9)
	for _, f := range []float64{SmithSnyder(nil, 3), DeWolff(1, nil, 3), SmithSnyder([]float64{1}, 0), DeWolff(1, []float64{1}, 0)} {
		assert.Zero(t, f)
	}
	assert.True(t, math.IsInf(SmithSnyder([]float64{0}, 1), 1))
}

// The same by way of lines and peaks: five lines, one without a peak, one peak of another phase.
func TestMeritOf(t *testing.T) {
	const wavelength = 1.5405929
	line := func(at float64) pattern.LineFit {
		return pattern.LineFit{TwoTheta: at, FWHM: 0.1, Fitted: 10, Clear: 1, Covered: true}
	}
	peak := func(at float64) peaks.Peak { return peaks.Peak{TwoTheta: at, Area: 10, Kind: peaks.KAlpha} }
	fitted := []pattern.LineFit{line(30), line(40), line(50), line(60), line(70)}
	found := []peaks.Peak{peak(30.01), peak(35), peak(39.98), peak(50.01), peak(70.04)}
	got := MeritOf(fitted, found, wavelength)
	assert.Equal(t, 4, got.FLines)
	assert.Equal(t, 5, got.Possible)
	assert.InDelta(t, 0.02, got.Delta, 1e-9)
	assert.InDelta(t, 40, got.F, 1e-6)
	q := func(at float64) float64 { return qAt(at, wavelength) }
	mean := (math.Abs(q(30.01)-q(30)) + math.Abs(q(39.98)-q(40)) + math.Abs(q(50.01)-q(50)) + math.Abs(q(70.04)-q(70))) / 4
	assert.InDelta(t, q(70.04)/(2*mean*5), got.M, 1e-6)
	assert.Equal(t, 4, got.MLines)

	fitted[2].Clear = 0.1
	assert.Equal(t, 3, MeritOf(fitted, found, wavelength).FLines, "a line under another phase tells nothing of places")
	assert.Zero(t, MeritOf(fitted[:2], found, wavelength), "two lines make no figure")
}

func TestQ(t *testing.T) {
	d := 3.1355 // silicon 111, Å
	at, ok := xrd.TwoTheta(d, 1.5405929)
	require.True(t, ok)
	assert.InDelta(t, 1/(d*d), qAt(at, 1.5405929), 1e-9)
}

// A phase that is there has high figures, from peaks that were found without knowing it.
func TestMeritOfAScan(t *testing.T) {
	job := specimen{parts: []part{{"corundum", 200, 0.0004}}, hi: 130, displacement: 0.1, seed: 4}.job(t, library.Starter())
	out := run(t, job)
	scan, err := xrd.NewScan(job.Setup.TwoTheta, job.Setup.Intensity, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	m := MeritOf(out.Matches[0].Lines, peaks.Find(scan, job.Setup.Radiation, peaks.Settings{}).Peaks, job.Setup.Radiation.KAlpha1)
	assert.Equal(t, 20, m.MLines)
	assert.Greater(t, m.M, 30.0, "more than 10 is plausible (de Wolff)")
	assert.Greater(t, m.F, 40.0)
	assert.Less(t, m.Delta, 0.02)
}
