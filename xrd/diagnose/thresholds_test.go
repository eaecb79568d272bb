package diagnose_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// Where each caution begins, found by halving between a value that raises none and one that does, is where its source puts it. Sources are beside the
// constants of the package; the numbers stand here a second time, so that a change of one is noticed.
func TestWhereCautionsBegin(t *testing.T) {
	level := func(f func(*diagnose.Evidence, float64)) func(float64) func(*diagnose.Evidence) {
		return func(v float64) func(*diagnose.Evidence) { return func(e *diagnose.Evidence) { f(e, v) } }
	}
	for _, c := range []struct {
		code, what       string
		set              func(float64) func(*diagnose.Evidence)
		silent, told, at float64
	}{
		{"displaced", "mm above", func(v float64) func(*diagnose.Evidence) { return parameter(pattern.Displacement, -1, -v, v/100) }, 0.01, 1, 0.1},
		{"displaced", "mm below", func(v float64) func(*diagnose.Evidence) { return parameter(pattern.Displacement, -1, v, v/100) }, 0.01, 1, 0.1},
		{"displaced", "uncertainties", func(v float64) func(*diagnose.Evidence) { return parameter(pattern.Displacement, -1, 0.3, 0.3/v) }, 1, 20, 3},
		{"texture", "plates, 1 − r", func(v float64) func(*diagnose.Evidence) { return textured(1-v, v/10) }, 0.01, 0.5, 0.10},
		{"texture", "needles, r − 1", func(v float64) func(*diagnose.Evidence) { return textured(1+v, v/10) }, 0.01, 0.5, 0.10},
		{"texture", "uncertainties", func(v float64) func(*diagnose.Evidence) { return textured(0.7, 0.3/v) }, 1, 20, 4},
		{"solid-solution", "relative change", func(v float64) func(*diagnose.Evidence) { return cellOf(v, v/100) }, 1e-4, 0.02, 5e-3},
		{"solid-solution", "uncertainties", func(v float64) func(*diagnose.Evidence) { return cellOf(0.01, 0.01/v) }, 1, 50, 5},
		{"microabsorption", "strong absorber", absorbing, 1, 3, 1.4},
		{"microabsorption", "weak absorber", absorbing, 1, 0.1, 0.7},
		{"blank-doubtful", "share", level(func(e *diagnose.Evidence, v float64) { e.Facts.BlankShare = v }), 0, 1, 0.5},
		{"limit-above-request", "wt%", absent, 0.1, 50, 2},
		{"methods-disagree", "uncertainties", checked, 1, 9, 2.8},
		{"methods-disagree", "uncertainties of one line", byStrongest, 1, 9, 2.8},
		{"methods-disagree", "wt% of one line", level(func(e *diagnose.Evidence, v float64) {
			e.Amounts.Checks = []quantify.LineCheck{{Lines: 3, SingleSigmas: 9, Multi: quantify.Value{Percent: 50}, Single: quantify.Value{Percent: 50 + v}}, {}}
		}), 0.1, 20, 3},
		{"scans-disagree", "probability", func(v float64) func(*diagnose.Evidence) { return repeated(v) }, 0.5, 1e-6, 0.01},
		{"preparation-artefact", "wt% from which it is nobody's residue", counted, 40, 1, 20},
		{"chemistry-mismatch", "wt% of 50 ± 0.55 within 3 of √(0.55² + 1²)", level(func(e *diagnose.Evidence, v float64) {
			e.Facts.Composition = []diagnose.ElementAmount{{Symbol: "Cu", WeightPercent: 50 - v, U: 1}}
		}), 0, 20, 3 * math.Sqrt(0.3+1)},
		{"chemistry-mismatch", "wt% of chemistry without an uncertainty: half of one at least", level(func(e *diagnose.Evidence, v float64) {
			e.Facts.Composition = []diagnose.ElementAmount{{Symbol: "Ag", WeightPercent: v}}
		}), 0, 10, 1.5},
		{"fluorescence", "wt% of glowing elements", level(func(e *diagnose.Evidence, v float64) {
			for i := range e.Explanation.Fit.Setup.Phases {
				e.Explanation.Fit.Setup.Phases[i].Composition = []refdata.ElementShare{{Symbol: "Fe", MassFraction: v / 100}}
			}
		}), 2, 90, 10},
		{"coarse-grain", "relative scatter", func(v float64) func(*diagnose.Evidence) { return shown(1+v, 1-v, 1+v, 1-v, 1+v, 1-v) }, 0.05, 0.5, 0.20},
		{"not-infinite", "mm of 445/cm up to 100°", func(v float64) func(*diagnose.Evidence) { return thick(v) }, 1, 0.001, 3.1 * math.Sin(50*math.Pi/180) / 445 * 10},
		{"surface-deformed", "strain, as degrees in tan θ", func(v float64) func(*diagnose.Evidence) { return strained("transverse", v) }, 0.1, 2, 1e-3 * 4 * 180 / math.Pi},
		{"k-beta", "area of lines there, of that of the peak", level(func(e *diagnose.Evidence, v float64) {
			beforeLine(peaks.KBeta, 44.5, 0)(e)
			e.Explanation.Matches[0].Lines[0].Fitted = 100 * v
		}), 1, 0.01, 0.5},
		{"axis-doubtful", "share that is explained as 2θ", func(v float64) func(*diagnose.Evidence) { return halved(result.Partial, v) }, 0.9, 0.1, 0.5},
		{"amorphous-halo", "height of a hump over the background", func(v float64) func(*diagnose.Evidence) { return hump(6, 100*v) }, 0.05, 1, 0.3},
		{"amorphous-halo", "width of a hump, degrees", func(v float64) func(*diagnose.Evidence) { return hump(v, 100) }, 1, 12, 4},
	} {
		raises := func(v float64) bool {
			e := sound(t)
			c.set(v)(e)
			return len(raised(e, c.code)) > 0
		}
		what := c.code + ": " + c.what
		require.False(t, raises(c.silent), "%s: %g", what, c.silent)
		require.True(t, raises(c.told), "%s: %g", what, c.told)
		silent, told := c.silent, c.told
		for range 18 {
			if mid := (silent + told) / 2; raises(mid) {
				told = mid
			} else {
				silent = mid
			}
		}
		assert.InEpsilon(t, c.at, (silent+told)/2, 0.02, what)
	}
}

func cellOf(value, u float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Fit.Parameters = append(e.Explanation.Fit.Parameters, pattern.Parameter{Kind: pattern.CellA, Phase: 0, Value: value, U: u, Free: true, Lower: -0.03, Upper: 0.03})
	}
}

// Every caution that can be raised is one sentence or more in plain text, with a remedy that ends, evidence that a file can hold, and no word of a
// program.
func TestCautionsAreTexts(t *testing.T) {
	for _, c := range checks {
		e := sound(t)
		c.yes(e)
		if f := e.Document.Factors; f != nil {
			f.File = "factors.toml"
		}
		if e.Explanation != nil && e.Explanation.Fit != nil {
			e.Explanation.Fit.Setup.Phases[1].Preparation = "Left by grinding."
			for _, m := range e.Explanation.Matches {
				for k := range m.Phase.Cautions {
					m.Phase.Cautions[k].Remedy = "Use another structure."
				}
			}
		}
		for _, x := range diagnose.Cautions(*e) {
			what := c.code + ": " + x.Text
			assert.NotEmpty(t, x.Remedy, what)
			assert.Regexp(t, `[.)]$`, x.Remedy, what)
			for _, text := range []string{x.Text, x.Remedy} {
				assert.Equal(t, strings.TrimSpace(text), text, what)
				for _, no := range []string{"  ", "..", " .", " ,", "<nil>", "%!", "NaN", "map[", "\n", "Inf"} {
					assert.NotContains(t, text, no, what)
				}
			}
			b, err := json.Marshal(x)
			require.NoError(t, err, what)
			var back xrd.Caution
			require.NoError(t, json.Unmarshal(b, &back), what)
			assert.Equal(t, x.Text, back.Text)
			assert.NotNil(t, x.Evidence, what)
			for key := range x.Evidence {
				assert.Regexp(t, `^[a-z0-9_]+$`, key, what)
			}
		}
	}
}

// swapped is an analysis with its two phases in the other order.
func swapped(e *diagnose.Evidence) {
	m, f, a, d := e.Explanation.Matches, e.Explanation.Fit, &e.Amounts, &e.Document
	m[0], m[1] = m[1], m[0]
	f.Setup.Phases[0], f.Setup.Phases[1] = f.Setup.Phases[1], f.Setup.Phases[0]
	f.ZeroU[0], f.ZeroU[1] = f.ZeroU[1], f.ZeroU[0]
	for i, p := range f.Parameters {
		if p.Phase >= 0 {
			f.Parameters[i].Phase = 1 - p.Phase
		}
	}
	a.Roles[0], a.Roles[1] = a.Roles[1], a.Roles[0]
	fractions := slices.Clone(a.Answer.Fractions)
	a.Answer.Fractions = []quantify.Fraction{fractions[1], fractions[0]}
	if f := a.Answer.Feet; f != nil {
		a.Answer.Feet = []quantify.Foot{f[1], f[0]}
	}
	if t := a.Answer.Trend; t != nil {
		a.Answer.Trend = &quantify.Trend{CommonDeltaB: t.CommonDeltaB, Percent: []float64{t.Percent[1], t.Percent[0]}}
	}
	if a.Checks != nil {
		a.Checks = []quantify.LineCheck{a.Checks[1], a.Checks[0]}
	}
	if a.Grain != nil {
		a.Grain = []float64{a.Grain[1], a.Grain[0]}
	}
	if a.Counted != nil {
		a.Counted = []bool{a.Counted[1], a.Counted[0]}
	}
	for i := range a.Answer.Withheld {
		a.Answer.Withheld[i] = 1 - a.Answer.Withheld[i]
	}
	d.Phases = []result.Phase{d.Phases[1], d.Phases[0]}
}

// The order in which phases are listed changes no caution of theirs: neither its code nor how grave it is nor of which phase it is.
func TestOrderOfPhasesChangesNoCaution(t *testing.T) {
	about := func(e *diagnose.Evidence) (out []string) {
		for _, c := range diagnose.Cautions(*e) {
			out = append(out, fmt.Sprint(c.Code, c.Severity, c.Evidence["phase"]))
		}
		slices.Sort(out)
		return out
	}
	for _, c := range checks {
		switch c.code {
		case "micrograph-disagrees", "epitaxial", "same-lines": // those name phases by their number, and are tested by themselves
			continue
		}
		one, other := sound(t), sound(t)
		c.yes(one)
		c.yes(other)
		if other.Explanation == nil || len(other.Explanation.Matches) != 2 || other.Explanation.Fit == nil || len(other.Document.Phases) != 2 {
			continue
		}
		swapped(other)
		assert.Equal(t, about(one), about(other), c.code)
	}
}

// A caution never goes away because there is more time, and a second fault does not hide the first: of two that have nothing to do with each other both
// are told.
func TestFaultsAreToldTogether(t *testing.T) {
	e := sound(t)
	parameter(pattern.Displacement, -1, -0.25, 0.01)(e)
	absent(8)(e)
	e.Facts.RadiationAssumed = true
	e.Explanation.Fit.Status = leastsq.IterationLimit
	for _, code := range []string{"displaced", "limit-above-request", "radiation-assumed", "fit-not-converged"} {
		assert.NotEmpty(t, raised(e, code), code)
	}
}

// Planes that symmetry makes equivalent: 100 and 010 in tetragonal and hexagonal cells, not 001; lower symmetries keep all apart.
func TestOrientedPlanesOfOtherSystems(t *testing.T) {
	line := func(h, k, l int, observed float64) pattern.LineFit {
		return pattern.LineFit{Line: refdata.Line{D: 2, Families: []refdata.Family{{H: h, K: k, L: l}}}, Expected: 100, Fitted: 100, Observed: observed, ObservedU: 2, Clear: 1, Covered: true}
	}
	film := func(a, b pattern.LineFit) []pattern.LineFit {
		return []pattern.LineFit{line(1, 1, 1, 0), line(2, 2, 1, 0), line(3, 1, 1, 0), line(2, 1, 3, 0), a, b}
	}
	for _, c := range []struct {
		system refdata.CrystalSystem
		a, b   [3]int
		want   bool
	}{
		{refdata.Tetragonal, [3]int{2, 0, 0}, [3]int{0, 4, 0}, true},
		{refdata.Hexagonal, [3]int{2, 0, 0}, [3]int{0, 1, 0}, true},
		{refdata.Tetragonal, [3]int{2, 0, 0}, [3]int{0, 0, 4}, false},
		{refdata.Cubic, [3]int{0, 2, 0}, [3]int{0, 0, 4}, true},
		{refdata.Orthorhombic, [3]int{2, 0, 0}, [3]int{0, 4, 0}, false},
		{refdata.Orthorhombic, [3]int{0, 2, 0}, [3]int{0, 4, 0}, true},
		{refdata.Cubic, [3]int{1, 1, 0}, [3]int{0, -2, 2}, true},
		{refdata.Tetragonal, [3]int{1, 1, 0}, [3]int{0, 2, 2}, false},
	} {
		_, ok := diagnose.Oriented(film(line(c.a[0], c.a[1], c.a[2], 900), line(c.b[0], c.b[1], c.b[2], 700)), refdata.Phase{System: c.system})
		assert.Equal(t, c.want, ok, "%s: %v and %v", c.system, c.a, c.b)
	}
}

// Copper that was drawn to a wire shows 111 and 200 across its axis, and 220 along it (Calnan & Clews, from memory): the caution says so, in the words of
// the section that was stated.
func TestWireInWords(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	copper := refdata.Phase{ID: "Cu", Name: "copper", System: refdata.Cubic, Cell: &refdata.Cell{A: 3.615, B: 3.615, C: 3.615, Alpha: 90, Beta: 90, Gamma: 90}, SpaceGroup: "F m -3 m",
		Composition: []refdata.ElementShare{{Symbol: "Cu", MassFraction: 1}}}
	family := [][3]int{{1, 1, 1}, {2, 0, 0}, {2, 2, 0}, {3, 1, 1}, {2, 2, 2}, {4, 0, 0}, {3, 3, 1}, {4, 2, 0}}
	lines := func(factor ...float64) (out []pattern.LineFit) {
		for k, h := range family {
			d := 3.615 / math.Sqrt(float64(h[0]*h[0]+h[1]*h[1]+h[2]*h[2]))
			at, _ := xrd.TwoTheta(d, cu.KAlpha1)
			l := refdata.Line{D: d, TwoTheta: at, Intensity: 50, Families: []refdata.Family{{H: h[0], K: h[1], L: h[2], Multiplicity: 8}}}
			out = append(out, pattern.LineFit{Line: l, TwoTheta: at, FWHM: 0.1, Covered: true, Clear: 1, Expected: 1000, Fitted: 1000, Observed: 1000 * factor[k], ObservedU: 10, MisfitU: 20})
		}
		return out
	}
	across, along := lines(2.2, 1.6, 0.2, 0.35, 2.2, 1.6, 0.3, 0.4), lines(0.5, 0.8, 2.4, 1.3, 0.5, 0.8, 1.2, 1.1)
	for section, of := range map[string][]pattern.LineFit{"transverse": across, "longitudinal": along} {
		_, ok := quantify.DrawnWire(copper, of, section == "longitudinal")
		c := one(t, "texture", func(e *diagnose.Evidence) {
			e.Facts.Specimen.Section = section
			e.Explanation.Matches[0].Phase, e.Explanation.Matches[0].Lines = copper, of
			e.Document.Phases[0].Texture = []result.Texture{{Pole: [3]int{1, 1, 1}, R: 0.5, RU: 0.02}}
		})
		words := map[string]string{"transverse": "111 and 200 strong, 220 and 311 weak", "longitudinal": "220 strong, 111 weak"}
		assert.Equal(t, ok, strings.Contains(c.Text, "Drawn face-centred cubic wire shows these lines in a "+section+" section"), section)
		assert.Equal(t, ok, strings.Contains(c.Text, words[section]), section)
		if section == "transverse" {
			assert.True(t, ok, "strong 111 and 200 across the axis are those of a wire")
		}
	}
	c := one(t, "texture", textured(0.5, 0.02))
	assert.NotContains(t, c.Text, "wire", "no section is stated")
}
