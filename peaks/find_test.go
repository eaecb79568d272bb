package peaks_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/xrdtest"
)

var copper = func() xrd.Radiation { r, _ := xrd.ParseRadiation("Cu"); return r }()

func flat(level float64) func(float64) float64 { return func(float64) float64 { return level } }

// ordinary is a clean scan of eight lines.
func ordinary() xrdtest.Pattern {
	p := xrdtest.Pattern{Lo: 20, Hi: 100, Step: 0.015, Background: flat(50)}
	for i := range 8 {
		at := 28 + 9*float64(i)
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 300 / float64(1+i), FWHM: xrdtest.Width(at), Eta: 0.5})
	}
	return p
}

func codes(f peaks.Found) (c []string) {
	for _, caution := range f.Cautions {
		c = append(c, caution.Code)
	}
	return c
}

// The peaks of an invented scan of a bronze bushing with copper radiation: places, spacings and widths, and what the intensities are.
func ExampleFind() {
	file, err := os.Open("../testdata/bushing-aged.xy")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	scan, err := scanfile.Read(file, "bushing-aged.xy")
	if err != nil {
		fmt.Println(err)
		return
	}
	copper, _ := xrd.ParseRadiation("Cu")
	found := peaks.Find(scan, copper, peaks.Settings{})
	for _, p := range found.Peaks[:3] {
		fmt.Printf("%.2f° d %.3f Å, %.2f° wide\n", p.TwoTheta, p.D, p.FWHM)
	}
	fmt.Println(len(found.Peaks), "peaks,", found.Noise.Kind)
	// Output:
	// 24.62° d 3.614 Å, 0.17° wide
	// 26.16° d 3.404 Å, 0.15° wide
	// 27.82° d 3.204 Å, 0.18° wide
	// 43 peaks, poisson
}

func TestFindMeasuresWhatIsThere(t *testing.T) {
	p := ordinary()
	scan := p.Scan(t, 1)
	f := peaks.Find(scan, copper, peaks.Settings{})
	require.Len(t, f.Peaks, len(p.Lines))
	for i, q := range f.Peaks {
		l := p.Lines[i]
		assert.InDelta(t, l.TwoTheta, q.TwoTheta, 4*q.TwoThetaU)
		assert.InDelta(t, l.Area, q.Area, 4*q.AreaU)
		assert.InDelta(t, l.FWHM, q.FWHM, 4*q.FWHMU)
		assert.InEpsilon(t, xrd.IntegralBreadth(q.FWHM, q.Eta), q.IntegralBreadth, 1e-12)
		d, _ := xrd.DSpacing(q.TwoTheta, copper.KAlpha1)
		assert.Equal(t, d, q.D)
		assert.Equal(t, peaks.KAlpha, q.Kind)
		assert.Equal(t, -1, q.Of)
		assert.Greater(t, q.Significance, f.Threshold)
	}
	assert.Empty(t, f.Cautions, "a clean scan raises none: %v", codes(f))
	assert.False(t, f.Stripped)
	squares := 0.0
	for i, y := range scan.Intensity {
		z := (y - f.Fitted[i]) / f.Sigma[i]
		squares += z * z
	}
	assert.InDelta(t, 1, squares/float64(scan.Len()), 0.06, "reduced χ²; its own s.d. is √(2/5334) = 0.019")
}

func TestFindIsRepeatable(t *testing.T) {
	scan := ordinary().Scan(t, 5)
	before := slices.Clone(scan.Intensity)
	assert.Equal(t, peaks.Find(scan, copper, peaks.Settings{}), peaks.Find(scan, copper, peaks.Settings{}))
	assert.Equal(t, before, scan.Intensity)
}

func TestFindUnevenSteps(t *testing.T) {
	p := ordinary()
	rnd := rand.New(rand.NewPCG(1, 7))
	angles := p.Angles()
	for i := range angles {
		angles[i] += 0.006 * (rnd.Float64() - 0.5)
	}
	scan := xrdtest.Count(t, angles, p.Expected(angles), 3)
	require.False(t, scan.EvenSteps())
	f := peaks.Find(scan, copper, peaks.Settings{})
	require.Len(t, f.Peaks, len(p.Lines))
	for i, q := range f.Peaks {
		assert.InDelta(t, p.Lines[i].TwoTheta, q.TwoTheta, 4*q.TwoThetaU)
		assert.InDelta(t, p.Lines[i].Area, q.Area, 4*q.AreaU)
	}
}

func TestFindOtherRadiations(t *testing.T) {
	invented := 0
	for _, name := range []string{"Cr", "Co", "Mo", "1.5406"} {
		p := ordinary()
		p.Radiation, _ = xrd.ParseRadiation(name)
		f := peaks.Find(p.Scan(t, 2), p.Radiation, peaks.Settings{})
		invented += len(f.Peaks) - len(p.Lines)
		for _, l := range p.Lines {
			k := slices.IndexFunc(f.Peaks, func(q peaks.Peak) bool { return math.Abs(q.TwoTheta-l.TwoTheta) < l.FWHM })
			require.GreaterOrEqual(t, k, 0, "%s: %g°", name, l.TwoTheta)
			assert.InDelta(t, l.TwoTheta, f.Peaks[k].TwoTheta, 4*f.Peaks[k].TwoThetaU, name)
		}
	}
	assert.LessOrEqual(t, invented, 1, "one in twenty scans has a false peak")
}

func TestFindSeparatesOverlappingLines(t *testing.T) {
	for _, distance := range []float64{1.2, 1.6, 2.5} { // in widths
		p := ordinary()
		second := p.Lines[2]
		second.TwoTheta += distance * second.FWHM
		second.Area *= 0.6
		p.Lines = slices.Insert(p.Lines, 3, second)
		f := peaks.Find(p.Scan(t, 4), copper, peaks.Settings{})
		require.Len(t, f.Peaks, len(p.Lines), "distance %g widths", distance)
		for i, q := range f.Peaks {
			assert.InDelta(t, p.Lines[i].TwoTheta, q.TwoTheta, 4*q.TwoThetaU, "distance %g", distance)
			assert.InDelta(t, p.Lines[i].Area, q.Area, 4*q.AreaU+0.02*q.Area, "distance %g", distance)
		}
	}
}

func TestFindLabelsImages(t *testing.T) {
	p := ordinary()
	parent := xrdtest.Line{TwoTheta: 43.3, Area: 3000, FWHM: xrdtest.Width(43.3), Eta: 0.5}
	p.Lines = []xrdtest.Line{parent}
	add := func(wavelength, ratio float64) {
		at, ok := xrd.ImageTwoTheta(parent.TwoTheta, copper.KAlpha1, wavelength)
		require.True(t, ok)
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: ratio * parent.Area, FWHM: parent.FWHM, Eta: 0.5})
	}
	add(copper.KBeta, 0.01)
	add(xrd.WLAlpha, 0.008)
	p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: 60, Area: 30, FWHM: parent.FWHM, Eta: 0.5})
	// One wavelength makes the images single lines, as they are in a scan.
	mono := copper
	mono.Ratio, p.Radiation = 0, xrd.Radiation{KAlpha1: copper.KAlpha1, KBeta: copper.KBeta}
	f := peaks.Find(p.Scan(t, 6), mono, peaks.Settings{})
	require.Len(t, f.Peaks, 4)
	assert.Equal(t, []peaks.Kind{peaks.KBeta, peaks.WLine, peaks.KAlpha, peaks.KAlpha},
		[]peaks.Kind{f.Peaks[0].Kind, f.Peaks[1].Kind, f.Peaks[2].Kind, f.Peaks[3].Kind})
	assert.Equal(t, []int{2, 2, -1, -1}, []int{f.Peaks[0].Of, f.Peaks[1].Of, f.Peaks[2].Of, f.Peaks[3].Of})
	assert.Equal(t, f.Peaks[2].D, f.Peaks[0].D, "the same planes")

	for _, q := range peaks.Find(p.Scan(t, 6), mono, peaks.Settings{KAlphaAlone: true}).Peaks {
		assert.Equal(t, peaks.KAlpha, q.Kind, "a monochromator takes other wavelengths away")
	}
}

// TestWideHumpsAreNoImages: a hump of four widths of a line, where W Lα of the line would be, is a part of the background.
func TestWideHumpsAreNoImages(t *testing.T) {
	p := ordinary()
	parent := xrdtest.Line{TwoTheta: 43.3, Area: 3000, FWHM: xrdtest.Width(43.3), Eta: 0.5}
	at, _ := xrd.ImageTwoTheta(parent.TwoTheta, copper.KAlpha1, xrd.WLAlpha)
	p.Lines = []xrdtest.Line{parent, {TwoTheta: at, Area: 0.015 * parent.Area, FWHM: 4 * parent.FWHM, Eta: 0}}
	mono := copper
	mono.Ratio, p.Radiation = 0, xrd.Radiation{KAlpha1: copper.KAlpha1, KBeta: copper.KBeta}
	seen := 0
	for seed := range uint64(5) {
		for _, q := range peaks.Find(p.Scan(t, seed), mono, peaks.Settings{}).Peaks {
			if q.TwoTheta < 43 && q.FWHM > 2*parent.FWHM {
				seen++
				assert.Equal(t, peaks.KAlpha, q.Kind, "seed %d: %.3f ± %.3f°", seed, q.TwoTheta, q.TwoThetaU)
			}
		}
	}
	assert.Positive(t, seen)
}

func TestFindAxialDivergence(t *testing.T) {
	p := ordinary()
	p.Lines, p.Lo = nil, 10
	const axial = 0.03
	var truth []float64
	for at := 15.0; at < 90; at += 7 {
		truth = append(truth, at)
		for k := range 40 { // rays that leave the plane evenly reach down by the square of their height
			h := (float64(k) + 0.5) / 40
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at - axial*h*h/math.Tan(at*math.Pi/180), Area: 1000. / 40, FWHM: xrdtest.Width(at), Eta: 0.5})
		}
	}
	f := peaks.Find(p.Scan(t, 1), copper, peaks.Settings{})
	require.Len(t, f.Peaks, len(truth))
	assert.InDelta(t, axial, f.Width.Axial, 0.0061, "a step of the grid")
	for i, q := range f.Peaks {
		assert.InDelta(t, truth[i], q.TwoTheta, 5*q.TwoThetaU)
	}
}

func TestFindGivenInstrument(t *testing.T) {
	in := xrd.DefaultInstrument()
	p := xrdtest.Pattern{Lo: 20, Hi: 90, Step: 0.02, Background: flat(20)}
	fwhm, eta := xrd.ThompsonCoxHastings(in.GaussianFWHM(40), in.LorentzianFWHM(40))
	p.Lines = []xrdtest.Line{{TwoTheta: 40, Area: 4, FWHM: fwhm, Eta: eta}}
	f := peaks.Find(p.Scan(t, 8), copper, peaks.Settings{Instrument: &in})
	require.Len(t, f.Peaks, 1)
	assert.Zero(t, f.Width.Peaks)
	for at := 25.0; at < 85; at += 10 {
		want, _ := xrd.ThompsonCoxHastings(in.GaussianFWHM(at), in.LorentzianFWHM(at))
		assert.InEpsilon(t, want, f.Width.At(at), 0.01, "at %g°", at)
	}
}

// TestFindBearsEverything feeds what no diffractometer makes; nothing may panic or give numbers that are none.
func TestFindBearsEverything(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 12))
	shapes := []func(i int) float64{
		func(i int) float64 { return 7 },
		func(i int) float64 { return float64(i % 2) },
		func(i int) float64 { return -float64(i) - 1 },
		func(i int) float64 { return 1e15 * rnd.Float64() },
		func(i int) float64 { return 1e-12 * rnd.Float64() },
		func(i int) float64 { return rnd.NormFloat64() },
		func(i int) float64 { return math.Exp(rnd.NormFloat64() * 8) },
		func(i int) float64 { return float64(i/10%2) * 1e5 },
		func(i int) float64 {
			if i == 9 {
				return 1e9
			}
			return 0
		},
	}
	for _, n := range []int{20, 21, 33, 200, 1500} {
		for k, y := range shapes {
			for _, step := range []float64{1e-7, 0.002, 0.02, 0.1} {
				angles, counts := make([]float64, n), make([]float64, n)
				for i := range n {
					angles[i], counts[i] = 0.01+step*float64(i), y(i)
				}
				scan, err := xrd.NewScan(angles, counts, nil, xrd.ScanInfo{})
				require.NoError(t, err)
				f := peaks.Find(scan, copper, peaks.Settings{MaxPeaks: 30})
				for i := range n {
					require.False(t, math.IsNaN(f.Background[i]+f.Fitted[i]) || !(f.Sigma[i] > 0), "shape %d, %d points, step %g, point %d", k, n, step, i)
				}
				for _, q := range f.Peaks {
					require.False(t, math.IsNaN(q.TwoTheta+q.TwoThetaU+q.Area+q.AreaU+q.FWHM+q.FWHMU+q.D+q.Significance), "shape %d: %+v", k, q)
				}
			}
		}
	}
}

func TestLookAtSharedScans(t *testing.T) {
	files, _ := filepath.Glob("../../shared/data/*/" + os.Getenv("LOOK"))
	if os.Getenv("LOOK") == "" || len(files) == 0 {
		t.Skip("set LOOK to a pattern of file names to print the peaks of the shared scans")
	}
	for _, name := range files {
		file, err := os.Open(name)
		require.NoError(t, err)
		scan, err := scanfile.Read(file, name)
		file.Close()
		require.NoError(t, err)
		f := peaks.Find(scan, copper, peaks.Settings{})
		t.Log(name, len(f.Peaks), f.Noise, f.Width, f.Threshold)
		for _, p := range f.Peaks {
			t.Logf("%9.4f ±%.4f d %.4f h %8.1f A %9.3f ±%.3f w %.4f ±%.4f η %.2f z %.1f %s %d", p.TwoTheta, p.TwoThetaU, p.D, p.Height, p.Area, p.AreaU, p.FWHM, p.FWHMU, p.Eta, p.Significance, p.Kind, p.Of)
		}
		for _, c := range f.Cautions {
			t.Log(c.Code, c.Text)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	p := xrdtest.Pattern{Lo: 5, Hi: 150, Step: 0.02, Lines: xrdtest.Spread(1, 60, 15, 148, 5, 5000), Background: flat(100)}
	scan := p.Scan(b, 1)
	var found peaks.Found
	for b.Loop() {
		found = peaks.Find(scan, copper, peaks.Settings{})
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*scan.Len()), "ns/point")
	b.ReportMetric(float64(len(found.Peaks)), "peaks")
}
