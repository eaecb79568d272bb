package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/plan"
	"phasetally/xrd/result"
)

// Worked numbers (common practice, calculated elsewhere from R δ/sin θ, −2 s cos θ/R and −ln 0.01 sin θ/2μ, with mass attenuation
// of NIST SRD 126 at Cu Kα1 and handbook densities).
func TestWorkedNumbers(t *testing.T) {
	for _, c := range []struct{ radius, slit, twoTheta, length float64 }{{217.5, 1, 20, 21.861}, {217.5, 0.5, 10, 21.778}, {185, 1, 20, 18.594}, {240, 0.25, 5, 24.008}} {
		ins := xrd.Instrument{Radius: c.radius, Slit: xrd.Slit{Mode: xrd.SlitFixed, Value: c.slit}}
		assert.InEpsilon(t, c.length, plan.Lit(c.twoTheta, ins), 1e-4)
	}
	for _, c := range []struct{ mm, twoTheta, shift float64 }{{0.01, 20, -0.00519}, {0.05, 60, -0.02281}, {0.1, 28.4409, -0.05107}, {0.1, 100, -0.03387}, {0.1, 136.879, -0.01936}} {
		assert.InDelta(t, c.shift, xrd.DisplacementShift(c.twoTheta, c.mm, 217.5), 6e-6)
	}
	for id, c := range map[string][2]float64{"quartz": {26.6403, 56.0}, "corundum": {43.355, 67.6}, "zincite": {36.253, 25.9}, "fluorite": {47.0044, 30.4}, "calcite": {29.4053, 29.1},
		"halite": {31.6926, 38.3}, "hematite": {33.153, 5.8}, "silicon": {28.4409, 38.2}, "rutile": {27.4466, 10.4}} {
		mu := tube(t, "Cu", id).Phases[0].MuLinear()
		assert.InEpsilon(t, c[1], xrd.InformationDepth(c[0], mu, 0.99), 0.03, id)
	}
}

// A plan for a specimen of 10 mm on R = 240 mm under 1°: full above 2 asin(240·π/180/10) = 49.5° (PRACTICE.md 1.1: 49°), ½° from 24°
// on, ¼° from 12° on. The slit that is suggested is the widest that is on the specimen from the first strong line on.
func TestSuggestedSlit(t *testing.T) {
	for id, want := range map[string]string{"copper": "fixed:0.5", "gypsum": "fixed:0.125", "quartz": "fixed:0.5"} { // first strong lines at 43.3°, 11.6° and 26.6°
		q := request(t, []float64{100}, id)
		q.Length, q.Instrument.Radius, q.Instrument.Slit, q.Lo = 10, 240, xrd.Slit{Mode: xrd.SlitFixed, Value: 1}, 8
		p := run(t, q)
		require.NotNil(t, p.Footprint.FullAbove)
		assert.InDelta(t, 49.5, *p.Footprint.FullAbove, 0.3)
		assert.Equal(t, want, p.Suggested.Slit, id)
		assert.Contains(t, p.Warnings[0], "keeps", id)
	}
	q := request(t, []float64{100}, "copper")
	q.Length = 10
	assert.Contains(t, run(t, q).Warnings[0], "The slit is not stated")
}

// A step gives at least six points to the narrowest line, and a coarser one is warned of.
func TestSuggestedStep(t *testing.T) {
	for _, step := range []float64{0.005, 0.05} {
		q := request(t, []float64{100}, "corundum")
		q.Step = step
		p := run(t, q)
		s := p.Suggested
		assert.GreaterOrEqual(t, s.LeastFWHM/s.Step, 6-1e-6)
		assert.InDelta(t, s.LeastFWHM/step, s.PointsPerFWHM, 1e-9)
		warned := len(p.Warnings) > 0
		assert.Equal(t, step > 0.01, warned, p.Warnings)
	}
}

// What grows, glows or poisons is told at the bench.
func TestBench(t *testing.T) {
	for id, want := range map[string]string{"nickel": "nickel dust", "quartz": "crystalline silica", "magnesium": "no water on a fire", "galena": "lead dust"} {
		q := request(t, []float64{100}, id)
		all := ""
		for _, c := range run(t, q).Checklist {
			all += c + "\n"
		}
		assert.Contains(t, all, want)
		assert.Contains(t, all, "local radiation rules", "the safety lines stay")
		assert.Contains(t, all, "Scan a blank")
	}
}

// A thin layer is told as such: of copper 1 µm at 43.3° gives 1 − exp(−2 μ t/sin θ) = 1 − exp(−2·460·1e-4/0.369) = 22 %; 0.1 µm 2.5 %,
// which is warned of.
func TestThinLayer(t *testing.T) {
	for um, want := range map[float64]float64{1: 0.22, 0.1: 0.0246} {
		q := request(t, []float64{100}, "copper")
		q.Layer = um
		p := run(t, q)
		require.NotNil(t, p.Phases[0].LayerShare)
		assert.InEpsilon(t, want, *p.Phases[0].LayerShare, 0.05)
		told := false
		for _, w := range p.Warnings {
			told = told || assert.ObjectsAreEqual("A layer of", w[:min(10, len(w))])
		}
		assert.Equal(t, um < 0.2, told)
	}
}

// More phases are seen where less glows: the tube that is suggested has the lowest limits, and the range starts below the first line.
func TestTubesAreCompared(t *testing.T) {
	q := request(t, []float64{95, 5}, "copper", "cuprite")
	q.Tubes = append(q.Tubes, tube(t, "Co", "copper", "cuprite"), tube(t, "Mo", "copper", "cuprite"))
	p := run(t, q)
	require.Len(t, p.Tubes, 3)
	best := p.Tubes[0]
	for _, x := range p.Tubes {
		require.NotNil(t, x.Score)
		assert.GreaterOrEqual(t, *x.Score, 0.0)
		if *x.Score < *best.Score {
			best = x
		}
	}
	assert.Zero(t, *best.Score)
	assert.Equal(t, best.Radiation, p.Suggested.Radiation)
	var mo result.PlannedTube
	for _, x := range p.Tubes {
		if x.Radiation == "Mo" {
			mo = x
		}
	}
	assert.Contains(t, mo.Glowing, "Cu", "its edge lies below Mo Kα")
	assert.NotContains(t, best.Glowing, "Zr")
}

// A phase without a line in the range is said to have none, and lists of the tubes stay parallel to the phases.
func TestPhaseWithoutALine(t *testing.T) {
	q := request(t, []float64{90, 10}, "corundum", "silicon")
	q.Lo, q.Hi, q.WantedLimit = 33, 40, 1 // silicon 111 is at 28.4°, 220 at 47.3°
	p := run(t, q)
	silicon := p.Phases[1]
	assert.Nil(t, silicon.Limit)
	assert.Nil(t, silicon.TimeForLimit)
	assert.Empty(t, silicon.Lines)
	assert.Zero(t, silicon.Free)
	assert.Contains(t, p.Warnings, "silicon has no line in this range.")
	assert.InDelta(t, 28.4, silicon.Strongest, 0.1, "its strongest is elsewhere")
	for _, tube := range p.Tubes {
		assert.Len(t, tube.Limits, 2)
		require.Len(t, tube.TimesForBest, 2)
		assert.NotNil(t, tube.TimesForBest[0])
		assert.Nil(t, tube.TimesForBest[1])
	}
}

// Lines of a phase come strongest first, twelve at most, each in the range.
func TestLinesOfAPlan(t *testing.T) {
	q := request(t, []float64{100}, "quartz")
	p := run(t, q)
	lines := p.Phases[0].Lines
	require.Len(t, lines, 12)
	for k, l := range lines {
		assert.True(t, l.TwoTheta >= q.Lo && l.TwoTheta <= q.Hi)
		assert.True(t, k == 0 || l.Expected <= lines[k-1].Expected)
		assert.InEpsilon(t, q.Tubes[0].Radiation.KAlpha1/2/math.Sin(xrd.Radians(l.TwoTheta)/2), l.D, 1e-3)
		assert.True(t, !l.Free || l.Clear >= 0.9 && l.Sigmas >= 3)
	}
	assert.Contains(t, []string{"1 0 1", "0 1 1"}, lines[0].HKL, "the strongest of quartz, 26.6°")
	assert.InDelta(t, 26.64, lines[0].TwoTheta, 0.02)
}
