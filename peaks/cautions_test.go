package peaks_test

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/xrdtest"
)

// remade builds a scan with changed intensities.
func remade(t *testing.T, scan xrd.Scan, change func(i int, y float64) float64) xrd.Scan {
	t.Helper()
	y := make([]float64, scan.Len())
	for i := range y {
		y[i] = change(i, scan.Intensity[i])
	}
	out, err := xrd.NewScan(scan.TwoTheta, y, nil, scan.About)
	require.NoError(t, err)
	return out
}

// TestCautions makes each fault once; the clean scan raises nothing (see TestFindMeasuresWhatIsThere).
func TestCautions(t *testing.T) {
	raw := ordinary().Scan(t, 1)
	coarse := ordinary()
	coarse.Step = 0.05
	short := ordinary()
	short.Lo, short.Hi = 26, 40
	weak := ordinary()
	for i := range weak.Lines {
		weak.Lines[i].Area /= 30
	}
	halo := ordinary()
	halo.Lo = 10
	halo.Background = airAndHalo(200)
	bare := xrdtest.Pattern{Lo: 10, Hi: 80, Step: 0.02, Background: flat(30)}
	glass := xrdtest.Pattern{Lo: 10, Hi: 80, Step: 0.02, Background: airAndHalo(2000)}
	spiked := raw.TwoTheta[1000]
	for name, c := range map[string]struct {
		scan  xrd.Scan
		want  string
		peaks int
	}{
		"counts a second":  {remade(t, raw, func(_ int, y float64) float64 { return y / 2.5 }), "not-counts", 8},
		"scaled to 100":    {remade(t, raw, func(_ int, y float64) float64 { return math.Round(y*1e4/4000) / 100 }), "not-counts", 8},
		"smoothed":         {remade(t, raw, smooth(raw, 3)), "not-counts", 8},
		"less a constant":  {remade(t, raw, func(_ int, y float64) float64 { return y - 50 }), "not-counts", 8},
		"times a constant": {remade(t, raw, func(_ int, y float64) float64 { return 10 * y }), "not-counts", 8},
		"saturated":        {remade(t, raw, func(_ int, y float64) float64 { return math.Min(y, 900) }), "saturation", -1},
		"spike":            {remade(t, raw, func(i int, y float64) float64 { return y + 5000*boolFloat(i == 1000) }), "spikes", 8},
		"coarse":           {coarse.Scan(t, 1), "step-too-coarse", 8},
		"short":            {short.Scan(t, 1), "range-too-short", 2},
		"weak":             {weak.Scan(t, 1), "counts-too-low", -1},
		"halo":             {halo.Scan(t, 1), "amorphous-halo", 8},
		"only a halo":      {glass.Scan(t, 1), "amorphous-halo", 0},
		"nothing":          {bare.Scan(t, 1), "counts-too-low", 0},
	} {
		f := peaks.Find(c.scan, copper, peaks.Settings{})
		assert.Contains(t, codes(f), c.want, name)
		if c.peaks >= 0 {
			assert.Len(t, f.Peaks, c.peaks, name)
		}
		for _, caution := range f.Cautions {
			assert.NotEmpty(t, caution.Text, name)
			assert.NotEmpty(t, caution.Remedy, name)
			assert.NotEmpty(t, caution.Evidence, name)
			assert.Contains(t, []xrd.Severity{xrd.SeverityNote, xrd.SeverityCaution, xrd.SeverityStop}, caution.Severity)
		}
	}
	f := peaks.Find(remade(t, raw, func(i int, y float64) float64 { return y + 5000*boolFloat(i == 1000) }), copper, peaks.Settings{})
	k := slices.IndexFunc(f.Cautions, func(c xrd.Caution) bool { return c.Code == "spikes" })
	assert.Equal(t, []float64{spiked}, f.Cautions[k].Evidence["two_theta"], "the place is named")
}

func boolFloat(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// smooth averages 2·half+1 neighbours.
func smooth(scan xrd.Scan, half int) func(int, float64) float64 {
	return func(i int, _ float64) float64 {
		lo, hi := max(0, i-half), min(scan.Len(), i+half+1)
		sum := 0.0
		for _, y := range scan.Intensity[lo:hi] {
			sum += y
		}
		return sum / float64(hi-lo)
	}
}

// TestColumnThatIsNoAngle: a whole scan below 10° is asked whether its first column is what it should be; a short one at usual angles is not.
func TestColumnThatIsNoAngle(t *testing.T) {
	raw := ordinary().Scan(t, 1)
	radians := make([]float64, raw.Len())
	for i, x := range raw.TwoTheta {
		radians[i] = xrd.Radians(x)
	}
	low, err := xrd.NewScan(radians, raw.Intensity, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	short := ordinary()
	short.Lo, short.Hi = 26, 40
	for name, c := range map[string]struct {
		scan xrd.Scan
		told bool
	}{"radians": {low, true}, "short": {short.Scan(t, 1), false}} {
		f := peaks.Find(c.scan, copper, peaks.Settings{})
		i := slices.IndexFunc(f.Cautions, func(q xrd.Caution) bool { return q.Code == "range-too-short" })
		require.GreaterOrEqual(t, i, 0, name)
		assert.Equal(t, c.told, strings.Contains(f.Cautions[i].Remedy, "not radians, Å or 1/Å"), name)
	}
}

func TestStrippedKAlpha2(t *testing.T) {
	p := ordinary()
	p.Radiation = xrd.Radiation{KAlpha1: copper.KAlpha1}
	f := peaks.Find(p.Scan(t, 1), copper, peaks.Settings{})
	assert.True(t, f.Stripped)
	assert.Contains(t, codes(f), "alpha2-missing")
	require.Len(t, f.Peaks, len(p.Lines))
	for i, q := range f.Peaks {
		assert.InDelta(t, p.Lines[i].TwoTheta, q.TwoTheta, 4*q.TwoThetaU)
	}
}

// TestBroadLinesSayNothingOfKAlpha2: where all lines but a broad blend lie too low for Kα1 and Kα2 to part, nothing is said of them.
func TestBroadLinesSayNothingOfKAlpha2(t *testing.T) {
	p := ordinary()
	p.Lines = nil
	for _, at := range []float64{26, 34, 38, 52} {
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 600, FWHM: 0.16, Eta: 0.5})
	}
	p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: 96, Area: 6000, FWHM: 2}, xrdtest.Line{TwoTheta: 96.6, Area: 6000, FWHM: 2})
	f := peaks.Find(p.Scan(t, 1), copper, peaks.Settings{})
	assert.False(t, f.Stripped)
	assert.False(t, f.Resolved)
}

func TestRealLinesAreNoImages(t *testing.T) {
	p := ordinary()
	at, _ := xrd.ImageTwoTheta(p.Lines[2].TwoTheta, copper.KAlpha1, copper.KBeta)
	p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 0.4 * p.Lines[2].Area, FWHM: 0.08, Eta: 0.5})
	f := peaks.Find(p.Scan(t, 1), copper, peaks.Settings{})
	for _, q := range f.Peaks {
		assert.Equal(t, peaks.KAlpha, q.Kind, "40 %% of a line is no Kβ: %+v", q)
	}
}

// TestCrowdedLinesSayNothingOfKAlpha2: the five lines of quartz about 68°, in a scan of coarse steps, pass for one wavelength
// by chance; the others do not.
func TestCrowdedLinesSayNothingOfKAlpha2(t *testing.T) {
	file, err := os.Open("../xrd/analysis/testdata/automatic-slit.xy")
	require.NoError(t, err)
	defer file.Close()
	scan, err := scanfile.Read(file, "automatic-slit.xy")
	require.NoError(t, err)
	f := peaks.Find(scan, copper, peaks.Settings{})
	assert.False(t, f.Stripped)
	assert.NotContains(t, codes(f), "alpha2-missing")
}

// TestCoarseStepsSayNothingOfKAlpha2: in steps of 0.08° no point lies between Kα1 and Kα2 below 80°, and whether one is missing cannot be told.
func TestCoarseStepsSayNothingOfKAlpha2(t *testing.T) {
	for step, want := range map[float64]bool{0.015: true, 0.08: false} {
		p := ordinary()
		p.Radiation, p.Step, p.Hi, p.Lines = xrd.Radiation{KAlpha1: copper.KAlpha1}, step, 78, p.Lines[:6]
		for i := range p.Lines {
			p.Lines[i].Area *= 10
		}
		f := peaks.Find(p.Scan(t, 1), copper, peaks.Settings{})
		assert.Equal(t, want, f.Stripped, "steps of %g°", step)
		assert.Equal(t, want, slices.Contains(codes(f), "alpha2-missing"))
	}
}
