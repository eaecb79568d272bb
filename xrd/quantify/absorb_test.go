package quantify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// sectionPhases are copper, a tin bronze's Cu3Sn and lead by density and mass absorption for Cu Kα (from memory).
func sectionPhases() []refdata.Phase {
	phases := []refdata.Phase{invented(0, 5), invented(1, 3), invented(2, 9)}
	for i, x := range [][2]float64{{8.94, 52.8}, {8.9, 128}, {11.3, 232}} {
		phases[i].Density, phases[i].MassAbsorption = x[0], x[1]
	}
	return phases
}

// scalesOf returns the intensities of a section of known volumes, with regions of given mean intercepts, µm.
func scalesOf(phases []refdata.Phase, v []float64, m quantify.Mosaic) (scales, weights []float64) {
	var sum float64
	for k, path := range m.Paths(v) {
		scales = append(scales, 4e4*phases[k].RIR.Value*phases[k].Density*v[k]*path)
		weights = append(weights, 100*phases[k].Density*v[k])
		sum += phases[k].Density * v[k]
	}
	for k := range weights {
		weights[k] /= sum
	}
	return scales, weights
}

func mosaicOf(phases []refdata.Phase, common float64, own []float64) quantify.Mosaic {
	m := quantify.Mosaic{Common: common, Intercept: own, Spread: quantify.DefaultSpread}
	for _, p := range phases {
		m.Mu = append(m.Mu, p.MuLinear())
	}
	return m
}

// A section whose intercepts are stated has the fractions that it was made of; one without has them between its limits.
func TestSectionFractions(t *testing.T) {
	phases := sectionPhases()
	v := []float64{0.8, 0.14, 0.06}
	for _, size := range []float64{0, 0.3, 3, 10, 100, math.Inf(1)} {
		scales, want := scalesOf(phases, v, mosaicOf(phases, size, nil))
		u := []float64{scales[0] / 200, scales[1] / 100, scales[2] / 100}
		in := quantify.Input{Fit: exact(t, phases, scales, u), Roles: make([]quantify.Role, 3), Threshold: 4}
		powder := quantify.Run(in)
		in.Section = &quantify.Section{}
		span := quantify.Run(in)
		assert.Equal(t, quantify.FinePowder, powder.Absorption)
		assert.Equal(t, quantify.BothLimits, span.Absorption)
		var sum float64
		for k, f := range span.Fractions {
			assert.Less(t, f.Weight.Lo, want[k], "%g µm, phase %d", size, k)
			assert.Greater(t, f.Weight.Hi, want[k], "%g µm, phase %d", size, k)
			assert.InDelta(t, powder.Fractions[k].Weight.Percent, f.Fine.Percent, 1e-9)
			assert.True(t, powder.Fractions[k].Weight.Lo <= f.Fine.Lo && powder.Fractions[k].Weight.Hi >= f.Fine.Hi, "regions that are small beside the reach do not absorb, loose grains of unknown size may")
			assert.Equal(t, powder.Fractions[k].Coarse, f.Coarse)
			assert.InDelta(t, (f.Fine.Percent+f.Coarse.Percent)/2, f.Weight.Percent, 1e-9, "the mean of both limits")
			const oneSided = 1.6448 / 1.9600 // quantiles of 95 % on one side and on both, from tables
			for _, end := range []quantify.Value{f.Fine, f.Coarse} {
				assert.GreaterOrEqual(t, f.Weight.Hi, end.Percent+oneSided*(end.Hi-end.Percent)-1e-9)
				assert.LessOrEqual(t, f.Weight.Lo, end.Percent-oneSided*(end.Percent-end.Lo)+1e-9)
			}
			assert.LessOrEqual(t, f.Volume.Lo, 100*v[k])
			assert.GreaterOrEqual(t, f.Volume.Hi, 100*v[k])
			sum += f.Weight.Percent
		}
		assert.InDelta(t, 100, sum, 1e-9)
		if size == 0 || math.IsInf(size, 0) {
			continue
		}
		in.Section = &quantify.Section{Common: size, CommonU: 0.3}
		a := quantify.Run(in)
		assert.Equal(t, quantify.OfMosaic, a.Absorption)
		for k, f := range a.Fractions {
			assert.InDelta(t, want[k], f.Weight.Percent, 1e-6, "%g µm, phase %d", size, k)
			assert.InDelta(t, 100*v[k], f.Volume.Percent, 1e-6)
			assert.Less(t, f.Weight.Hi-f.Weight.Lo, span.Fractions[k].Weight.Hi-span.Fractions[k].Weight.Lo, "an intercept narrows the interval")
		}
	}
}

// The intervals against draws of everything that they are said to contain.
func TestSectionUncertainty(t *testing.T) {
	phases := sectionPhases()
	v := []float64{0.7, 0.2, 0.1}
	own := []float64{0, 0, 4}
	scales, _ := scalesOf(phases, v, mosaicOf(phases, 12, own))
	u := []float64{scales[0] * 0.01, scales[1] * 0.03, scales[2] * 0.02}
	for k := range phases {
		phases[k].RIR.RelU = 0.03
	}
	const spreadU = 0.2
	section := &quantify.Section{Common: 12, CommonU: 0.2, Intercept: own, InterceptU: []float64{0, 0, 0.25}, CV2: quantify.DefaultSpread, CV2U: spreadU}
	in := quantify.Input{Fit: exact(t, phases, scales, u), Roles: make([]quantify.Role, 3), Threshold: 4, Section: section}
	a := quantify.Run(in)
	var names []string
	for _, s := range a.Fractions[0].Budget {
		names = append(names, s.Name)
	}
	assert.Contains(t, names, "mean linear intercept of the section")
	assert.Contains(t, names, "absorption model of the section")

	rng := rand.New(rand.NewPCG(5, 5))
	const n = 4000
	var sum, square [3]float64
	for range n {
		m := mosaicOf(phases, 12*math.Exp(0.2*rng.NormFloat64()), []float64{0, 0, 4 * math.Exp(0.25*rng.NormFloat64())})
		all := math.Exp(quantify.ModelU * rng.NormFloat64())
		m.Common *= all
		m.Intercept[2] *= all
		m.Spread = max(0, m.Spread+spreadU*rng.NormFloat64())
		y := make([]float64, 3)
		for k, p := range phases {
			y[k] = scales[k] / p.RIR.Value / p.Density * math.Exp(math.Hypot(0.03, u[k]/scales[k])*rng.NormFloat64())
		}
		got, err := m.Volumes(y)
		require.NoError(t, err)
		var mass float64
		for k, p := range phases {
			got[k] *= p.Density
			mass += got[k]
		}
		for k := range got {
			w := 100 * got[k] / mass
			sum[k] += w
			square[k] += w * w
		}
	}
	for k := range sum {
		mean := sum[k] / n
		drawn := math.Sqrt(square[k]/n - mean*mean)
		assert.InDelta(t, 1, math.Sqrt(a.Covariance[k][k])/drawn, 0.06, "phase %d: %v, drawn %v", k, math.Sqrt(a.Covariance[k][k]), drawn)
	}
}

// A stated spread of intercepts makes another fraction and another width; that of the default makes the same.
func TestSectionSpread(t *testing.T) {
	phases := sectionPhases()
	scales, _ := scalesOf(phases, []float64{0.7, 0.2, 0.1}, mosaicOf(phases, 12, nil))
	run := func(cv2, u float64) quantify.Fraction {
		in := quantify.Input{Fit: exact(t, phases, scales, []float64{1, 1, 1}), Roles: make([]quantify.Role, 3), Threshold: 4,
			Section: &quantify.Section{Common: 12, CommonU: 0.01, CV2: cv2, CV2U: u}}
		return quantify.Run(in).Fractions[0]
	}
	open, same, sure, broad := run(0, 0), run(quantify.DefaultSpread, quantify.DefaultSpreadU), run(quantify.DefaultSpread, 0.05), run(1, 0.1)
	assert.Equal(t, open.Weight, same.Weight)
	assert.Less(t, sure.Weight.Hi-sure.Weight.Lo, 0.9*(open.Weight.Hi-open.Weight.Lo))
	assert.Greater(t, math.Abs(broad.Weight.Percent-open.Weight.Percent), 0.5, "regions of a spread of 1 are a third longer from within")
}

// A span of values holds the truth with 95 % also where the truth is one of its ends, and no more than that where it is long.
func TestSpanCoverage(t *testing.T) {
	assert.InDelta(t, 1.9600, quantify.SpanQuantile(0), 1e-4)
	assert.InDelta(t, 1.6449, quantify.SpanQuantile(20), 1e-4)
	assert.InDelta(t, 1.9600, quantify.SpanQuantile(math.NaN()), 1e-4)
	rng := rand.New(rand.NewPCG(6, 6))
	for _, span := range []float64{0, 0.5, 1, 2, 5} {
		const n, u = 20000, 1.5
		var held int
		for range n {
			shift := u * rng.NormFloat64()
			lo := quantify.Value{Percent: 40 + shift, Lo: 40 + shift - 1.96*u, Hi: 40 + shift + 1.96*u}
			hi := quantify.Value{Percent: lo.Percent + span*u, Lo: lo.Lo + span*u, Hi: lo.Hi + span*u}
			if v := quantify.Across([]quantify.Value{hi, lo}); v.Lo <= 40 && 40 <= v.Hi {
				held++
			}
		}
		assert.InDelta(t, 0.95, float64(held)/n, 0.006, "span of %g standard uncertainties", span)
	}
}

// A phase whose absorption is not known leaves a section without limits; a stated grain size of a powder wins.
func TestSectionWithoutAbsorption(t *testing.T) {
	phases := sectionPhases()
	phases[1].Density = 0
	in := quantify.Input{Fit: exact(t, phases, []float64{900, 300, 200}, []float64{9, 9, 9}), Roles: make([]quantify.Role, 3), Section: &quantify.Section{Common: 3, CommonU: 0.3}}
	a := quantify.Run(in)
	assert.Equal(t, quantify.NotKnownYet, a.Absorption)
	in.Section = nil
	powder := quantify.Run(in)
	assert.Equal(t, powder.Fractions[0].Weight, a.Fractions[0].Weight)
	in.Section, in.Grain = &quantify.Section{}, []float64{1, 0, 0}
	assert.Equal(t, quantify.FinePowder, quantify.Run(in).Absorption)
}
