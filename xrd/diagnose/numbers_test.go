package diagnose_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// one returns the only caution of a code that a change of a sound analysis raises.
func one(t *testing.T, code string, change ...func(*diagnose.Evidence)) xrd.Caution {
	t.Helper()
	e := sound(t)
	for _, c := range change {
		c(e)
	}
	list := raised(e, code)
	require.Len(t, list, 1, code)
	return list[0]
}

// What a caution says in numbers, against numbers by hand or of the trade:
//   - a beam of 1° on R = 200 mm is 10 mm long at 2 asin(200·π/180/10) = 40.9° (Klug & Alexander 1974, from memory: L = R α/sin θ);
//   - copper takes 3.1 sin 50°/445 cm = 0.0534 mm up to 100°, and 0.02 mm are enough up to 2 asin(0.002·445/3.1) = 33.4°;
//   - a limit of 8 wt% becomes 2 in (8/2)² = 16 times the time, and of 5 in 6.25, told as 7;
//   - 2.6 % of lattice strain of apparent width 0.3° in tan θ: e = β/4 tan θ, 0.3·π/180/4 = 1.3e-3 (Stokes & Wilson 1944, from memory);
//   - a composition of 45 wt% beside 50 from the phases.
func TestNumbersThatAreTold(t *testing.T) {
	c := one(t, "beam-overspill", stated(1, 10), func(e *diagnose.Evidence) { e.Found.Peaks[0].TwoTheta = 25 })
	assert.InDelta(t, 40.9, c.Evidence["full_above_two_theta"], 0.1)
	assert.Contains(t, c.Text, "below 40.9°")

	c = one(t, "not-infinite", thick(0.02))
	assert.InEpsilon(t, 3.1*math.Sin(50*math.Pi/180)/445*10, c.Evidence["needed_mm"], 1e-6)
	assert.InDelta(t, 33.4, c.Evidence["thin_above_two_theta"], 0.1)

	for limit, times := range map[float64]float64{8: 16, 5: 7} {
		c = one(t, "limit-above-request", absent(limit))
		assert.InDelta(t, times, c.Evidence["times_as_long"], 0)
		assert.Contains(t, c.Text, "not seen does not mean not there")
		assert.NotContains(t, c.Text, "gold", "nobody asked for it")
	}
	c = one(t, "limit-above-request", absent(3), func(e *diagnose.Evidence) { e.Facts.WantedLimit = 1 })
	assert.InDelta(t, 9, c.Evidence["times_as_long"], 0)
	assert.Contains(t, c.Text, "wanted 1 wt%")

	c = one(t, "surface-deformed", strained("transverse", 0.9))
	assert.InEpsilon(t, pattern.StrainOf(0.9), c.Evidence["strain"], 1e-9)
	assert.InEpsilon(t, 0.9*math.Pi/180/4, pattern.StrainOf(0.9), 1e-6)

	c = one(t, "chemistry-mismatch", measured("Cu", 45))
	assert.Contains(t, c.Text, "Cu 50.0 wt% from the phases, 45.0 measured")

	c = one(t, "displaced", parameter(pattern.Displacement, -1, -0.25, 0.01))
	assert.Contains(t, c.Text, "0.25 ± 0.02 mm above the focusing plane")
	assert.InDelta(t, -0.25, c.Evidence["displacement_mm"], 0)
	assert.Contains(t, one(t, "displaced", parameter(pattern.Displacement, -1, 0.25, 0.01)).Text, "mm below the focusing plane")
}

// Chemistry that nobody measured well is not held against the phases, nor an element that they do not have and that is not there.
func TestChemistryAllowsForItsUncertainty(t *testing.T) {
	for _, c := range []struct {
		wt, u float64
		off   bool
	}{{45, 0, true}, {45, 3, false}, {50, 0.1, false}, {47, 0.5, true}} { // the phases say 50 ± 0.55
		e := sound(t)
		e.Facts.Composition = []diagnose.ElementAmount{{Symbol: "cu", WeightPercent: c.wt, U: c.u}}
		assert.Equal(t, c.off, len(raised(e, "chemistry-mismatch")) > 0, "%g ± %g", c.wt, c.u)
	}
	for _, c := range []struct {
		wt  float64
		off bool
	}{{48, false}, {25, true}, {68, false}, {90, true}} { // the phases are 30 ± 1 wt% of a specimen of which 36 to 44 wt% are amorphous
		e := sound(t)
		e.Amounts.Answer.Amorphous = &quantify.Value{Percent: 40, Lo: 36, Hi: 44}
		for i := range e.Amounts.Answer.Fractions {
			e.Amounts.Answer.Fractions[i].Original = quantify.Value{Percent: 30, Lo: 28, Hi: 32}
		}
		e.Facts.Composition = []diagnose.ElementAmount{{Symbol: "Cu", WeightPercent: c.wt}}
		assert.Equal(t, c.off, len(raised(e, "chemistry-mismatch")) > 0, "%g of a specimen that is partly amorphous", c.wt)
	}
	e := sound(t)
	e.Facts.Composition = []diagnose.ElementAmount{{Symbol: "Ag", WeightPercent: 1}, {Symbol: "Au", WeightPercent: 0.1}}
	assert.Empty(t, raised(e, "chemistry-mismatch"), "1 and 0.1 wt% are within 3 of 0.5")
	e.Facts.Composition[0].WeightPercent = 2
	assert.NotEmpty(t, raised(e, "chemistry-mismatch"))
	e.Amounts.Answer.Withheld = []int{1}
	assert.Empty(t, raised(e, "chemistry-mismatch"), "no fractions, no balance")
}

// The verdict's words name what is left, and what one phase would explain.
func TestVerdictInWords(t *testing.T) {
	c := one(t, "not-explained", verdict(result.None, 0.3))
	assert.Equal(t, xrd.SeverityStop, c.Severity)
	assert.Contains(t, c.Text, "account for 30 % of the peak area, and 1 peak is left")
	c = one(t, "not-explained", verdict(result.None, 0), func(e *diagnose.Evidence) {
		e.Document.Phases, e.Order, e.Explanation.Matches = nil, nil, nil
	})
	assert.Contains(t, c.Text, "no phase is found")
	c = one(t, "partly-explained", verdict(result.Partial, 0.8), func(e *diagnose.Evidence) {
		e.Document.Explanation.Rest = &result.Rest{Name: "galena", Elements: []string{"Pb", "S"}, Peaks: 3, Of: 4}
		e.Document.Explanation.DoubtedPhases = []string{"Ni"}
	})
	assert.Contains(t, c.Remedy, "One phase would explain 3 of the 4 peaks that are left: galena; you gave no Pb, S.")
	assert.Contains(t, c.Text, "some of it only by Ni, which may stand in for a phase that is not in the reference data")
	c = one(t, "partly-explained", verdict(result.Partial, 0.8), func(e *diagnose.Evidence) { e.Document.Explanation.Radiation = "Co" })
	assert.Contains(t, c.Remedy, "--radiation Co")
	c = one(t, "unexplained-peaks", func(e *diagnose.Evidence) {
		e.Document.UnexplainedPeaks = []result.Unexplained{{TwoTheta: 30, D: 2.976, Significance: 8}, {TwoTheta: 33, D: 2.712, Significance: 12}}
	})
	assert.Contains(t, c.Text, "2 peaks are left unexplained; the clearest is at 33.00° (d = 2.7120 Å)")
}

// Cells: what differs by more than half a per cent and five uncertainties is told with its sign; at the bound of what is tried no
// uncertainty is claimed.
func TestCellsThatDiffer(t *testing.T) {
	cell := func(value, u float64) func(*diagnose.Evidence) {
		return func(e *diagnose.Evidence) {
			e.Explanation.Fit.Parameters = append(e.Explanation.Fit.Parameters, pattern.Parameter{Kind: pattern.CellA, Phase: 0, Value: value, U: u, Free: true, Lower: -0.03, Upper: 0.03})
		}
	}
	c := one(t, "solid-solution", cell(0.008, 1e-4))
	assert.Contains(t, c.Text, "+0.80 %")
	assert.Contains(t, one(t, "solid-solution", cell(-0.008, 1e-4)).Text, "-0.80 %")
	c = one(t, "solid-solution", cell(0.03, 1e-4))
	assert.Contains(t, c.Text, "no uncertainty is given")
	assert.Nil(t, c.Evidence["u"])
	for _, near := range [][2]float64{{0.004, 1e-4}, {0.008, 2e-3}} {
		e := sound(t)
		cell(near[0], near[1])(e)
		assert.Empty(t, raised(e, "solid-solution"), near)
	}
	// A smaller change is told where it keeps the name from being established: the fraction is then that of the reference's intensities.
	doubted := func(evidence result.Evidence, code string) *diagnose.Evidence {
		e := sound(t)
		cell(-0.0041, 1e-4)(e)
		e.Explanation.Matches[0].Evidence, e.Explanation.Matches[0].Reasons = evidence, []identify.Reason{{Code: code}}
		return e
	}
	told := raised(doubted(result.Probable, "cell"), "solid-solution")
	require.Len(t, told, 1)
	assert.Contains(t, told[0].Text, "its fraction holds for the intensities of the reference: other atoms scatter more or less")
	assert.Empty(t, raised(doubted(result.Established, "cell"), "solid-solution"))
	assert.Empty(t, raised(doubted(result.Probable, "few-lines"), "solid-solution"))
}

// The cell of a name that does not hold, of a trace, is told in a note; that of a main phase is a caution that says how to allow for it.
func TestCellsOfDoubtfulPhases(t *testing.T) {
	cell := func(share float64) func(*diagnose.Evidence) {
		return func(e *diagnose.Evidence) {
			e.Explanation.Fit.Parameters = append(e.Explanation.Fit.Parameters, pattern.Parameter{Kind: pattern.CellA, Phase: 0, Value: 0.008, U: 1e-4, Free: true, Lower: -0.03, Upper: 0.03})
			e.Explanation.Matches[0].Evidence = result.Tentative
			for i := range e.Explanation.Matches[0].Lines {
				e.Explanation.Matches[0].Lines[i].Fitted *= share
			}
		}
	}
	assert.Equal(t, xrd.SeverityNote, one(t, "solid-solution", cell(0.04)).Severity)
	main := one(t, "solid-solution", cell(0.06))
	assert.Equal(t, xrd.SeverityCaution, main.Severity)
	assert.Contains(t, main.Remedy, "--solid-solution Cu")
	established := one(t, "solid-solution", cell(0.04), func(e *diagnose.Evidence) { e.Explanation.Matches[0].Evidence = result.Established })
	assert.Equal(t, xrd.SeverityCaution, established.Severity)
	assert.NotContains(t, established.Remedy, "--solid-solution")
}

// A single line on a hump says little; one beside it, all lines together, and one without a hump say that methods disagree.
func TestSingleLinesOnAHump(t *testing.T) {
	at := func(twoTheta float64) func(*diagnose.Evidence) {
		return func(e *diagnose.Evidence) { e.Amounts.Checks[0].TwoTheta = twoTheta }
	}
	c := one(t, "methods-disagree", hump(8, 60), byStrongest(3.1), at(26))
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Text, "It may follow from another caution: amorphous-halo.")
	for _, c := range []xrd.Caution{
		one(t, "methods-disagree", hump(8, 60), byStrongest(3.1), at(41)),
		one(t, "methods-disagree", hump(8, 60), checked(-2.9), at(26)),
		one(t, "methods-disagree", hump(8, 60), byStrongest(3.1), at(26), func(e *diagnose.Evidence) { e.Amounts.Checks[0].Sigmas = -2.9 }),
		one(t, "methods-disagree", byStrongest(3.1), at(26)),
	} {
		assert.Equal(t, xrd.SeverityCaution, c.Severity)
	}
}

// Residues whose elements are stated may be a phase of the specimen as well, and nothing from elsewhere is named beside them.
func TestSuspectsOfTheStatedElements(t *testing.T) {
	elements := func(z ...int) func(*diagnose.Evidence) {
		return func(e *diagnose.Evidence) {
			for _, n := range z {
				e.Facts.Elements = e.Facts.Elements.With(n)
			}
		}
	}
	for _, c := range []struct {
		z      []int
		stated bool
	}{{nil, false}, {[]int{29}, false}, {[]int{14, 6}, true}} {
		found := one(t, "preparation-artefact", left(35.66, 38.15), elements(c.z...))
		if c.stated {
			assert.Contains(t, found.Text, "whose elements are stated")
			assert.Contains(t, found.Text, "a phase of the specimen whose intensities or cell are not those of its reference")
			assert.Regexp(t, "^If it belongs to the specimen, name it with --require sic", found.Remedy)
		} else {
			assert.NotContains(t, found.Text, "stated", c.z)
		}
	}
}

// Lines scatter by what is beyond counting: of ±30 % with 1 % of counting 30 % are left, of ±3 % with 3 % nothing.
func TestScatterBeyondCounting(t *testing.T) {
	c := one(t, "coarse-grain", shown(1.3, 0.7, 1.3, 0.7))
	assert.InDelta(t, 0.30, c.Evidence["relative_scatter"], 0.01)
	e := sound(t)
	shown(1.3, 0.7, 1.3, 0.7)(e)
	for i := range e.Explanation.Matches[0].Lines {
		e.Explanation.Matches[0].Lines[i].ObservedU = 95 // of 1000, nearly too little to be asked
	}
	require.NotEmpty(t, raised(e, "coarse-grain"))
	for i := range e.Explanation.Matches[0].Lines {
		e.Explanation.Matches[0].Lines[i].ObservedU = 105 // less than ten times their uncertainty
	}
	assert.Empty(t, raised(e, "coarse-grain"))
	e = sound(t)
	shown(1.3, 0.7, 1.3)(e)
	assert.Empty(t, raised(e, "coarse-grain"), "three lines are no statistics")
}

// A film shows two orders of one set of planes and none of the others: planes that symmetry makes equivalent count as the same, others not.
func TestOrientedPlanes(t *testing.T) {
	line := func(h, k, l int, observed float64) pattern.LineFit {
		return pattern.LineFit{Line: refdata.Line{D: 2, Families: []refdata.Family{{H: h, K: k, L: l}}}, Expected: 100, Fitted: 100, Observed: observed, ObservedU: 2, Clear: 1, Covered: true}
	}
	others := func(observed float64) []pattern.LineFit {
		return []pattern.LineFit{line(1, 1, 1, observed), line(2, 2, 0, observed), line(3, 1, 1, observed), line(3, 3, 1, observed)}
	}
	cubic := refdata.Phase{System: refdata.Cubic}
	film := append(others(0), line(2, 0, 0, 900), line(4, 0, 0, 700))
	pole, ok := diagnose.Oriented(film, cubic)
	assert.True(t, ok)
	assert.Equal(t, [3]int{0, 0, 1}, pole, "100 and 001 are the same in a cube")
	_, ok = diagnose.Oriented(append(others(100), line(2, 0, 0, 900), line(4, 0, 0, 700)), cubic)
	assert.False(t, ok, "the others are there")
	_, ok = diagnose.Oriented(append(others(0), line(2, 0, 0, 900)), cubic)
	assert.False(t, ok, "one line is none too many")
	_, ok = diagnose.Oriented(film[1:], cubic)
	assert.False(t, ok, "three that are missing are too few")
	monoclinic := refdata.Phase{System: refdata.Monoclinic}
	_, ok = diagnose.Oriented(append(others(0), line(2, 0, 0, 900), line(0, 0, 4, 700)), monoclinic)
	assert.False(t, ok, "100 and 001 are others there")
}

// Fine, coarse and stated regions of a section are told apart, and a powder has a note only.
func TestAbsorptionInWords(t *testing.T) {
	of := func(a quantify.Absorption, section string) xrd.Caution {
		return one(t, "microabsorption", absorbing(1.8), func(e *diagnose.Evidence) {
			e.Amounts.Answer.Absorption, e.Facts.Specimen.Section = a, section
		})
	}
	c := of(quantify.BothLimits, "transverse")
	assert.Equal(t, xrd.SeverityCaution, c.Severity)
	assert.Contains(t, c.Text, "from the limit of fine to that of coarse")
	assert.Contains(t, c.Remedy, "--intercept")
	c = of(quantify.OfMosaic, "transverse")
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Text, "corrected for it with the stated intercepts")
	c = of(quantify.FinePowder, "powder")
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Remedy, "finer powder")
	assert.Contains(t, c.Text, "Cu 1.80")
}

// No candidate, watched phases, twins: each says which.
func TestWhichPhasesAreMeant(t *testing.T) {
	c := one(t, "no-candidates", searched(7, 7))
	assert.Contains(t, c.Text, "None of the 100 phases")
	assert.Contains(t, c.Text, "7 phases of the preparation watch-list were tried")
	e := sound(t)
	e.Facts.Named = true
	e.Explanation = &identify.Explanation{Tried: 7, Watched: 7}
	assert.Empty(t, raised(e, "no-candidates"), "named phases are not searched for")
}
