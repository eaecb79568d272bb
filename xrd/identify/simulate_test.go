package identify

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// A part is a phase of a simulated specimen.
type part struct {
	id      string
	scale   float64 // integrated intensity of the strongest line, Kα doublet, counts × degrees
	stretch float64 // relative growth of all edges
}

// A specimen is what a simulated scan shows. Its zero values are Cu radiation, 20–100°, 0.02°, no displacement, 30 counts.
type specimen struct {
	parts        []part
	radiation    string
	lo, hi, step float64
	displacement float64 // mm
	background   func(twoTheta float64) float64
	seed         uint64
	intensities  []float64 // of the lines of all parts, over those of the reference; nil or too few: as there
}

func orElse(v, other float64) float64 {
	if v == 0 {
		return other
	}
	return v
}

func radiation(t testing.TB, name string) xrd.Radiation {
	t.Helper()
	if name == "" {
		name = "Cu"
	}
	r, err := xrd.ParseRadiation(name)
	require.NoError(t, err)
	return r
}

// job simulates the scan with the profiles of package xrdtest and returns what Run needs to explain it.
func (s specimen) job(t testing.TB, lib *library.Library) Job {
	t.Helper()
	r := radiation(t, s.radiation)
	ins := xrd.DefaultInstrument()
	p := xrdtest.Pattern{Lo: orElse(s.lo, 20), Hi: orElse(s.hi, 100), Step: orElse(s.step, 0.02), Radiation: r, Background: s.background}
	if p.Background == nil {
		p.Background = func(float64) float64 { return 30 }
	}
	beam := refdata.Beam{Radiation: r, MaxTwoTheta: math.Min(175, p.Hi+3)}
	for _, q := range s.parts {
		i, ok := lib.Find(q.id)
		require.True(t, ok, q.id)
		phase, err := lib.Phase(i, beam)
		require.NoError(t, err)
		for k, l := range phase.Lines {
			if k < len(s.intensities) {
				l.Intensity *= s.intensities[k]
			}
			at, ok := xrd.TwoTheta(l.D*(1+q.stretch), r.KAlpha1)
			if !ok {
				continue
			}
			fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(at), ins.LorentzianFWHM(at))
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at + xrd.DisplacementShift(at, s.displacement, ins.Radius),
				Area: q.scale * l.Intensity / 100, FWHM: fwhm, Eta: eta})
		}
	}
	x := p.Angles()
	counts := xrdtest.Count(t, x, p.Expected(x), s.seed).Intensity
	sigma := make([]float64, len(counts))
	for i, c := range counts {
		sigma[i] = math.Sqrt(math.Max(1, c))
	}
	return Job{Setup: pattern.Setup{TwoTheta: x, Intensity: counts, Sigma: sigma, Gain: 1, Radiation: r, Instrument: ins},
		Beam: beam, Collection: lib}
}

func run(t testing.TB, job Job) *Explanation {
	t.Helper()
	out, err := Run(context.Background(), job)
	require.NoError(t, err)
	return out
}

// evidenceLevels returns the level of every match by its id.
func evidenceLevels(out *Explanation) map[string]result.Evidence {
	m := map[string]result.Evidence{}
	for _, x := range out.Matches {
		m[x.Phase.ID] = x.Evidence
	}
	return m
}

func phaseOf(t testing.TB, id string, beam refdata.Beam) refdata.Phase {
	t.Helper()
	lib := library.Starter()
	i, ok := lib.Find(id)
	require.True(t, ok, id)
	p, err := lib.Phase(i, beam)
	require.NoError(t, err)
	return p
}
