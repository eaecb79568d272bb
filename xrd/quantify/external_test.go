package quantify_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// absorbing is an invented phase of a given mass attenuation, cm²/g.
func absorbing(number int, rir, mu float64) refdata.Phase {
	p := invented(number, rir)
	p.MassAbsorption, p.Density = mu, 4
	return p
}

// TestConstant by hand: a pure standard of RIR 1 and μ/ρ = 31.4 cm²/g gives S = 2000 counts·degrees: K = 2000/1·31.4 = 62800
// when all of it is crystalline, 62800/0.99 when 99 % is. Relative uncertainties: scale 1 %, RIR 5 %, crystallinity 0.5/99.
func TestConstant(t *testing.T) {
	f := exact(t, []refdata.Phase{absorbing(0, 1, 31.4)}, []float64{2000}, []float64{20})
	in := quantify.Input{Fit: f, Roles: make([]quantify.Role, 1)}
	k, err := quantify.Constant(in, 0, 1, 0)
	require.NoError(t, err)
	volume := f.VolumeRatio(0)
	require.InDelta(t, 1, volume, 2e-3, "only noise moves the cell")
	assert.InEpsilon(t, 62800*volume, k.K, 1e-9)
	assert.InEpsilon(t, math.Hypot(0.01, 0.05), k.U/k.K, 1e-6)
	k, err = quantify.Constant(in, 0, 0.99, 0.005)
	require.NoError(t, err)
	assert.InEpsilon(t, 62800/0.99*volume, k.K, 1e-9)
	assert.InEpsilon(t, math.Sqrt(0.01*0.01+0.05*0.05+0.005*0.005/(0.99*0.99)), k.U/k.K, 1e-6)

	for name, spoil := range map[string]func(*refdata.Phase){
		"no ratio":      func(p *refdata.Phase) { p.RIR.Value = 0 },
		"no absorption": func(p *refdata.Phase) { p.MassAbsorption = 0 },
	} {
		g := *f
		g.Setup.Phases = []refdata.Phase{f.Setup.Phases[0]}
		spoil(&g.Setup.Phases[0])
		_, err := quantify.Constant(quantify.Input{Fit: &g, Roles: make([]quantify.Role, 1)}, 0, 1, 0)
		assert.ErrorIs(t, err, quantify.ErrStandard, name)
	}
	for _, c := range []float64{0, -1, 1.1, math.NaN()} {
		_, err := quantify.Constant(in, 0, c, 0)
		assert.ErrorIs(t, err, quantify.ErrStandard, "crystallinity %g", c)
	}
	f.Scales[0] = 0
	_, err = quantify.Constant(in, 0, 1, 0)
	assert.True(t, errors.Is(err, quantify.ErrStandard))
}

// TestExternalStandard by hand, K = 62800, phases of RIR 2 and 4 with S = 600 and 400, so S/RIR = 300 and 100.
// Chemistry says μ/ρ = 100: w = 300·100/62800 = 47.771 % and 100·100/62800 = 15.924 %; 36.306 % does not diffract.
// Without chemistry, μ/ρ of the phases is 90 and 130: (300·90 + 100·130)/400 = 100, the same.
func TestExternalStandard(t *testing.T) {
	phases := []refdata.Phase{absorbing(0, 2, 90), absorbing(1, 4, 130)}
	f := exact(t, phases, []float64{600, 400}, []float64{6, 6})
	in := quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), External: &quantify.External{K: 62800, U: 628}}
	v := [2]float64{f.VolumeRatio(0), f.VolumeRatio(1)}
	for _, given := range []float64{100, 0} {
		in.External.Attenuation = given
		a := quantify.Run(in)
		require.NotNil(t, a.Amorphous)
		mu := 100.0
		if given == 0 { // cells as fitted change amounts by a few parts in ten thousand
			mu = (300*v[0]*90 + 100*v[1]*130) / (300*v[0] + 100*v[1])
		}
		w := [2]float64{47.771 * v[0] * mu / 100, 15.924 * v[1] * mu / 100}
		assert.InDelta(t, w[0], a.Fractions[0].Original.Percent, 1e-3)
		assert.InDelta(t, w[1], a.Fractions[1].Original.Percent, 1e-3)
		assert.InDelta(t, 100-w[0]-w[1], a.Amorphous.Percent, 1e-3)
		assert.InDelta(t, mu, a.Attenuation, 1e-9)
		assert.InDelta(t, 75, a.Fractions[0].Weight.Percent, 0.1, "of the crystalline part")
		assert.InDelta(t, 0.02*mu, a.AttenuationU, 1e-9)
	}
	in.External.K = 20000 // w = 150 % and 50 %: a negative remainder is information
	a := quantify.Run(in)
	assert.Less(t, a.Amorphous.Hi, 0.0)

	for name, k := range map[string]float64{"zero": 0, "not a number": math.NaN(), "infinite": math.Inf(1)} {
		in.External.K = k
		assert.Nil(t, quantify.Run(in).Amorphous, name)
	}
	in.External = &quantify.External{K: 62800}
	in.Fit.Setup.Phases[1].MassAbsorption = 0
	assert.Nil(t, quantify.Run(in).Amorphous, "the absorption of a phase is not known")
	in.External.Attenuation = 100
	assert.NotNil(t, quantify.Run(in).Amorphous, "but that of the whole is")
}

// TestExternalStandardUncertainty draws scales, RIRs, K and the attenuation and compares the spread of the results.
func TestExternalStandardUncertainty(t *testing.T) {
	phases := []refdata.Phase{absorbing(0, 2, 90), absorbing(1, 4, 130)}
	f := exact(t, phases, []float64{600, 400}, []float64{6, 6})
	a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), External: &quantify.External{K: 62800, U: 1256}})
	rnd := rand.New(rand.NewPCG(4, 5))
	const n = 40000
	var sum, squares [3]float64
	for range n {
		x := [2]float64{300 * f.VolumeRatio(0), 100 * f.VolumeRatio(1)}
		for i, u := range []float64{6. / 600, 6. / 400} {
			x[i] *= 1 + u*rnd.NormFloat64() + 0.05*rnd.NormFloat64()
		}
		mu := (90*x[0] + 130*x[1]) / (x[0] + x[1]) * (1 + 0.02*rnd.NormFloat64())
		k := 62800 + 1256*rnd.NormFloat64()
		got := [3]float64{100 * x[0] * mu / k, 100 * x[1] * mu / k, 100 - 100*(x[0]+x[1])*mu/k}
		for i, v := range got {
			sum[i] += v
			squares[i] += v * v
		}
	}
	u := func(i int) float64 { return math.Sqrt(squares[i]/n - sum[i]/n*sum[i]/n) }
	assert.InEpsilon(t, 1.96*u(2), (a.Amorphous.Hi-a.Amorphous.Lo)/2, 0.03, "curvature and sampling")
	lo, hi := quantify.Interval(a.Fractions[0].Original.Percent, u(0), quantify.Z95)
	assert.InEpsilon(t, lo, a.Fractions[0].Original.Lo, 0.03)
	assert.InEpsilon(t, hi, a.Fractions[0].Original.Hi, 0.03)
}

// TestCoarseInterval: the coarse limit is a share of S μ/RIR with the same relative uncertainties, so that its interval
// follows from those by hand: two phases, u² = (c (1 − c/100))² (u₁² + u₂²) with u = 1 % and 5 % each.
func TestCoarseInterval(t *testing.T) {
	phases := []refdata.Phase{absorbing(0, 1, 50), absorbing(1, 1, 200)}
	c := quantify.Run(quantify.Input{Fit: exact(t, phases, []float64{600, 400}, []float64{6, 4}), Roles: make([]quantify.Role, 2)}).Fractions[0].Coarse
	assert.InDelta(t, 100*600*50./(600*50+400*200), c.Percent, 0.05) // 27.27
	u := c.Percent * (1 - c.Percent/100) * math.Sqrt(2*(0.01*0.01+0.05*0.05))
	lo, hi := quantify.Interval(c.Percent, u, quantify.Z95)
	assert.InDelta(t, lo, c.Lo, 1e-6)
	assert.InDelta(t, hi, c.Hi, 1e-6)
}

// A pure standard of RIR 1 and μ/ρ = 31.4 cm²/g whose strongest line has 2000 counts·degrees gives the constant of the diffractometer: 2000/1·31.4. The
// scans of specimens that follow are made absolute by it.
func ExampleConstant() {
	copper, _ := xrd.ParseRadiation("Cu")
	standard := refdata.Phase{ID: "standard", RIR: refdata.RIR{Value: 1}, MassAbsorption: 31.4,
		Lines: []refdata.Line{{D: 2.5, Intensity: 100}, {D: 2.0, Intensity: 60}, {D: 1.4, Intensity: 30}}}
	scan := pattern.Setup{Radiation: copper, Instrument: xrd.DefaultInstrument(), Gain: 1, Phases: []refdata.Phase{standard}}
	for angle := 30.0; angle < 80; angle += 0.04 { // drawn here; a real one comes from package scanfile
		scan.TwoTheta, scan.Sigma = append(scan.TwoTheta, angle), append(scan.Sigma, 5)
	}
	scan.Intensity = make([]float64, len(scan.TwoTheta))
	for i, y := range pattern.Calculate(scan, standard, 2000, 0, 0) {
		scan.Intensity[i] = 20 + y
	}
	fit, err := quantify.FitKnown(context.Background(), scan)
	if err != nil {
		fmt.Println(err)
		return
	}
	k, err := quantify.Constant(quantify.Input{Fit: fit, Roles: make([]quantify.Role, 1)}, 0, 1, 0) // all of it is crystalline
	fmt.Printf("%.3g counts·degrees·cm²/g, %v\n", k.K, err)
	// Output: 6.28e+04 counts·degrees·cm²/g, <nil>
}
