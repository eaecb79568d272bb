package analysis_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// external is the analysis of a simulated powder of quartz and fluorite with a quarter of silica glass beside a scan of
// pure corundum taken with the same simulated diffractometer (testdata/README.md has the compositions).
func external(t testing.TB) analysis.Job {
	j := job(t, load(t, "testdata/glass.xy"), "Cu")
	j.Phases = []string{"quartz", "fluorite"}
	j.External = &analysis.External{Scan: load(t, "testdata/corundum.xy"), File: "corundum.xy", ID: "corundum"}
	// Of 65 % SiO2 and 35 % CaF2, by hand: 65·28.086/60.084, 65·31.999/60.084, 35·40.078/78.075, 35·37.997/78.075.
	j.Composition = []analysis.ElementAmount{{Symbol: "Si", WeightPercent: 30.38, U: 0.3}, {Symbol: "O", WeightPercent: 34.62, U: 0.3}, {Symbol: "Ca", WeightPercent: 17.97, U: 0.2}, {Symbol: "F", WeightPercent: 17.03, U: 0.2}}
	return j
}

func caution(t testing.TB, doc result.Document, code string) xrd.Caution {
	t.Helper()
	for _, c := range doc.Cautions {
		if c.Code == code {
			return c
		}
	}
	require.Fail(t, "not raised: "+code)
	return xrd.Caution{}
}

// TestExternalStandard: true are 40 wt% of quartz, 35 of fluorite and 25 of glass.
func TestExternalStandard(t *testing.T) {
	j := external(t)
	doc := run(t, j)
	a := doc.Absolute
	require.NotNil(t, a)
	assert.Equal(t, "external standard", a.Method)
	assert.Nil(t, a.StandardWeightPercent)
	assert.Equal(t, "composition", a.AttenuationFrom)
	// SiO2 35.8 and CaF2 96.6 cm²/g at Cu Kα (tables, from memory): 0.65·35.8 + 0.35·96.6 = 57.
	assert.InDelta(t, 57, *a.MassAttenuation, 2)
	for name, c := range map[string]struct{ lo, v, hi, want float64 }{
		"glass":    {*a.AmorphousLo, *a.AmorphousWeightPercent, *a.AmorphousHi, 25},
		"quartz":   originalOf(t, doc, "quartz", 40),
		"fluorite": originalOf(t, doc, "fluorite", 35),
	} {
		assert.InDelta(t, c.want, c.v, 3, name)
		assert.True(t, c.lo < c.want && c.want < c.hi, "%s: %g to %g", name, c.lo, c.hi)
	}
	assert.Equal(t, xrd.SeverityNote, caution(t, doc, "external-standard").Severity)
	assert.False(t, has(doc, "sum-assumption"))

	given := j
	given.External = &analysis.External{K: *a.KFactor, U: *a.KFactorU}
	assert.InDelta(t, *a.AmorphousWeightPercent, *run(t, given).Absolute.AmorphousWeightPercent, 1e-9, "the constant may be stated, too")

	longer := j
	longer.Scan.About.CountingTime = 4
	longer.External = &analysis.External{Scan: j.External.Scan, ID: "corundum"}
	longer.External.Scan.About.CountingTime = 2
	assert.InEpsilon(t, *a.KFactor*2, *run(t, longer).Absolute.KFactor, 1e-9, "K goes with the counting time")
	longer.Scan.About.CountingTime, longer.External.Scan.About.CountingTime = 2, 4
	doc = run(t, longer)
	assert.Nil(t, doc.Absolute, "half the constant makes 150 wt% of 75")
	assert.Equal(t, xrd.SeverityStop, caution(t, doc, "standard-contradicted").Severity)
	assert.Nil(t, phase(t, doc, "quartz").OriginalWeightPercent)
}

func originalOf(t testing.TB, doc result.Document, id string, want float64) struct{ lo, v, hi, want float64 } {
	p := phase(t, doc, id)
	require.NotNil(t, p.OriginalWeightPercent, id)
	return struct{ lo, v, hi, want float64 }{*p.OriginalWeightPercentLo, *p.OriginalWeightPercent, *p.OriginalWeightPercentHi, want}
}

// TestExternalStandardRefused: without the chemistry of a specimen that is partly glass, or with half of it, nothing is
// absolute, and it is said why; a standard that its scan does not show is an error.
func TestExternalStandardRefused(t *testing.T) {
	for name, composition := range map[string][]analysis.ElementAmount{"none": nil, "half": {{Symbol: "Si", WeightPercent: 30.4, U: 0}, {Symbol: "Ca", WeightPercent: 18, U: 0}}} {
		j := external(t)
		j.Composition = composition
		doc := run(t, j)
		assert.Nil(t, doc.Absolute, name)
		assert.Nil(t, phase(t, doc, "quartz").OriginalWeightPercent, name)
		c := caution(t, doc, "external-standard")
		assert.Equal(t, xrd.SeverityStop, c.Severity, name)
		assert.Contains(t, c.Remedy, "--composition", name)
	}
	j := external(t)
	j.External.ID = "halite"
	_, err := analysis.Run(t.Context(), j)
	assert.ErrorIs(t, err, quantify.ErrStandard)
	j.External.ID = "no such phase"
	_, err = analysis.Run(t.Context(), j)
	assert.ErrorIs(t, err, analysis.ErrUnknownPhase)
}

// TestExternalStandardIsPure: a mixture given as the scan of the pure standard makes nothing absolute, and it is said why. The scan of the
// mixture has more than half of its peak area in other phases.
func TestExternalStandardIsPure(t *testing.T) {
	j := external(t)
	j.Scan, j.External.Scan, j.External.File, j.External.ID = j.External.Scan, j.Scan, "glass.xy", "quartz"
	j.Phases, j.Composition = []string{"corundum"}, nil
	doc := run(t, j)
	assert.Nil(t, doc.Absolute)
	c := caution(t, doc, "external-standard")
	assert.Equal(t, xrd.SeverityStop, c.Severity)
	assert.Contains(t, c.Text, "of the peak area of glass.xy, which is no scan of a pure phase")
	assert.Contains(t, c.Remedy, "pure standard")
}

// TestBlankIsNoSpecimen: the scan of another specimen as the blank is told; that of a mount with a hump and a weak line is not.
func TestBlankIsNoSpecimen(t *testing.T) {
	j := demo(t)
	other := load(t, "../../testdata/bushing-grit.xy")
	j.Blank = &other
	c := caution(t, run(t, j), "blank-doubtful")
	assert.Equal(t, xrd.SeverityStop, c.Severity)
	assert.Greater(t, c.Evidence["share"], 0.5)

	var x, y []float64
	random := rand.New(rand.NewPCG(5, 5))
	for t := 20.0; t <= 100; t += 0.05 {
		mean := 60 + 50*math.Exp(-math.Pow((t-25)/6, 2)) + 40*math.Exp(-math.Pow((t-38.5)/0.08, 2))
		x, y = append(x, t), append(y, math.Round(mean+math.Sqrt(mean)*random.NormFloat64()))
	}
	mount, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	j.Blank = &mount
	assert.False(t, has(run(t, j), "blank-doubtful"))
}

// TestStandardMissing: a spike that was never added withholds what would have rested on it.
func TestStandardMissing(t *testing.T) {
	j := external(t)
	j.External = nil
	j.Spike = &analysis.Spike{ID: "corundum", WeightPercent: 20}
	doc := run(t, j)
	assert.Nil(t, doc.Absolute)
	assert.Nil(t, phase(t, doc, "quartz").OriginalWeightPercent)
	require.NotNil(t, phase(t, doc, "quartz").WeightPercent, "the normalised answer stands")
	assert.Equal(t, xrd.SeverityStop, caution(t, doc, "standard-missing").Severity)
	assert.Equal(t, "corundum", doc.NotDetected[0].ID)
}
