package screen

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// flat returns angles and the variance of a flat background.
func flat(background float64) (x, variance []float64) {
	for t := 20.0; t < 80; t += 0.02 {
		x = append(x, t)
		variance = append(variance, background)
	}
	return x, variance
}

// TestFilterIsUnbiased puts lines of the width that the filter expects on a flat background, with Poisson noise: areas
// come out right on average, and scatter as much as the filter says.
func TestFilterIsUnbiased(t *testing.T) {
	const background, area, looks = 100.0, 3.0, 60
	r := cu(t)
	ins := xrd.DefaultInstrument()
	x, variance := flat(background)
	var sum, squares, u float64
	n := 0
	for seed := range uint64(4) {
		p := xrdtest.Pattern{Radiation: r, Background: func(float64) float64 { return background }}
		for k := range looks {
			at := 22 + float64(k)*0.94
			fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(at), ins.LorentzianFWHM(at))
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: area, FWHM: broader * fwhm, Eta: eta})
		}
		counts := xrdtest.Count(t, x, p.Expected(x), seed).Intensity
		for i := range counts {
			counts[i] -= background
		}
		f := NewFilter(x, counts, variance, r, ins)
		for _, l := range p.Lines {
			a, s, ok := f.At(l.TwoTheta)
			require.True(t, ok)
			sum += a
			squares += (a - area) * (a - area)
			u += s
			n++
		}
	}
	mean, scatter, stated := sum/float64(n), math.Sqrt(squares/float64(n)), u/float64(n)
	assert.InDelta(t, area, mean, 3*stated/math.Sqrt(float64(n))+0.03*area, "3 % for tails of neighbours and the cut of the filter")
	assert.InDelta(t, 1, scatter/stated, 0.2, "the stated uncertainty is that of the background; lines add a little of their own")
}

// A filter of noise alone has mean 0 and unit scatter.
func TestFilterOfNoise(t *testing.T) {
	x, variance := flat(50)
	p := xrdtest.Pattern{Background: func(float64) float64 { return 50 }}
	counts := xrdtest.Count(t, x, p.Expected(x), 9).Intensity
	for i := range counts {
		counts[i] -= 50
	}
	f := NewFilter(x, counts, variance, cu(t), xrd.DefaultInstrument())
	var mean, square float64
	for i := range x {
		z := f.area[i] / f.u[i]
		mean += z / float64(len(x))
		square += z * z / float64(len(x))
	}
	assert.InDelta(t, 0, mean, 0.2)
	assert.InDelta(t, 1, square, 0.2)
}

func TestFilterOutsideTheScan(t *testing.T) {
	x, variance := flat(50)
	f := NewFilter(x, make([]float64, len(x)), variance, cu(t), xrd.DefaultInstrument())
	for _, at := range []float64{19.9, 80.5, math.NaN()} {
		_, _, ok := f.At(at)
		assert.False(t, ok, at)
	}
	a, u, ok := f.At(40.013)
	assert.True(t, ok)
	assert.Zero(t, a)
	assert.Positive(t, u)
}

// The tables give the profile that package xrd computes.
func TestProfileTable(t *testing.T) {
	const fwhm, eta = 0.13, 0.37
	p := profile{1 / fwhm, eta / fwhm, (1 - eta) / fwhm}
	for d := -0.6; d < 0.6; d += 0.0037 {
		assert.InDelta(t, xrd.PseudoVoigt(d, fwhm, eta), p.at(d), 0.02/fwhm, "at %g°", d)
	}
	assert.Zero(t, p.at(100*fwhm))
}

func BenchmarkMatchedFilter(b *testing.B) {
	sim := simulate(b, bushing)
	r := sim.residual()
	for b.Loop() {
		NewFilter(sim.scan.TwoTheta, r.Intensity, r.Variance, sim.scan.Radiation, sim.ins)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(r.Variance)), "ns/point")
}

func cu(t testing.TB) xrd.Radiation {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return r
}
