package simulate_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/simulate"
)

// component computes a phase of the starter collection for Cu Kα.
func component(t testing.TB, id string, wt float64) simulate.Component {
	t.Helper()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for _, rec := range refdata.Starter() {
		if rec.ID == id {
			s, err := structure.FromRecord(rec)
			require.NoError(t, err)
			p, err := s.Phase(refdata.Beam{Radiation: cu})
			require.NoError(t, err)
			return simulate.Component{Phase: p, WeightPercent: wt}
		}
	}
	require.Fail(t, "no such starter phase", id)
	return simulate.Component{}
}

func job(t testing.TB, components ...simulate.Component) simulate.Job {
	t.Helper()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return simulate.Job{Components: components, Radiation: cu, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: 1, Rate: 4000, Background: 20}
}

// TestNoiseFreeIsExplained: the model that fits explains a scan without noise to 1e-9 of its strongest point, with every
// parameter free that a full fit frees, and gives the fractions back.
func TestNoiseFreeIsExplained(t *testing.T) {
	a, b := component(t, "copper", 70), component(t, "corundum", 30)
	a.SizeNM, a.Strain, a.Pole, a.March, a.Stretch = 60, 0.001, [3]int{1, 1, 1}, 0.8, 0.001
	b.Pole, b.March = [3]int{0, 0, 1}, 1.2
	j := job(t, a, b)
	j.Displacement, j.KBeta, j.WLAlpha, j.Instrument.Axial = 0.08, 0.01, 0.004, 0.02
	scan, err := simulate.Run(j)
	require.NoError(t, err)
	set := j.Setup(scan.TwoTheta)
	set.Intensity, set.Gain = scan.Expected, 0
	set.Sigma = make([]float64, len(scan.TwoTheta))
	for i := range set.Sigma {
		set.Sigma[i] = 1e-7 // so small that no prior has a say
	}
	fit, err := pattern.Run(context.Background(), set, pattern.Full)
	require.NoError(t, err)
	strongest := slices.Max(scan.Expected)
	worst := floats.Distance(fit.Fitted, scan.Expected, math.Inf(1))
	t.Logf("worst %.2g of the strongest point, status %v", worst/strongest, fit.Status)
	assert.Less(t, worst, 1e-9*strongest)
	for i, s := range scan.Scales {
		assert.InEpsilon(t, s, fit.Scales[i], 1e-6)
	}
}

// TestDefinitions: the top of corundum 113 has the rate that was asked for, and a phase beside as much corundum shows the
// intensity ratio that the reference intensity ratio is by definition (Int. Tables H 3.9, read).
func TestDefinitions(t *testing.T) {
	j := job(t, component(t, "corundum", 100))
	j.Background, j.Radiation.Ratio, j.Radiation.KAlpha2 = 0, 0, 0
	j.Lo, j.Hi, j.Step = 42, 45, 0.001
	s, err := simulate.Run(j)
	require.NoError(t, err)
	assert.InEpsilon(t, 4000, slices.Max(s.Expected), 2e-3) // 116 and others are far; the step cuts the top by less

	for _, slit := range []xrd.Slit{{}, {Mode: xrd.SlitAutomatic, Value: 10}} {
		half := job(t, component(t, "corundum", 50), component(t, "zincite", 50))
		half.Instrument.Slit = slit
		s, err = simulate.Run(half)
		require.NoError(t, err)
		assert.InEpsilon(t, half.Components[1].Phase.RIR.Value/half.Components[0].Phase.RIR.Value, s.Scales[1]/s.Scales[0], 1e-12)
	}
}

// TestCoarseGrains: true 50:50 wt reads 12.5 % W and 16 % Fe beside copper when grains are much larger than 1/μ
// (PRACTICE.md 1.7, calculated there); fine grains read the truth, and those between lie between.
func TestCoarseGrains(t *testing.T) {
	for id, coarse := range map[string]float64{"tungsten": 12.5, "iron-alpha": 16} {
		reads := func(intercept float64) float64 {
			j := job(t, component(t, id, 50), component(t, "copper", 50))
			j.Intercept = intercept
			s, err := simulate.Run(j)
			require.NoError(t, err)
			a, b := s.Scales[0]/j.Components[0].Phase.RIR.Value, s.Scales[1]/j.Components[1].Phase.RIR.Value
			return 100 * a / (a + b)
		}
		assert.InDelta(t, coarse, reads(math.Inf(1)), 0.7, id) // the source gives whole and half per cent
		assert.InDelta(t, 50, reads(0), 1e-9, id)
		assert.InDelta(t, 50, reads(0.001), 0.2, id)
		middle := reads(5)
		assert.Greater(t, middle, coarse+1, id)
		assert.Less(t, middle, 49.0, id)
	}
}

// TestPowderOfGrains: what simulate makes of grains of a diameter, the correction after Brindley undoes; grains of 2 µm hide tungsten from
// copper, and less of it than coarse regions do.
func TestPowderOfGrains(t *testing.T) {
	j := job(t, component(t, "tungsten", 50), component(t, "copper", 50))
	j.Grain = 2
	s, err := simulate.Run(j)
	require.NoError(t, err)
	a, b := s.Scales[0]/j.Components[0].Phase.RIR.Value, s.Scales[1]/j.Components[1].Phase.RIR.Value
	assert.Less(t, 100*a/(a+b), 45.0)
	assert.Greater(t, 100*a/(a+b), 12.5)
	mean := 0.0 // by hand: Σ v μ of equal weights
	va, vb := 50/j.Components[0].Phase.Density, 50/j.Components[1].Phase.Density
	mean = (va*j.Components[0].Phase.MuLinear() + vb*j.Components[1].Phase.MuLinear()) / (va + vb)
	tau := func(c simulate.Component) float64 {
		return quantify.Brindley((c.Phase.MuLinear()-mean)*1e-4, c.Phase.Lines[c.Phase.Strongest()].TwoTheta)
	}
	assert.InEpsilon(t, tau(j.Components[0])/tau(j.Components[1]), a/b, 1e-9)
}

// TestShortSpecimen: 12 mm under a slit of 1° and a radius of 240 mm are overfilled below 40.9° (sin θ = Rα/l), where intensity
// falls as sin θ/sin θc (PRACTICE.md 1.1).
func TestShortSpecimen(t *testing.T) {
	j := job(t, component(t, "corundum", 100))
	j.Background, j.Instrument.Radius, j.Instrument.Slit = 0, 240, xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
	long, err := simulate.Run(j)
	require.NoError(t, err)
	j.Specimen.Length = 12
	short, err := simulate.Run(j)
	require.NoError(t, err)
	ratio := func(lo, hi float64) float64 {
		var a, b float64
		for i, x := range long.TwoTheta {
			if x > lo && x < hi {
				a, b = a+short.Expected[i], b+long.Expected[i]
			}
		}
		return a / b
	}
	limit := math.Sin(xrd.Radians(40.87 / 2))
	assert.InDelta(t, math.Sin(xrd.Radians(25.58/2))/limit, ratio(25.3, 25.9), 0.004)
	assert.InDelta(t, 1, ratio(57, 58), 1e-3)
}

// TestCount: counts scatter as Poisson says, and a seed gives the same counts again.
func TestCount(t *testing.T) {
	expected := make([]float64, 20000)
	for i := range expected {
		expected[i] = 7
	}
	counts := simulate.Count(expected, 3)
	assert.Equal(t, counts, simulate.Count(expected, 3))
	assert.NotEqual(t, counts, simulate.Count(expected, 4))
	n := float64(len(counts))
	mean := floats.Sum(counts) / n
	var v float64
	for _, c := range counts {
		v += (c - mean) * (c - mean) / n
		require.Equal(t, c, math.Trunc(c))
	}
	assert.InDelta(t, 7, mean, 4*math.Sqrt(7/n))
	assert.InEpsilon(t, 7, v, 4*math.Sqrt(2/n))
}

// TestBackgroundParts: each part of the background adds what it says and nothing else.
func TestBackgroundParts(t *testing.T) {
	base := job(t, component(t, "copper", 100))
	plain, err := simulate.Run(base)
	require.NoError(t, err)
	at := func(s simulate.Scan, x float64) float64 {
		i, _ := slices.BinarySearch(s.TwoTheta, x)
		return s.Background[i]
	}
	assert.InDelta(t, 20, at(plain, 30), 1e-9)

	j := base
	j.Haloes = []simulate.Halo{{D: 4.2, Width: 8, Height: 100}}
	s, err := simulate.Run(j)
	require.NoError(t, err)
	top, _ := xrd.TwoTheta(4.2, j.Radiation.KAlpha1)
	assert.InDelta(t, 120, at(s, top), 0.1)
	assert.InDelta(t, 70, at(s, top+4), 1)

	j = base
	j.EdgeStep = 0.02
	s, err = simulate.Run(j)
	require.NoError(t, err)
	foot, _ := xrd.TwoTheta(2.087, 1.48807) // copper 111 at the K edge of nickel: 41.75° (PRACTICE.md 1.3)
	assert.InDelta(t, 41.75, foot, 0.1)
	below, above := at(s, foot-0.1), at(s, foot+0.1)
	assert.InDelta(t, 20, below, 1e-9, "the filter takes what is shorter than its edge")
	// Of the area of copper 111 (here that of both components of the doublet), 0.02 a degree at 40°, cot θ there and the window.
	var area float64
	for _, l := range j.Components[0].Phase.Lines {
		if math.Abs(l.D-2.087) < 0.01 {
			area = s.Scales[0] * l.Intensity / 100 / (1 + j.Radiation.Ratio) * j.Instrument.IntensityFactor(l.TwoTheta, 0)
		}
	}
	white := 0.02 * area * math.Tan(xrd.Radians(20)) / math.Tan(xrd.Radians(foot/2)) * math.Exp(-4*math.Ln2*math.Pow((1.48807/1.5405929-1)/0.2, 2))
	assert.InEpsilon(t, white, above-below, 0.01)
}

func TestImpossibleInput(t *testing.T) {
	nan := math.NaN()
	for name, spoil := range map[string]func(*simulate.Job){
		"sum":             func(j *simulate.Job) { j.Components[0].WeightPercent = 60 },
		"negative":        func(j *simulate.Job) { j.Components[0].WeightPercent = -1 },
		"NaN":             func(j *simulate.Job) { j.Components[0].WeightPercent = nan },
		"twice":           func(j *simulate.Job) { j.Components[1] = j.Components[0]; j.Components[1].WeightPercent = 0 },
		"step":            func(j *simulate.Job) { j.Step = nan },
		"no points":       func(j *simulate.Job) { j.Step = 1; j.Hi = 25 },
		"too many":        func(j *simulate.Job) { j.Step = 1e-4; j.Lo, j.Hi = 1, 170 },
		"backwards":       func(j *simulate.Job) { j.Lo, j.Hi = 90, 20 },
		"radius":          func(j *simulate.Job) { j.Instrument.Radius = -200 },
		"displacement":    func(j *simulate.Job) { j.Displacement = 3 },
		"texture":         func(j *simulate.Job) { j.Components[0].Pole, j.Components[0].March = [3]int{1, 1, 1}, 0 },
		"size":            func(j *simulate.Job) { j.Components[0].SizeNM = 0.1 },
		"cell":            func(j *simulate.Job) { j.Components[1].Stretch = 0.04 },
		"intercept":       func(j *simulate.Job) { j.Intercept = nan },
		"halo":            func(j *simulate.Job) { j.Haloes = []simulate.Halo{{D: 4, Width: 0, Height: 1}} },
		"counts":          func(j *simulate.Job) { j.Rate, j.Time = 1e9, 1e6 },
		"long wavelength": func(j *simulate.Job) { j.Radiation.KAlpha1 = 5; j.Radiation.KAlpha2 = 5.01 },
	} {
		j := job(t, component(t, "copper", 50), component(t, "corundum", 50))
		spoil(&j)
		_, err := simulate.Run(j)
		assert.ErrorIs(t, err, simulate.ErrInput, name)
	}
	j := job(t, component(t, "copper", 50), component(t, "corundum", 50))
	j.Components[1].Phase.RIR.Value = 0
	_, err := simulate.Run(j)
	assert.ErrorIs(t, err, simulate.ErrNoStructure)
}

func FuzzJob(f *testing.F) {
	f.Add(20.0, 60.0, 0.05, 1.0, 4000.0, 50.0, 0.05, 4.0)
	f.Add(5.0, 6.0, 0.001, 1e-3, 1.0, 0.0, -1.0, 0.0)
	base := job(f, component(f, "copper", 100))
	other := component(f, "tungsten", 0)
	f.Fuzz(func(t *testing.T, lo, hi, step, time, rate, wt, displacement, intercept float64) {
		if step < 0.01 {
			return // time only
		}
		j := base
		j.Components = []simulate.Component{base.Components[0], other}
		j.Components[0].WeightPercent, j.Components[1].WeightPercent = 100-wt, wt
		j.Lo, j.Hi, j.Step, j.Time, j.Rate, j.Displacement, j.Intercept = lo, hi, step, time, rate, displacement, intercept
		s, err := simulate.Run(j)
		if err != nil {
			return
		}
		for i, y := range s.Expected {
			if !(y >= 0) || math.IsInf(y, 0) {
				t.Fatalf("%g counts at %g°", y, s.TwoTheta[i])
			}
		}
	})
}
