package quantify_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/simulate"
)

const feetSource = "a broader profile under the lines"

// twoSizes draws corundum and fluorite, 45 to 55 wt%, a share of the corundum being crystallites of 6 nm, and fits one profile a phase.
func twoSizes(t *testing.T, share float64) *pattern.Fit {
	t.Helper()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	phases := []refdata.Phase{starter(t, "corundum"), starter(t, "fluorite")}
	fine := phases[0]
	fine.ID = "fine corundum"
	job := simulate.Job{Radiation: cu, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: 1, Rate: 4000, Background: 40,
		Components: []simulate.Component{{Phase: phases[0], WeightPercent: 45 * (1 - share)}, {Phase: phases[1], WeightPercent: 55}}}
	if share > 0 {
		job.Components = append(job.Components, simulate.Component{Phase: fine, WeightPercent: 45 * share, SizeNM: 6})
	}
	return fitted(t, simulated(t, job, phases))
}

// simulated draws a scan, counts it, and returns the setup of a fit of phases to it.
func simulated(t *testing.T, job simulate.Job, phases []refdata.Phase) pattern.Setup {
	t.Helper()
	made, err := simulate.Run(job)
	require.NoError(t, err)
	s := pattern.Setup{TwoTheta: made.TwoTheta, Intensity: simulate.Count(made.Expected, 1), Radiation: job.Radiation, Instrument: job.Instrument, Gain: 1, Phases: phases}
	for _, y := range s.Intensity {
		s.Sigma = append(s.Sigma, math.Sqrt(math.Max(1, y)))
	}
	return s
}

// TestFeet: where crystallites of two sizes lose some of a phase to the background, intervals reach to what it would be with all of it, by
// hand from the amounts of both profiles; the value stays that of one.
func TestFeet(t *testing.T) {
	f := twoSizes(t, 0.5)
	foot, ok := f.FootOf(0)
	require.True(t, ok)
	in := quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), Threshold: 4, Grain: []float64{0, 0}}
	a := quantify.Run(in)
	amount := func(k int, factor float64) float64 {
		return f.Scales[k] * f.VolumeRatio(k) / f.Setup.Phases[k].RIR.Value * factor
	}
	one := 100 * amount(0, 1) / (amount(0, 1) + amount(1, 1))
	both := 100 * amount(0, foot.Amounts[0]) / (amount(0, foot.Amounts[0]) + amount(1, foot.Amounts[1]))
	require.Greater(t, both, one+2)
	assert.InDelta(t, one, a.Fractions[0].Weight.Percent, 1e-9)
	require.Len(t, a.Feet, 2)
	assert.InDelta(t, both, a.Feet[0].Percent, 1e-9)
	assert.Greater(t, a.Feet[0].Sigmas, 5.0)
	assert.Zero(t, a.Feet[1])
	for k, sign := range []float64{1, -1} {
		assert.InDelta(t, (both-one)/math.Sqrt(3), sourceU(a.Fractions[k], feetSource), 1e-9)
		far := a.Fractions[k].Weight.Hi
		if sign < 0 {
			far = a.Fractions[k].Weight.Lo
		}
		assert.Greater(t, sign*(far-a.Fractions[k].Weight.Percent), both-one, "phase %d reaches beyond what it would be", k)
	}
	assert.True(t, a.Fractions[0].Weight.Lo < 45 && 45 < a.Fractions[0].Weight.Hi, "the truth: %v", a.Fractions[0].Weight)

	in.Roles[1] = quantify.Standard
	in.Spike = &quantify.Spike{Phase: 1, WeightPercent: 55}
	a = quantify.Run(in)
	require.NotNil(t, a.Amorphous)
	assert.Less(t, a.Amorphous.Lo, a.Amorphous.Percent-(both-one), "what the lines lose is not amorphous")
	in.Roles[0], in.Spike, in.Roles[1] = quantify.Preparation, nil, quantify.Specimen
	assert.Zero(t, quantify.Run(in).Feet[0], "an artefact is not counted")

	plain := quantify.Run(quantify.Input{Fit: twoSizes(t, 0), Roles: make([]quantify.Role, 2), Threshold: 4, Grain: []float64{0, 0}})
	assert.Zero(t, plain.Feet[0])
	assert.True(t, math.IsNaN(sourceU(plain.Fractions[0], feetSource)), "one size, no source")
}

// TestTrend: where the lines of all phases lose intensity with the angle as those of no structure do, intervals hold what the fractions would
// be without that, by hand from the scales with it.
func TestTrend(t *testing.T) {
	mixed := func(deltaB float64) *pattern.Fit {
		cu, err := xrd.ParseRadiation("Cu")
		require.NoError(t, err)
		phases := []refdata.Phase{starter(t, "corundum"), starter(t, "silicon")}
		job := simulate.Job{Radiation: cu, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 90, Step: 0.02, Time: 2, Rate: 4000, Background: 40}
		for _, p := range phases {
			p.Lines = slices.Clone(p.Lines)
			for i, l := range p.Lines {
				p.Lines[i].Intensity *= math.Exp(-deltaB / (2 * l.D * l.D))
			}
			job.Components = append(job.Components, simulate.Component{Phase: p, WeightPercent: 50})
		}
		f, err := pattern.Run(t.Context(), simulated(t, job, phases), pattern.Full)
		require.NoError(t, err)
		return f
	}
	f := mixed(0.8)
	in := quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), Threshold: 4, Grain: []float64{0, 0}}
	a := quantify.Run(in)
	require.NotNil(t, a.Trend)
	assert.InDelta(t, 0.8, a.Trend.Value, 3*a.Trend.U)
	w := a.Fractions[0].Weight
	ratio := w.Percent / (100 - w.Percent) * a.Trend.Amounts[0] / a.Trend.Amounts[1]
	want := 100 * ratio / (1 + ratio)
	assert.InDelta(t, want, a.Trend.Percent[0], 1e-9)
	assert.InDelta(t, 100-want, a.Trend.Percent[1], 1e-9)
	assert.Less(t, math.Abs(want-50), math.Abs(w.Percent-50), "nearer to the truth, from %.2f", w.Percent)
	assert.True(t, w.Lo < want && want < w.Hi, "%v holds %g", w, want)
	assert.InDelta(t, math.Abs(want-w.Percent)/math.Sqrt(3), sourceU(a.Fractions[0], trendSource), 1e-9)

	plain := quantify.Run(quantify.Input{Fit: mixed(0), Roles: make([]quantify.Role, 2), Threshold: 4, Grain: []float64{0, 0}})
	assert.Nil(t, plain.Trend)
	assert.True(t, math.IsNaN(sourceU(plain.Fractions[0], trendSource)))
}

const trendSource = "intensities that change with the angle in all phases"
