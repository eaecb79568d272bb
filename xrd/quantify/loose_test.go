package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

const looseSource = "absorption in grains of unknown size"

// absorbingPhases are two phases with densities and mass absorptions, cm²/g.
func absorbingPhases(mass ...float64) []refdata.Phase {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	for i := range phases {
		phases[i].Density, phases[i].MassAbsorption = 5, mass[i]
	}
	return phases
}

func powderOf(t testing.TB, mass ...float64) quantify.Input {
	t.Helper()
	return quantify.Input{Fit: exact(t, absorbingPhases(mass...), []float64{60, 40}, []float64{0.6, 0.4}), Roles: make([]quantify.Role, 2), Threshold: 4}
}

// TestLooseGrains: what absorbs more may be more than a fine powder says and not less, by as much as the correction for the largest
// grains makes of it; the value stays; where all absorb alike, or the size is stated, nothing widens.
func TestLooseGrains(t *testing.T) {
	in := powderOf(t, 200, 20) // 1000 and 100/cm
	stated := in
	stated.Grain = []float64{0, 0}
	narrow, wide := quantify.Run(stated).Fractions, quantify.Run(in).Fractions
	stated.Grain = []float64{5, 5}
	coarsest := quantify.Run(stated).Fractions
	for k := range wide {
		assert.InDelta(t, narrow[k].Weight.Percent, wide[k].Weight.Percent, 1e-12)
	}
	d := coarsest[0].Weight.Percent - wide[0].Weight.Percent
	require.Greater(t, d, 2.0)
	assert.InDelta(t, wide[0].Weight.Percent+math.Hypot(narrow[0].Weight.Hi-narrow[0].Weight.Percent, d), wide[0].Weight.Hi, 0.01)
	assert.InDelta(t, narrow[0].Weight.Lo, wide[0].Weight.Lo, 1e-9, "grains hide what absorbs more; they never feign it")
	assert.InDelta(t, narrow[1].Weight.Hi, wide[1].Weight.Hi, 1e-9)
	assert.InDelta(t, 100-wide[0].Weight.Hi, wide[1].Weight.Lo, 0.05)
	// By hand to first order: δ ∝ D, whose mean square over a logarithmic range is (b² − a²)/(2 ln b/a) = 5.37 = (0.464·5)² µm².
	assert.InEpsilon(t, 0.464*d, sourceU(wide[0], looseSource), 0.12)
	alike := quantify.Run(powderOf(t, 20, 20)).Fractions[0]
	assert.InDelta(t, 0, sourceU(alike, looseSource), 1e-9)
	unknown := powderOf(t, 200, 0)
	assert.True(t, math.IsNaN(sourceU(quantify.Run(unknown).Fractions[0], looseSource)), "nothing is known of the absorption")
	through := powderOf(t, 200, 20)
	fit := *through.Fit
	fit.Setup.Instrument.Geometry = xrd.Transmission
	through.Fit = &fit
	assert.True(t, math.IsNaN(sourceU(quantify.Run(through).Fractions[0], looseSource)))
}

// TestLooseGrainsWithFactors: factors of all phases have taken absorption up; of some, they have not.
func TestLooseGrainsWithFactors(t *testing.T) {
	in := powderOf(t, 200, 20)
	f := quantify.Factors{Reference: "invented-0", RepeatFreedom: 5, Covariance: [][]float64{{0, 0}, {0, 0}},
		List: []quantify.Factor{{ID: "invented-0", Value: 1}, {ID: "invented-1", Value: 1}}}
	in.Corrected = &f
	assert.True(t, math.IsNaN(sourceU(quantify.Run(in).Fractions[0], looseSource)))
	f.List = f.List[:1]
	assert.Greater(t, sourceU(quantify.Run(in).Fractions[0], looseSource), 1.0)
}

// TestLooseGrainsBesideStandard: a standard that absorbs more than the rest makes the amorphous part look larger, so that its interval
// reaches down.
func TestLooseGrainsBesideStandard(t *testing.T) {
	in := powderOf(t, 20, 200)
	in.Roles = []quantify.Role{quantify.Specimen, quantify.Standard}
	in.Spike = &quantify.Spike{Phase: 1, WeightPercent: 30}
	stated := in
	stated.Grain = []float64{0, 0}
	narrow, wide := quantify.Run(stated), quantify.Run(in)
	require.NotNil(t, wide.Amorphous)
	stated.Grain = []float64{5, 5}
	d := quantify.Run(stated).Amorphous.Percent - narrow.Amorphous.Percent
	require.Greater(t, math.Abs(d), 2.0)
	if d > 0 {
		assert.Greater(t, wide.Amorphous.Hi, narrow.Amorphous.Hi+0.5)
		assert.InDelta(t, narrow.Amorphous.Lo, wide.Amorphous.Lo, 1e-9)
	} else {
		assert.Less(t, wide.Amorphous.Lo, narrow.Amorphous.Lo-0.5)
		assert.InDelta(t, narrow.Amorphous.Hi, wide.Amorphous.Hi, 1e-9)
	}
}

func TestRoughQuadrature(t *testing.T) {
	for _, x := range []float64{-1, -0.2, 0.01, 0.3, 1} {
		for _, angle := range []float64{0, 30, 90, 160} {
			fine, rough := quantify.Brindley(x, angle), quantify.BrindleyRule(x, angle, 12)
			assert.InDelta(t, fine, rough, 1e-3*math.Abs(fine-1), "x = %g, %g°", x, angle)
		}
	}
}
