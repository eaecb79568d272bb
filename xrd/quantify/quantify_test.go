package quantify_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// invented is a phase of a few free lines; its positions differ from number to number.
func invented(number int, rir float64) refdata.Phase {
	p := refdata.Phase{ID: fmt.Sprintf("invented-%d", number), RIR: refdata.RIR{Value: rir, RelU: 0.05}}
	for i, intensity := range []float64{100, 60, 35, 50} {
		p.Lines = append(p.Lines, refdata.Line{D: 3.4 - 0.5*float64(i) - 0.07*float64(number), Intensity: intensity})
	}
	return p
}

// counts draws a scan of phases at given scales on a background of 30 counts.
func counts(t testing.TB, phases []refdata.Phase, scales []float64, seed uint64) pattern.Setup {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	s := pattern.Setup{Radiation: r, Instrument: xrd.DefaultInstrument(), Gain: 1, Phases: phases, Hold: []pattern.Kind{pattern.CellA}}
	source := rand.NewPCG(seed, 3)
	for i := range 1501 {
		s.TwoTheta = append(s.TwoTheta, 22+0.04*float64(i))
	}
	mean := make([]float64, len(s.TwoTheta))
	s.Sigma, s.Intensity = make([]float64, len(mean)), make([]float64, len(mean))
	for i := range s.Sigma {
		s.Sigma[i] = 1
		mean[i] = 30
	}
	for p, phase := range phases {
		for i, y := range pattern.Calculate(s, phase, scales[p], 0, 0) {
			mean[i] += y
		}
	}
	for i, m := range mean {
		s.Intensity[i] = distuv.Poisson{Lambda: m, Src: source}.Rand()
		s.Sigma[i] = math.Sqrt(math.Max(1, s.Intensity[i]))
	}
	return s
}

func fitted(t testing.TB, s pattern.Setup) *pattern.Fit {
	t.Helper()
	f, err := pattern.Run(context.Background(), s, pattern.Quick)
	require.NoError(t, err)
	return f
}

// exact is a fit with stated scales and uncertainties, for arithmetic. Its lines tell nothing of their scatter, nor would they let it be
// expected: they are lost in noise.
func exact(t testing.TB, phases []refdata.Phase, scales, u []float64) *pattern.Fit {
	t.Helper()
	f := fitted(t, counts(t, phases, scales, 1))
	f.Scales, f.Agreement.BerarLelann, f.Kappa = scales, 1, 0
	f.Setup.Intensity = append([]float64(nil), f.Fitted...) // no line deviates
	for i := range f.Noise {
		f.Noise[i] *= lost
	}
	for p := range scales {
		for q := range scales {
			f.ScaleCov[p][q] = 0
		}
		f.ScaleCov[p][p] = u[p] * u[p]
	}
	return f
}

// lost is the factor of the noise in which lines of an exact fit are lost.
const lost = 1e9

// seen is an exact fit whose lines stand out of the noise.
func seen(f *pattern.Fit) *pattern.Fit {
	for i := range f.Noise {
		f.Noise[i] /= lost
	}
	return f
}

// TestNormalised: amounts 500/1 = 500, 680/3.4 = 200, 1500/5 = 300 of 1000, so 50, 20 and 30 wt%. Relative uncertainties
// of the amounts: scale 2 %, 5 %, 1 % and RIR 5 % each. u²(w₁) = w₁²[(1 − 0.5)² u₁² + 0.2² u₂² + 0.3² u₃²]; for the scales
// 2500·(0.25·4e-4 + 0.04·25e-4 + 0.09·1e-4) = 0.5225, for the RIRs 2500·25e-4·(0.25 + 0.04 + 0.09) = 2.375.
func TestNormalised(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 3.4), invented(2, 5)}
	in := quantify.Input{Fit: exact(t, phases, []float64{500, 680, 1500}, []float64{10, 34, 15}), Roles: make([]quantify.Role, 3), Threshold: 4}
	a := quantify.Run(in)
	for p, want := range []float64{50, 20, 30} {
		assert.InDelta(t, want, a.Fractions[p].Weight.Percent, 1e-9)
	}
	f := a.Fractions[0]
	require.Len(t, f.Budget, 4)
	assert.InDelta(t, math.Sqrt(0.5225), f.Budget[0].U, 1e-9, f.Budget[0].Name)
	assert.InDelta(t, math.Sqrt(2.375), f.Budget[2].U, 1e-9, f.Budget[2].Name)
	assert.InDelta(t, 0, f.Budget[1].U, 1e-6, "lines do not scatter beyond counting")
	assert.InDelta(t, 0.5225+2.375, a.Covariance[0][0], 1e-9)
	lo, hi := quantify.Interval(50, math.Sqrt(0.5225+2.375), quantify.Z95)
	assert.InDelta(t, lo, f.Weight.Lo, 1e-9)
	assert.InDelta(t, hi, f.Weight.Hi, 1e-9)
	for _, row := range a.Covariance {
		assert.InDelta(t, 0, row[0]+row[1]+row[2], 1e-9, "fractions sum to 100")
	}
	assert.Nil(t, a.Amorphous)
	assert.True(t, math.IsNaN(f.Volume.Percent), "no density, no volume")
	assert.True(t, math.IsNaN(f.Coarse.Percent), "no absorption, no coarse limit")

	in.Unexplained = 0.1 // a tenth of the intensity belongs to nobody: every fraction may be a tenth less
	assert.InDelta(t, 0.9*lo, quantify.Run(in).Fractions[0].Weight.Lo, 1e-9)

	in.Fit.Agreement.BerarLelann = 2 // doubles what the fit says, not the RIR
	assert.InDelta(t, 4*0.5225+2.375, quantify.Run(in).Covariance[0][0], 1e-9)
}

// TestVolumes: 60:40 wt% at 3 and 8 g/cm³ are 20:5 volumes, 80:20 %.
func TestVolumes(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	phases[0].Density, phases[1].Density = 3, 8
	a := quantify.Run(quantify.Input{Fit: exact(t, phases, []float64{60, 40}, []float64{1, 1}), Roles: make([]quantify.Role, 2)})
	assert.InDelta(t, 80, a.Fractions[0].Volume.Percent, 1e-9)
	assert.InDelta(t, 20, a.Fractions[1].Volume.Percent, 1e-9)
	assert.Less(t, a.Fractions[0].Volume.Lo, 80.0)
	assert.Greater(t, a.Fractions[0].Volume.Hi, 80.0)
}

// TestGrownCell: edges 0.5 % longer are 1.005³ = 1.015075 times the volume; the same intensity then means that much more
// mass (RIR is I/(V²ρ), ρV fixed): 1.015075/2.015075 = 50.374 wt%; and its density is that much lower, so that the volume
// is 1.015075² = 1.030377 times as large: 1.030377/2.030377 = 50.748 %.
func TestGrownCell(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	phases[0].Density, phases[1].Density = 5, 5
	s := counts(t, phases, []float64{100, 100}, 1)
	s.Start.Values = map[pattern.Key]float64{{Kind: pattern.CellA, ID: phases[0].ID}: 0.005}
	f := fitted(t, s)
	f.Scales = []float64{100, 100}
	a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2)})
	assert.InDelta(t, 50.374, a.Fractions[0].Weight.Percent, 5e-4)
	assert.InDelta(t, 50.748, a.Fractions[0].Volume.Percent, 5e-4)
}

// TestRoles: artefacts of preparation and the standard are left out of the specimen's 100 %.
func TestRoles(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1), invented(2, 0)}
	in := quantify.Input{Fit: exact(t, phases, []float64{300, 100, 50}, []float64{1, 1, 1}),
		Roles: []quantify.Role{quantify.Specimen, quantify.Specimen, quantify.Preparation}}
	a := quantify.Run(in)
	assert.Empty(t, a.Withheld, "an abrasive without RIR does not matter")
	assert.InDelta(t, 75, a.Fractions[0].Weight.Percent, 1e-9)
	assert.True(t, math.IsNaN(a.Fractions[2].Weight.Percent))

	in.Roles[2] = quantify.Specimen
	a = quantify.Run(in)
	assert.Equal(t, []int{2}, a.Withheld, "but a phase of the specimen does")
	assert.True(t, math.IsNaN(a.Fractions[0].Weight.Percent))

	in.Roles = []quantify.Role{quantify.Preparation, quantify.Preparation, quantify.Preparation}
	assert.True(t, math.IsNaN(quantify.Run(in).Fractions[0].Weight.Percent), "nothing of the specimen's own")
}

// TestNothingThere: a phase without intensity is 0 with an upper end and a limit; without any intensity nothing is known;
// a phase alone is 100 %.
func TestNothingThere(t *testing.T) {
	phases := []refdata.Phase{invented(0, 2), invented(1, 1)}
	f := seen(exact(t, phases, []float64{1000, 0}, []float64{5, 0}))
	f.ZeroU[1] = 2
	a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), Threshold: 4})
	assert.InDelta(t, 100, a.Fractions[0].Weight.Percent, 1e-9)
	gone := a.Fractions[1]
	assert.Zero(t, gone.Weight.Percent)
	assert.Zero(t, gone.Weight.Lo)
	// 2/1 beside 1000/2 = 500: 100·2/502 = 0.39841, times 1.95996.
	assert.InDelta(t, 0.78087, gone.Weight.Hi, 1e-5)
	// (4 + 1.645)·2 = 11.29 beside 500: 100·11.29/511.29; that is what the whole pattern needs, its lines under the other's
	// more: (2·4 + 1.645)·σ for the strongest of them.
	assert.Greater(t, gone.Limit, 2.20814)
	assert.Less(t, gone.Limit, 4*2.20814)

	f.Scales = []float64{0, 0}
	assert.True(t, math.IsNaN(quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2)}).Fractions[0].Weight.Percent))

	one := exact(t, phases[:1], []float64{1000}, []float64{5})
	w := quantify.Run(quantify.Input{Fit: one, Roles: make([]quantify.Role, 1)}).Fractions[0].Weight
	assert.Equal(t, quantify.Value{Percent: 100, Lo: 100, Hi: 100}, w)
}

func starter(t testing.TB, id string) refdata.Phase {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for _, rec := range refdata.Starter() {
		if rec.ID == id {
			s, err := structure.FromRecord(rec)
			require.NoError(t, err)
			p, err := s.Phase(refdata.Beam{Radiation: r})
			require.NoError(t, err)
			return p
		}
	}
	require.Fail(t, "no such phase", id)
	return refdata.Phase{}
}

// TestCoarseLimit: what true 50:50 mixtures of coarse grains read as (PRACTICE 1.7, computed there from densities and
// mass attenuation of its own) must come back as 50 % in the coarse limit. A reading r is good to half of its last digit,
// and attenuation tables differ by 2 %: the limit moves by 50·Δr/(r(1 − r)) and 50·0.02/2.
func TestCoarseLimit(t *testing.T) {
	for _, c := range []struct {
		a, b           string
		reading, digit float64
	}{
		{"tungsten", "copper", 12.5, 0.05},
		{"copper", "cu3sn-epsilon", 71, 0.5},
		{"nb3sn", "copper", 23, 0.5},
		{"iron-alpha", "copper", 16, 0.5},
		{"ybco-123", "silver", 68, 0.5},
	} {
		phases := []refdata.Phase{starter(t, c.a), starter(t, c.b)}
		f := exact(t, phases, []float64{c.reading * phases[0].RIR.Value, (100 - c.reading) * phases[1].RIR.Value}, []float64{1, 1})
		r := c.reading / 100
		volume := f.VolumeRatio(0) / f.VolumeRatio(1) // of cells as fitted; 1 but for noise
		require.InDelta(t, 1, volume, 1e-3)
		got := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2)}).Fractions[0].Coarse.Percent
		assert.InDelta(t, 50, got, 50*(c.digit/100)/(r*(1-r))+50*0.02/2+0.05, "%s–%s", c.a, c.b)
	}
}

// TestCoarseLimitOfLikes: silicon and aluminium absorb nearly alike (μ/μ̄ within 0.7 to 1.4 for both), so that a coarse
// limit is given only when the fractions are so sure that it lies outside their interval.
func TestCoarseLimitOfLikes(t *testing.T) {
	phases := []refdata.Phase{starter(t, "aluminium"), starter(t, "silicon")}
	at := func(u float64) quantify.Answer {
		return quantify.Run(quantify.Input{Fit: exact(t, phases, []float64{100, 100}, []float64{u, u}), Roles: make([]quantify.Role, 2)})
	}
	a := at(10)
	assert.True(t, math.IsNaN(a.Fractions[0].Coarse.Percent))
	f := at(1).Fractions[0]
	assert.False(t, f.Weight.Lo <= f.Coarse.Percent && f.Coarse.Percent <= f.Weight.Hi)
	assert.InDelta(t, 1, a.Fractions[0].MuRatio, 0.1)
}

// TestHiddenScatterInBudget: lines of 10 to 30 % by counting that lie where they should show no scatter, and are not known to have none.
// By hand: of lines with counting variances u², weighted by 1/u², a scatter σ² = 3 · 0.03²/5 (see the doc of the package) adds σ² Σ u⁻⁴/Σ u⁻² to the variance
// of the scale, over that of counting.
func TestHiddenScatterInBudget(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	fit := seen(exact(t, phases, []float64{500, 500}, []float64{25, 25}))
	strongest := fit.Lines(0)[0]
	for i := range fit.Noise {
		fit.Noise[i] *= 0.01 * strongest.Fitted * strongest.Fitted / (strongest.ObservedU * strongest.ObservedU)
	}
	var sum, squares, variance [2]float64
	for p := range phases {
		for _, l := range fit.Lines(p) {
			if w := l.Fitted * l.Fitted / (l.ObservedU * l.ObservedU); w > 9 {
				sum[p] += w
				squares[p] += w * w
			}
		}
		require.Positive(t, sum[p])
		variance[p] = 0.05 * 0.05 * 0.6 * 0.03 * 0.03 * squares[p] / sum[p]
	}
	a := quantify.Run(quantify.Input{Fit: fit, Roles: make([]quantify.Role, 2), Threshold: 4})
	assert.InEpsilon(t, 25*math.Sqrt(variance[0]+variance[1]), a.Fractions[0].Budget[1].U, 0.05)
	assert.InDelta(t, 5, quantify.ScatterFreedom(fit, 0), 0.3, "of a half-normal density")
}
