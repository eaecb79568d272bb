package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// starter computes a phase of the starter collection for a radiation.
func starter(t testing.TB, id string, r xrd.Radiation) refdata.Phase {
	t.Helper()
	for _, rec := range refdata.Starter() {
		if rec.ID == id {
			s, err := structure.FromRecord(rec)
			require.NoError(t, err)
			p, err := s.Phase(refdata.Beam{Radiation: r})
			require.NoError(t, err)
			return p
		}
	}
	require.Fail(t, "no such starter phase", id)
	return refdata.Phase{}
}

func starters(t testing.TB, r xrd.Radiation, ids ...string) []refdata.Phase {
	t.Helper()
	var out []refdata.Phase
	for _, id := range ids {
		out = append(out, starter(t, id, r))
	}
	return out
}

func copper(t testing.TB) xrd.Radiation {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return r
}

// angles returns equidistant angles, both ends included.
func angles(lo, hi, step float64) []float64 {
	x := make([]float64, int(math.Round((hi-lo)/step))+1)
	for i := range x {
		x[i] = lo + float64(i)*step
	}
	return x
}

// A truth is a specimen as the simulation knows it.
type truth struct {
	phases       []refdata.Phase
	scales       []float64 // integrated intensity of the strongest line, Kα doublet, counts × degrees
	stretch      []float64 // relative growth of all edges
	displacement float64   // mm
	background   float64   // counts
}

// expected adds up, line by line and point by point, what a specimen would show: lines of both Kα wavelengths, their
// spacings stretched, shifted by a low surface, as pseudo-Voigts of the instrument's widths. It shares only the formulas
// of package xrd with the model under test, neither windows nor tables.
func (s truth) expected(x []float64, r xrd.Radiation, ins xrd.Instrument) []float64 {
	y := make([]float64, len(x))
	for i := range y {
		y[i] = s.background
	}
	for p, phase := range s.phases {
		for _, l := range phase.Lines {
			main, _ := xrd.TwoTheta(l.D, r.KAlpha1)
			for e, wl := range []float64{r.KAlpha1, r.KAlpha2} {
				area := s.scales[p] * l.Intensity / (1 + r.Ratio)
				if e == 1 {
					area *= r.Ratio
				}
				at, ok := xrd.TwoTheta(l.D*(1+s.stretch[p]), wl)
				ref, okRef := xrd.TwoTheta(l.D, wl)
				if !ok || !okRef || area == 0 {
					continue
				}
				area *= xrd.LorentzPolarization(ref, 1) / xrd.LorentzPolarization(main, 1)
				at += xrd.DisplacementShift(ref, s.displacement, ins.Radius)
				fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(ref), ins.LorentzianFWHM(ref))
				s.draw(y, x, area/100, at, fwhm, eta, ins.Axial/math.Tan(xrd.Radians(ref)))
			}
		}
	}
	return y
}

// draw adds a profile that reaches down by tail: shifts tail × u² with u even between 0 and 1.
func (s truth) draw(y, x []float64, area, at, fwhm, eta, tail float64) {
	parts := 1
	if tail != 0 {
		parts = 24
	}
	for k := range parts {
		u := (float64(k) + 0.5) / float64(parts)
		for i, v := range x {
			y[i] += area / float64(parts) * xrd.PseudoVoigt(v-at+tail*u*u, fwhm, eta)
		}
	}
}

// counted draws Poisson counts.
func counted(expected []float64, seed uint64) []float64 {
	source := rand.NewPCG(seed, 77)
	out := make([]float64, len(expected))
	for i, mean := range expected {
		out[i] = distuv.Poisson{Lambda: mean, Src: source}.Rand()
	}
	return out
}

// setup makes a setup of counts.
func setup(x, counts []float64, r xrd.Radiation, phases []refdata.Phase) pattern.Setup {
	sigma := make([]float64, len(counts))
	for i, c := range counts {
		sigma[i] = math.Sqrt(math.Max(1, c))
	}
	return pattern.Setup{TwoTheta: x, Intensity: counts, Sigma: sigma, Gain: 1, Radiation: r,
		Instrument: xrd.DefaultInstrument(), Phases: phases}
}
