package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

// beside fits an invented copper with a flat background, to which extra counts are added, and counts it.
func beside(t *testing.T, seed uint64, extra func(twoTheta float64) float64) *identify.Explanation {
	t.Helper()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	phase := refdata.Phase{ID: "Cu", Name: "Cu", RIR: refdata.RIR{Value: 8}}
	for _, l := range [][2]float64{{2.087, 100}, {1.8075, 46}, {1.278, 20}} {
		phase.Lines = append(phase.Lines, refdata.Line{D: l[0], Intensity: l[1]})
	}
	set := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
	for x := 30.0; x < 80; x += 0.02 {
		set.TwoTheta = append(set.TwoTheta, x)
	}
	n := len(set.TwoTheta)
	set.Intensity, set.Sigma = make([]float64, n), make([]float64, n)
	for i := range set.Sigma {
		set.Sigma[i] = 8
	}
	lines := pattern.Calculate(set, phase, 2000, 0, 0)
	rnd := rand.New(rand.NewPCG(seed, 1))
	for i, x := range set.TwoTheta {
		y := 60 + lines[i] + extra(x)
		set.Intensity[i] = math.Max(0, math.Round(y+math.Sqrt(y)*rnd.NormFloat64()))
		set.Sigma[i] = math.Sqrt(math.Max(1, set.Intensity[i]))
	}
	set.Phases = []refdata.Phase{phase}
	fit, err := pattern.Run(t.Context(), set, pattern.Quick)
	require.NoError(t, err)
	return &identify.Explanation{Fit: fit, Matches: []identify.Match{{Phase: phase, Lines: fit.Lines(0)}}}
}

// white is what an edge at a wavelength lets through beside lines of copper of an area in counts·degrees, by Bragg's law alone.
func white(edge, height, area float64) func(float64) float64 {
	return func(x float64) (sum float64) {
		theta := x * math.Pi / 360
		for _, l := range [][2]float64{{2.087, 1}, {1.8075, .46}, {1.278, .2}} {
			if wavelength := 2 * l[0] * math.Sin(theta); wavelength > edge {
				u := (wavelength/1.5405929 - 1) / 0.2
				sum += height * area * l[1] * math.Tan(math.Pi/9) / math.Tan(theta) * math.Exp(-4*math.Ln2*u*u)
			}
		}
		return sum
	}
}

// A nickel filter's edge at 1.48807 Å (International Tables C, from memory) steps up on the low-angle feet of all lines. What steps
// down, steps elsewhere, is only noise, or is a peak on one foot, is no edge; a monochromator lets no white radiation pass.
func TestEdgeStepOfAllLines(t *testing.T) {
	const area, height = 20000, 0.03
	plain := func(float64) float64 { return 0 }
	unit := beside(t, 9, plain).Matches[0].Lines[0].Fitted / area // the area of the strongest line, to scale by
	step := white(1.48807, height, area*unit)
	for seed := range uint64(4) {
		out := beside(t, seed, step)
		s, ok := EdgeStep(out)
		require.True(t, ok, "seed %d: %.1f", seed, s.sigmas)
		assert.InDelta(t, 41.75, s.lines[0].foot, 0.03)
		assert.InDelta(t, height, s.height, 4*s.height/s.sigmas)
		assert.True(t, s.OnFoot(42.5))
		assert.False(t, s.OnFoot(41.3))
		assert.False(t, s.OnFoot(43.3), "the line is a line")
		e := Evidence{Explanation: out}
		assert.True(t, e.onFoot(42.5))
		assert.False(t, e.onFoot(41.3))
		image := e // a peak on the foot, where W Lα of a line would be, is the step
		image.Facts.Radiation = out.Fit.Setup.Radiation
		image.Scan.TwoTheta = out.Fit.Setup.TwoTheta
		image.Found.Peaks = []peaks.Peak{{TwoTheta: 44.6, Area: 100, FWHM: 0.1, Kind: peaks.KAlpha}, {TwoTheta: 42.5, Area: 3, FWHM: 0.1, Kind: peaks.WLine}}
		assert.Empty(t, images(image))
		image.Found.Peaks[1].TwoTheta = 41.3
		assert.Len(t, images(image), 1)
		assert.True(t, humpOnFoot(e, xrd.Caution{Evidence: map[string]any{"two_theta": 44.0, "height": step(44)}}))
		assert.False(t, humpOnFoot(e, xrd.Caution{Evidence: map[string]any{"two_theta": 44.0, "height": 4 * step(44)}}), "far higher than the white radiation")
		assert.False(t, humpOnFoot(e, xrd.Caution{Evidence: map[string]any{"two_theta": 33.0, "height": 5.0}}), "none there")
		rests := func(at ...float64) bool { // a phase of which as much is seen at each of some angles
			m := identify.Match{Phase: refdata.Phase{ID: "phantom"}}
			for _, x := range at {
				m.Lines = append(m.Lines, pattern.LineFit{TwoTheta: x, Observed: 5, Covered: true})
			}
			e.Explanation = &identify.Explanation{Fit: out.Fit, Matches: append(out.Matches[:1:1], m)}
			return restsOnFoot(e, xrd.Caution{Evidence: map[string]any{"phase": "phantom"}})
		}
		assert.True(t, rests(42.4, 49.4, 38))
		assert.False(t, rests(42.4, 35, 38))
		assert.False(t, rests())
		out.Fit.Setup.Instrument.Monochromator, _ = xrd.ParseMonochromator("graphite", out.Fit.Setup.Radiation)
		_, ok = EdgeStep(out)
		assert.False(t, ok, "a monochromator")
	}
	for name, extra := range map[string]func(float64) float64{
		"nothing":   plain,
		"downwards": func(x float64) float64 { return step(80) + math.Max(0, 60-step(x)) },
		"elsewhere": white(1.44, height, area*unit),
		"a peak":    func(x float64) float64 { return 400 * math.Exp(-4*math.Ln2*(x-42)*(x-42)/0.0225) },
		"peaks": func(x float64) float64 { // of a phase that is missing, above the feet of two lines
			return 600*math.Exp(-4*math.Ln2*(x-42.1)*(x-42.1)/0.0225) + 300*math.Exp(-4*math.Ln2*(x-48.95)*(x-48.95)/0.0225)
		},
		"a halo": func(x float64) float64 { return 80 * math.Exp(-4*math.Ln2*(x-43)*(x-43)/64) },
	} {
		for seed := range uint64(4) {
			s, ok := EdgeStep(beside(t, 20+seed, extra))
			assert.False(t, ok, "%s: %.1f", name, s.sigmas)
		}
	}
}

// Heights that disagree are worth less: by Birge's ratio. 1 ± 1 and 5 ± 1: mean 3 ± 0.71, χ² = 8 on one degree of freedom.
func TestTogether(t *testing.T) {
	h, sigmas := together([][2]float64{{1, 1}, {5, 1}})
	assert.InDelta(t, 3, h, 1e-12)
	assert.InDelta(t, 3/(math.Sqrt(0.5)*math.Sqrt(8)), sigmas, 1e-12)
	_, sigmas = together([][2]float64{{2, 1}, {4, 1}}) // χ² = 2 comes by chance
	assert.InDelta(t, 3/math.Sqrt(0.5), sigmas, 1e-12)
	_, sigmas = together([][2]float64{{3, 1}, {3, 1}})
	assert.InDelta(t, 3/math.Sqrt(0.5), sigmas, 1e-12)
	_, sigmas = together(nil)
	assert.Zero(t, sigmas)
}
