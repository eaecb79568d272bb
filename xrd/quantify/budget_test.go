package quantify_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// metal is an invented cubic phase of one element, as if computed from a structure.
func metal(t *testing.T, symbol string) refdata.Phase {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return refdata.Phase{ID: symbol, System: refdata.Cubic, Cell: &refdata.Cell{A: 3.6, B: 3.6, C: 3.6, Alpha: 90, Beta: 90, Gamma: 90},
		Composition: []refdata.ElementShare{{Symbol: symbol, MassFraction: 1}}, MeanB: 0.5, Beam: refdata.Beam{Radiation: r},
		RIR: refdata.RIR{Value: 5, RelU: 0.05, Origin: "computed"}, Confidence: "high",
		Lines: []refdata.Line{{D: 2.08, TwoTheta: 43.5, Intensity: 100, Families: []refdata.Family{{H: 1, K: 1, L: 1, Multiplicity: 8, F2: 9000}}}}}
}

func TestRatioU(t *testing.T) {
	copper, lead := metal(t, "Cu"), metal(t, "Pb")
	// Copper by hand: tables of f0 0.2 %/√3, refinements 0.5 %, f′ by the difference Δ of two tables: 2 (Δ/√2)/f.
	byHand := func(symbol string) float64 {
		e, _ := element.Lookup(symbol)
		here, _, _ := element.Dispersion(e.Z, copper.Beam.Radiation.KAlpha1)
		a, _, _ := element.DispersionFrom(element.Chantler, e.Z, copper.Beam.Radiation.KAlpha1)
		b, _, _ := element.DispersionFrom(element.CromerLiberman, e.Z, copper.Beam.Radiation.KAlpha1)
		d := 2 * (a - b) / math.Sqrt2 / (e.F0(1/(4*2.08*2.08)) + here)
		return math.Sqrt(0.002*0.002/3 + 0.005*0.005 + d*d)
	}
	assert.InDelta(t, byHand("Cu"), quantify.RatioU(copper), 1e-12)
	assert.InDelta(t, byHand("Pb"), quantify.RatioU(lead), 1e-12)
	assert.Less(t, quantify.RatioU(copper), 0.01)
	assert.Greater(t, quantify.RatioU(lead), quantify.RatioU(copper), "tables of heavy elements differ more")
	assert.Less(t, quantify.RatioU(lead), 0.035, "the oracle's limit for another table of f′ (read)")

	assert.InDelta(t, 0.05, quantify.RatioU(with(copper, func(p *refdata.Phase) { p.AssumedB = true })), 1e-12)
	assert.InDelta(t, 0.05, quantify.RatioU(with(copper, func(p *refdata.Phase) { p.Confidence = "medium" })), 1e-12)
	assert.InDelta(t, 0.07, quantify.RatioU(with(copper, func(p *refdata.Phase) { p.RIR.Origin, p.RIR.RelU = "measured", 0.07 })), 1e-12)
	assert.InDelta(t, 0.10, quantify.RatioU(with(copper, func(p *refdata.Phase) { p.RIR = refdata.RIR{Value: 5} })), 1e-12)
	assert.InDelta(t, 0.05, quantify.RatioU(with(copper, func(p *refdata.Phase) { p.Lines[0].Families = nil })), 1e-12, "a list has no |F|²")

	// Two elements: what the displacement parameters of each may differ grows with B and vanishes without it.
	binary := with(copper, func(p *refdata.Phase) {
		p.Composition = []refdata.ElementShare{{Symbol: "Cu", MassFraction: 0.5}, {Symbol: "Al", MassFraction: 0.5}}
	})
	warm := quantify.RatioU(with(binary, func(p *refdata.Phase) { p.MeanB = 3 }))
	cold := quantify.RatioU(with(binary, func(p *refdata.Phase) { p.MeanB = 1e-6 }))
	e1, _ := element.Lookup("Cu")
	e2, _ := element.Lookup("Al")
	s2 := 1 / (4 * 2.08 * 2.08)
	f1, _, _ := element.Dispersion(29, 1.5405929)
	f2, _, _ := element.Dispersion(13, 1.5405929)
	a1, a2 := (e1.F0(s2)+f1)/e1.Weight, (e2.F0(s2)+f2)/e2.Weight
	c1, c2 := a1/(a1+a2), a2/(a1+a2)
	step := 2 * s2 * 0.3 * 3 // 2 s² × 30 % of 3 Å²
	assert.InDelta(t, step*step*(c1*c1*c2+c2*c2*c1), warm*warm-cold*cold, 1e-6)
}

// with changes a copy of a phase.
func with(p refdata.Phase, change func(*refdata.Phase)) refdata.Phase {
	p.Lines = append([]refdata.Line(nil), p.Lines...)
	change(&p)
	return p
}

// TestScatterOfOnePhase: lines of one of two phases scatter by 20 %; only its fraction rests on them, so the scatter part
// of the budget grows, and intervals widen by more than Gaussian ones because few lines tell.
func TestScatterOfOnePhase(t *testing.T) {
	quiet := quantify.Run(quantify.Input{Fit: bent(t, func(int, float64) float64 { return 1 }), Roles: make([]quantify.Role, 2), Threshold: 4})
	n := 0
	loud := quantify.Run(quantify.Input{Fit: bent(t, func(p int, _ float64) float64 {
		if n++; p == 1 {
			return 1 + 0.2*math.Pow(-1, float64(n))
		}
		return 1
	}), Roles: make([]quantify.Role, 2), Threshold: 4})
	q, l := quiet.Fractions[1].Budget[1].U, loud.Fractions[1].Budget[1].U
	t.Logf("scatter %.3f and %.3f wt%%", q, l)
	assert.Greater(t, l, 4*q)
	// By hand: 20 % over √16 lines is 5 % of an amount that is 43 % of the whole: 0.05 × 43 × 0.57 = 1.2 wt%.
	assert.InEpsilon(t, 1.2, l, 0.5)
	f := loud.Fractions[1]
	var u float64
	for _, s := range f.Budget[:3] {
		u += s.U * s.U
	}
	assert.Greater(t, (f.Weight.Hi-f.Weight.Lo)/2, 1.96*math.Sqrt(u), "Student's quantile")
}

func TestCoverage95(t *testing.T) {
	// Student's 97.5 % quantiles (tables, from memory).
	for free, want := range map[float64]float64{1: 12.706, 2: 4.303, 4: 2.776, 10: 2.228, 30: 2.042, math.Inf(1): 1.960, 0.2: 12.706} {
		assert.InDelta(t, want, quantify.Coverage95(free), 6e-4, "%g", free)
	}
}

// TestSolutionU: the I/Ic of copper with 7.7 at.% of tin, from its structure with mixed atoms, differs from that of pure
// copper by no more than twice what a cell that has grown as much leaves open, and by no less than half.
// TestOpticsInBudget: two amounts that change by +2 and −2 % change their ratio by 4 %, and a share w by w (1 − w) 4 %.
func TestOpticsInBudget(t *testing.T) {
	in := quantify.Input{Fit: bent(t, func(int, float64) float64 { return 1 }), Roles: make([]quantify.Role, 2), Threshold: 4}
	without := quantify.Run(in)
	in.Optics = []float64{0.02, -0.02}
	a := quantify.Run(in)
	for i, f := range a.Fractions {
		w := f.Weight.Percent / 100
		want := 100 * w * (1 - w) * 0.04
		found := false
		for _, s := range f.Budget {
			if s.Name == "length of the beam on the specimen" {
				found = true
				assert.InDelta(t, want, s.U, 1e-9)
			}
		}
		assert.True(t, found)
		assert.InDelta(t, a.Covariance[i][i], without.Covariance[i][i]+want*want, 1e-9)
	}
	assert.Less(t, a.Covariance[0][1], 0.0, "the shares sum to 1")
}

func TestSolutionU(t *testing.T) {
	pure, bronze := starter(t, "copper"), starter(t, "bronze-alpha")
	ratio := bronze.Cell.Volume() / pure.Cell.Volume()
	u := quantify.SolutionU(ratio)
	change := math.Abs(math.Log(bronze.RIR.Value * ratio / pure.RIR.Value))
	t.Logf("edge %+.2f %%, u %.3f, change %.3f", 100*(math.Cbrt(ratio)-1), u, change)
	assert.Less(t, change, 2*u)
	assert.Greater(t, change, u/2)
	assert.Zero(t, quantify.SolutionU(1.003), "0.1 % of an edge is nothing")
	assert.InDelta(t, 0.08, quantify.SolutionU(1.02*1.02*1.02), 1e-12)
	assert.InDelta(t, 0.08, quantify.SolutionU(0.98*0.98*0.98), 1e-12)
}

// TestAbsentPhaseWeakensOthers: what was asked for and not found may be there up to its limit, so the others may be less.
func TestAbsentPhaseWeakensOthers(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	f := exact(t, phases, []float64{300, 0}, []float64{1, 1})
	f.ZeroU[1] = 10
	a := quantify.Run(quantify.Input{Fit: f, Roles: []quantify.Role{quantify.Specimen, quantify.Absent}, Threshold: 4})
	// 300 beside at most 1.645·10: 300/316.45 = 94.80 %.
	assert.InDelta(t, 94.80, a.Fractions[0].Weight.Lo, 0.01)
	assert.InDelta(t, 100, a.Fractions[0].Weight.Hi, 1e-9)
}

// TestRefine: points that a search distrusted because lines are stronger than expected get their say back; intensity
// that belongs to nobody stays distrusted.
func TestRefine(t *testing.T) {
	strong := bent(t, func(p int, sin float64) float64 { return 1 + 0.3*float64(p) })
	s := strong.Setup
	s.ExtraVariance = make([]float64, len(s.TwoTheta))
	for i := range s.ExtraVariance {
		s.ExtraVariance[i] = strong.Curves[1][i] * strong.Curves[1][i] // every line of the second phase is distrusted
		if math.Abs(s.TwoTheta[i]-75.9) < 0.1 {
			s.Intensity[i] += 900
		}
	}
	f, err := pattern.Run(context.Background(), s, pattern.Quick)
	require.NoError(t, err)
	g, err := quantify.Refine(context.Background(), f)
	require.NoError(t, err)
	assert.InDelta(t, 1.3*900, g.Scales[1], 25)
	there, elsewhere := 0, 0
	for i, d := range g.Setup.ExtraVariance {
		switch {
		case d > 0 && math.Abs(75.9-s.TwoTheta[i]) < 0.1:
			there++
		case d > 0:
			elsewhere++
		}
	}
	assert.Greater(t, there, 2)
	assert.LessOrEqual(t, elsewhere, 2, "by chance")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = quantify.Refine(ctx, f)
	assert.ErrorIs(t, err, context.Canceled)
}
