package diagnose_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// Two phases of the same lines: what is given for one is both together, and what it would be if all of it were the other follows from the ratio of
// their reference intensity ratios. By hand, of 50 wt% with 8: 8/4 as much for 4 is 2 : 1, 66.7 wt%; 8/16 is 1 : 2, 33.3 wt%.
func TestTwinsInNumbers(t *testing.T) {
	twin := func(rir, percent float64) xrd.Caution {
		return one(t, "same-lines", func(e *diagnose.Evidence) {
			e.Decided.Twins = []diagnose.Twin{{Phase: refdata.Phase{ID: "cupronickel", Name: "cupronickel", RIR: refdata.RIR{Value: rir}}, Of: "Ni"}}
			e.Amounts.Answer.Fractions[1].Weight.Percent = percent
		})
	}
	for rir, want := range map[float64]float64{4: 66.667, 16: 33.333} {
		c := twin(rir, 50)
		assert.InDelta(t, want, c.Evidence["sum_if_other_weight_percent"], 1e-3)
		assert.InDelta(t, 50, c.Evidence["sum_weight_percent"], 0)
	}
	assert.Equal(t, "Ni and cupronickel cannot be told apart: they have the same lines in this scan. What is given for Ni is both together, 50.0 wt% (66.7 wt% if all of it were cupronickel).", twin(4, 50).Text)
	for why, c := range map[string]xrd.Caution{"the same ratio": twin(8, 50), "an unknown ratio": twin(0, 50), "all of it": twin(4, 100)} {
		assert.NotContains(t, c.Text, "if all", why)
		assert.NotContains(t, c.Evidence, "sum_if_other_weight_percent", why)
	}
	c := twin(4, math.NaN())
	assert.Contains(t, c.Text, "is both together.")
	assert.NotContains(t, c.Evidence, "sum_weight_percent")
}

// rivalled is a phase whose lines another one has, too, with elements stated.
func rivalled(elements ...int) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		for _, z := range elements {
			e.Facts.Elements = e.Facts.Elements.With(z)
		}
		e.Explanation.Matches[1].Alternatives = []identify.Alternative{{ID: "cupronickel", Name: "cupronickel"}}
	}
}

// A phase whose lines another of the stated elements has may be there beside it: the amount is that of both, of itself there may be less. Phases that the user
// named are twins, and where no element is stated the reasons tell that the name may be the other.
func TestEitherOrBoth(t *testing.T) {
	c := one(t, "same-lines", rivalled(28, 29))
	assert.Equal(t, "The lines of Ni are also those of cupronickel in this scan, and the stated elements allow each of them alone or together: the interval of Ni is that of the sum, and of Ni itself there may be less.", c.Text)
	assert.Equal(t, []string{"Ni", "cupronickel"}, c.Evidence["phases"])
	c = one(t, "same-lines", rivalled(28, 29), func(e *diagnose.Evidence) { e.Amounts.Answer.Fractions[1].Weight.Percent = math.NaN() })
	assert.NotContains(t, c.Text, "interval", "no amount")
}

// The sum of two that are hardly told apart has the variance of the sum: 0.5 + 0.3 + 2·0.1 = 1; a part of it that is not of the specimen is left out.
func TestSumOfTwoThatAreAlike(t *testing.T) {
	covariance := func(e *diagnose.Evidence) { e.Amounts.Answer.Covariance = [][]float64{{0.5, 0.1}, {0.1, 0.3}} }
	c := one(t, "same-lines", alike([2]int{0, 1}), covariance)
	assert.Contains(t, c.Text, "Cu and Ni have nearly the same lines (ρ = -0.970)")
	assert.Contains(t, c.Text, "Together they are 100.0 ± 2.0 wt% of the crystalline part.")
	assert.InDelta(t, 1, c.Evidence["sum_u_weight_percent"], 1e-12)
	assert.InDelta(t, 100, c.Evidence["sum_weight_percent"], 1e-12)
	c = one(t, "same-lines", alike([2]int{0, 1}), func(e *diagnose.Evidence) { e.Amounts.Roles[1] = quantify.Preparation })
	assert.InDelta(t, 50, c.Evidence["sum_weight_percent"], 1e-12)
	c = one(t, "same-lines", alike([2]int{0, 1}), func(e *diagnose.Evidence) { e.Amounts.Answer.Fractions[0].Weight.Percent = math.NaN() })
	assert.NotContains(t, c.Text, "Together")
}

// What the angle scale rests on is told with its sign and twice its standard uncertainty; an anchor that does not hold, or is not there, was not used.
func TestAnchorsInWords(t *testing.T) {
	c := one(t, "angle-anchor", anchored(result.Established), parameter(pattern.Displacement, -1, -0.0512, 0.001))
	assert.Contains(t, c.Text, "reference cell of Cu, which was not fitted; the surface lies 0.051 ± 0.002 mm above the focusing plane")
	assert.InDelta(t, -0.0512, c.Evidence["displacement_mm"], 0)
	c = one(t, "angle-anchor", anchored(result.Established), func(e *diagnose.Evidence) {
		e.Facts.Instrument.Geometry, e.Facts.Instrument.Zero = xrd.Transmission, 0.0123
	})
	assert.Contains(t, c.Text, "its zero is 0.0123°")
	assert.NotContains(t, c.Text, "focusing plane", "there is none in transmission")
	c = one(t, "anchor-doubtful", anchored(result.Named))
	assert.Contains(t, c.Text, "is not seen in the scan")
	c = one(t, "anchor-doubtful", anchored(result.Established), func(e *diagnose.Evidence) {
		e.Decided.Anchor = &diagnose.FalseAnchor{Phase: refdata.Phase{ID: "si", Name: "silicon"}, Change: -0.00213, U: 0.0001}
	})
	assert.Contains(t, c.Text, "The lines of silicon do not fit its reference cell: an edge is off by -0.213 ± 0.010 %.")
	e := sound(t)
	e.Explanation.Fit.Setup.Anchor = "nobody"
	assert.Empty(t, raised(e, "angle-anchor"))
}

// Factors that have none of the phases change nothing, which is said; otherwise only what lacks a factor is.
func TestFactorsInWords(t *testing.T) {
	without := func(of ...result.FactorOf) xrd.Caution {
		return one(t, "factors-partial", func(e *diagnose.Evidence) {
			e.Document.Factors = &result.Factors{File: "factors.toml", Without: []string{"Cu", "Ni"}, Phases: of}
		})
	}
	assert.Contains(t, without().Text, "The factors of factors.toml have none of the phases of this scan")
	assert.Contains(t, without(result.FactorOf{ID: "Ag"}).Text, "No factor is known for Cu, Ni; against phases with factors")
	c := one(t, "factors-elsewhere", func(e *diagnose.Evidence) {
		e.Document.Factors = &result.Factors{File: "factors.toml", Differences: []string{"another slit", "another tube"}}
	})
	assert.Contains(t, c.Text, "The factors of factors.toml were fitted to other conditions than those of this scan: another slit; another tube.")
}

// How absorption in grains entered the fractions decides how grave a contrast is and what would help; no contrast is worth a word only where the
// intervals hold both limits.
func TestEveryWayOfAbsorption(t *testing.T) {
	for _, c := range []struct {
		how      quantify.Absorption
		section  string
		severity xrd.Severity
		text, do string
	}{
		{quantify.FinePowder, "", xrd.SeverityNote, "Fractions hold for a fine powder", "Use a finer powder"},
		{quantify.FinePowder, "transverse", xrd.SeverityCaution, "corrected with the stated grain sizes, as in a powder", "(--intercept) instead"},
		{quantify.OfMosaic, "transverse", xrd.SeverityNote, "corrected for it with the stated intercepts", "--area"},
		{quantify.BothLimits, "transverse", xrd.SeverityCaution, "since the size of the regions of this section is not stated", "MICRON±U:ID"},
		{quantify.Either, "", xrd.SeverityCaution, "Nobody said whether the specimen is a powder or a section", "--section powder narrows them"},
		{quantify.NotKnownYet, "transverse", xrd.SeverityCaution, "The absorption of a phase is not known", "density and formula"},
	} {
		set := func(ratio float64) func(*diagnose.Evidence) {
			return func(e *diagnose.Evidence) {
				absorbing(ratio)(e)
				e.Amounts.Answer.Absorption, e.Facts.Specimen.Section = c.how, c.section
			}
		}
		for _, ratio := range []float64{0.6, 1.5} {
			got := one(t, "microabsorption", set(ratio))
			assert.Equal(t, c.severity, got.Severity, c.text)
			assert.Contains(t, got.Text, c.text)
			assert.Contains(t, got.Remedy, c.do)
			if c.how != quantify.NotKnownYet {
				assert.Contains(t, got.Text, fmt.Sprintf("(μ over the mean: Cu %.2f)", ratio))
			}
		}
		e := sound(t)
		set(1)(e)
		said := c.how == quantify.Either || c.how == quantify.NotKnownYet
		assert.Equal(t, said, len(raised(e, "microabsorption")) > 0, "no contrast: %s", c.text)
	}
	c := one(t, "microabsorption", absorbing(1.5), func(e *diagnose.Evidence) { e.Document.Factors = &result.Factors{} })
	assert.Contains(t, c.Text, "The factors from weighed mixtures hold for grains of the size that they had")
	c = one(t, "microabsorption", absorbing(1.5), func(e *diagnose.Evidence) { e.Document.Factors = &result.Factors{Without: []string{"Ni"}} })
	assert.Contains(t, c.Text, "Fractions hold for a fine powder", "a phase has no factor")
}

// Advice to grind warns of dust: of that of a phase that harms by name, of any dust otherwise.
func TestGrindingWarnsOfDust(t *testing.T) {
	harmless := func(e *diagnose.Evidence) {
		for i := range e.Explanation.Fit.Setup.Phases {
			e.Explanation.Fit.Setup.Phases[i].Composition = []refdata.ElementShare{{Symbol: "Fe", MassFraction: 1}}
		}
	}
	c := one(t, "microabsorption", absorbing(1.5), harmless)
	assert.Contains(t, c.Remedy, "(wet or under extraction, as with any dust)")
	c = one(t, "microabsorption", absorbing(1.5), harmless, func(e *diagnose.Evidence) {
		p := &e.Explanation.Fit.Setup.Phases[0]
		p.Name, p.Formula, p.Composition = "galena", "PbS", []refdata.ElementShare{{Symbol: "Pb", MassFraction: 0.866}, {Symbol: "S", MassFraction: 0.134}}
	})
	assert.Contains(t, c.Remedy, "with the waste collected: the dust of galena is harmful)")
}

// A micrograph that disagrees names the phase that is worst off, and the causes that the analysis has reasons for first.
func TestMicrographThatDisagrees(t *testing.T) {
	set := func(more func(*diagnose.Evidence)) xrd.Caution {
		return one(t, "micrograph-disagrees", imaged(0.001), func(e *diagnose.Evidence) {
			e.Amounts.Image.Z = []float64{-7, 8.5}
			more(e)
		})
	}
	c := set(func(*diagnose.Evidence) {})
	assert.Contains(t, c.Text, "Ni takes 40 % of the area and 50 vol% by diffraction (z = 8.5; p = 0.001 of all areas together)")
	assert.Equal(t, "Ni", c.Evidence["phase"])
	assert.Contains(t, c.Remedy, "Likely, in this order: absorption in coarse regions (state or check --intercept); preferred orientation", "nothing is known: the usual order")
	c = set(func(e *diagnose.Evidence) {
		e.Document.Phases[1].Texture = []result.Texture{{Pole: [3]int{1, 1, 1}, R: 0.99, RU: 0.1}}
	})
	assert.Contains(t, c.Remedy, "in this order: preferred orientation (scan a second cut with --same-specimen); absorption in coarse")
	c = set(func(e *diagnose.Evidence) {
		e.Document.Phases[1].Texture = []result.Texture{{Pole: [3]int{1, 1, 1}, R: 0.99, RU: 0.1}}
		e.Amounts.Answer.Fractions[1].MuRatio = 0.6
	})
	assert.Contains(t, c.Remedy, "in this order: absorption in coarse regions (state or check --intercept); preferred orientation")
}

// A hump where the stated mount has its halo is expected; elsewhere, or with a blank of the mount, it is the specimen's.
func TestHumpsAndMounts(t *testing.T) {
	c := one(t, "amorphous-halo", hump(6, 100))
	assert.Equal(t, xrd.SeverityCaution, c.Severity)
	assert.Contains(t, c.Text, "near 30° (its height is 100 % of the background below it)")
	assert.InDelta(t, 30, c.Evidence["two_theta"], 0.1)
	assert.InDelta(t, 100, c.Evidence["height"], 1)
	assert.Contains(t, one(t, "amorphous-halo", hump(6, 240)).Text, "2.4 times as high as the background below it")
	glued := func(e *diagnose.Evidence) { e.Facts.Specimen.Mount = "epoxy" }
	// The second halo of epoxy lies near 2.1 Å, 42° with Cu Kα; the hump at 30° is of neither.
	assert.Equal(t, xrd.SeverityCaution, one(t, "amorphous-halo", hump(6, 100), glued).Severity)
	at := func(e *diagnose.Evidence) { // a hump at 42°
		f := e.Explanation.Fit
		f.Background = make([]float64, len(f.Setup.TwoTheta))
		for i, x := range f.Setup.TwoTheta {
			d := (x - 41.5) / 12
			f.Background[i] = 100 + 100*math.Exp(-4*math.Ln2*d*d)
		}
		f.Fitted = f.Background
	}
	c = one(t, "amorphous-halo", at, glued)
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Text, "is where the stated mount (epoxy) has its halo; it is taken into the background")
	assert.Contains(t, c.Remedy, "--blank")
	blank := func(height float64) func(*diagnose.Evidence) {
		return func(e *diagnose.Evidence) {
			f := e.Explanation.Fit
			f.Setup.Blank, f.BlankScale = make([]float64, len(f.Setup.TwoTheta)), 2
			for i, x := range f.Setup.TwoTheta {
				d := (x - 41.5) / 12
				f.Setup.Blank[i] = 50 + height/2*math.Exp(-4*math.Ln2*d*d)
			}
		}
	}
	c = one(t, "amorphous-halo", at, glued, blank(0))
	assert.Contains(t, c.Text, "Beside the blank the background has a broad hump near 42°", "a blank without it")
	for _, height := range []float64{90, 100} { // of 100: what is left of a blank may be that of its noise
		e := sound(t)
		at(e)
		glued(e)
		blank(height)(e)
		assert.Empty(t, raised(e, "amorphous-halo"), "%g of it stand in the blank", height)
	}
}

// What a search for peaks says of a halo is left to the fit where there is one.
func TestHaloOfPeaksAlone(t *testing.T) {
	said := []xrd.Caution{{Code: "amorphous-halo", Severity: xrd.SeverityCaution, Text: "A hump."}, {Code: "saturation", Severity: xrd.SeverityCaution, Text: "Clipped."}}
	e := sound(t)
	e.Found.Cautions = said
	assert.Empty(t, raised(e, "amorphous-halo"))
	assert.NotEmpty(t, raised(e, "saturation"))
	e.Explanation = nil
	assert.NotEmpty(t, raised(e, "amorphous-halo"))
}

// Who said so, or why it is expected, decides how a phase is told that preparation has left: stated or of the mount it is a note; otherwise a caution
// that says what it would be, were it counted.
func TestWhatPreparationLeft(t *testing.T) {
	left := func(change func(*diagnose.Evidence)) xrd.Caution {
		return one(t, "preparation-artefact", func(e *diagnose.Evidence) {
			e.Amounts.Roles[1] = quantify.Preparation
			e.Explanation.Fit.Setup.Phases[1].Preparation = "Left by grinding."
			change(e)
		})
	}
	c := left(func(*diagnose.Evidence) {})
	assert.Equal(t, xrd.SeverityCaution, c.Severity)
	assert.Equal(t, "Ni may come from preparation: left by grinding. It is left out of the specimen's 100 %.", c.Text)
	c = left(func(e *diagnose.Evidence) {
		e.Amounts.Belonging = []quantify.Fraction{{Weight: quantify.Value{Percent: 88}}, {Weight: quantify.Value{Percent: 12.3, Lo: 11.1, Hi: 13.4}}}
	})
	assert.Contains(t, c.Text, "left out of the specimen's 100 %; counted, it would be 12 wt% (11–13).")
	c = left(func(e *diagnose.Evidence) {
		e.Amounts.Belonging = []quantify.Fraction{{}, {Weight: quantify.Value{Percent: math.NaN()}}}
	})
	assert.NotContains(t, c.Text, "counted")
	c = left(func(e *diagnose.Evidence) { e.Facts.Aside = []string{"nI"} })
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Text, "as stated (--aside)")
	c = left(func(e *diagnose.Evidence) {
		e.Facts.Preparations = []refdata.Preparation{{Material: "nickel tape", Kind: "holder", Phase: "ni"}}
		e.Facts.Specimen.Mount = "nickel tape"
	})
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.Contains(t, c.Text, "belongs to the stated mount (nickel tape), as expected")
}

// Lines that were left out by a mask are not in the scan.
func TestMaskedStrongestLine(t *testing.T) {
	for _, c := range []struct {
		mask [2]float64
		said bool
	}{{[2]float64{43, 44}, true}, {[2]float64{43.3, 44}, false}, {[2]float64{42, 43.2}, false}} { // 2.09 Å: 43.25°
		e := sound(t)
		e.Facts.Masks = [][2]float64{c.mask}
		assert.Equal(t, c.said, len(raised(e, "reference-strongest-out-of-range")) > 0, c.mask)
	}
}

// Phases without a line in the range are told as such once, and not again as a scale that is open.
func TestOpenScalesAreToldOnce(t *testing.T) {
	c := one(t, "undetermined", func(e *diagnose.Evidence) {
		e.Explanation.Fit.ZeroU[1] = math.Inf(1)
		e.Explanation.Fit.Undetermined = []string{e.Explanation.Fit.ScaleName(1)}
	})
	assert.Contains(t, c.Text, "No line of Ni lies in the range")
	c = one(t, "undetermined", func(e *diagnose.Evidence) {
		e.Explanation.Fit.Undetermined = []string{e.Explanation.Fit.ScaleName(1), "zero"}
	})
	assert.Contains(t, c.Text, "The data do not determine scale of Ni, zero.")
	c = one(t, "undetermined", func(e *diagnose.Evidence) { e.Explanation.Fit.Knots = 900 })
	assert.Regexp(t, `^The fit has 9\d\d parameters for 4001 points`, c.Text)
}

// Powder takes 0.6 of the absorption of the solid, so that it must be thicker: by hand, 0.09 mm of 445/cm are enough as a section (0.053 mm), and enough
// as a powder from 0.089 mm on.
func TestThicknessOfAPowder(t *testing.T) {
	for _, c := range []struct {
		section string
		mm      float64
		thin    bool
	}{{"transverse", 0.055, false}, {"powder", 0.055, true}, {"", 0.055, true}, {"powder", 0.088, true}, {"powder", 0.09, false}} {
		e := sound(t)
		thick(c.mm)(e)
		e.Facts.Specimen.Section = c.section
		assert.Equal(t, c.thin, len(raised(e, "not-infinite")) > 0, "%+v", c)
	}
}

// The scan contradicts its tube, in shares; a doublet that was read as one line is another fault.
func TestTubesInWords(t *testing.T) {
	c := one(t, "radiation-doubtful", func(e *diagnose.Evidence) {
		e.Decided.Tube = &diagnose.Tube{Name: "Co", Share: 0.93}
		e.Document.Explanation.ExplainedShare = limit(0.12)
	})
	assert.Contains(t, c.Text, "with Cu Kα 12 % of the peak area are explained, with Co Kα 93 %.")
	c = one(t, "radiation-doubtful", func(e *diagnose.Evidence) {
		e.Decided.Tube = &diagnose.Tube{Name: "Cu", Halved: true}
		e.Document.Explanation.SingleWavelength, e.Document.Explanation.Radiation = true, "Cu"
	})
	assert.Contains(t, c.Text, "the scan shows Kα1 and Kα2 of Cu apart")
	assert.Equal(t, "Give both wavelengths with --radiation Cu.", c.Remedy)
}

// What was given beside the scan may be what is wrong.
func TestUnexplainedNamesWhatMayBeWrong(t *testing.T) {
	for _, c := range []struct {
		tube  string
		blank bool
		want  string
	}{{"", false, "with --library."}, {"Cu", false, "Try it without --instrument, too."}, {"", true, "Try it without --blank, too."}, {"Cu", true, "Try it without --instrument and --blank, too."}} {
		for code, v := range map[string]result.Verdict{"not-explained": result.None, "partly-explained": result.Partial} {
			said := one(t, code, func(e *diagnose.Evidence) {
				verdict(v, 0.3)(e)
				e.Facts.Instrument.Tube, e.Facts.Blank = c.tube, c.blank
			})
			assert.True(t, strings.HasSuffix(said.Remedy, c.want), "%s: %q", c.want, said.Remedy)
		}
	}
}

// A scan whose peaks are all accounted for, though less than nine tenths, counts none that is left.
func TestExplainedInPartWithoutAPeakLeft(t *testing.T) {
	c := one(t, "partly-explained", func(e *diagnose.Evidence) {
		e.Document.Explanation = &result.Explanation{Verdict: result.Partial, ExplainedShare: limit(0.85)}
	})
	assert.Contains(t, c.Text, "the phases account for 85 %")
	assert.NotContains(t, c.Text, "0 peaks")
	assert.InDelta(t, 0, c.Evidence["peaks"], 0)
}

// A phase without a line of its own is named for what others leave.
func TestNoLineOfItsOwn(t *testing.T) {
	assert.Contains(t, one(t, "few-lines", tentative(0, 0)).Text, "Cu has no line that no other phase covers")
	assert.Contains(t, one(t, "few-lines", tentative(1, 0)).Text, "Cu rests on 1 line that no other phase covers.")
	assert.Contains(t, one(t, "few-lines", tentative(1, 1)).Text, "Cu rests on 2 lines that no other phase covers.")
}

// A fibre is told by what a section the other way would show, the lines that change most first.
func TestFibreInWords(t *testing.T) {
	fibre := func(section string) xrd.Caution {
		return one(t, "texture", func(e *diagnose.Evidence) {
			e.Facts.Specimen.Section = section
			e.Document.Phases[0].Sections = &result.Sections{Pole: [3]int{1, 1, 1}, R: 0.5, Lines: []result.SectionLine{
				{H: 2, K: 0, L: 0, Transverse: 1.1, Longitudinal: 0.95}, {H: 1, K: 1, L: 1, Transverse: 4, Longitudinal: 0.25}, {H: 2, K: 2, L: 0, Transverse: 0.5, Longitudinal: 2}, {H: 3, K: 1, L: 1, Transverse: 1, Longitudinal: 1}}}
		})
	}
	assert.Contains(t, fibre("transverse").Text, "a longitudinal section would show 1 1 1 × 0.25, 2 2 0 × 2.00, 2 0 0 × 0.95.")
	assert.Contains(t, fibre("longitudinal").Text, "a transverse section would show 1 1 1 × 4.00, 2 2 0 × 0.50, 2 0 0 × 1.10.")
	assert.Contains(t, fibre("").Text, "March–Dollase r = 0.50")
}

// Of several materials that may have left peaks, those that explain most are told.
func TestTheLikeliestResidue(t *testing.T) {
	e := sound(t)
	left(35.66, 38.15)(e)
	require.NotEmpty(t, raised(e, "preparation-artefact"))
	for _, c := range raised(e, "preparation-artefact") {
		at, ok := c.Evidence["suspected"].([]float64)
		require.True(t, ok)
		assert.Len(t, at, 2)
		assert.Contains(t, c.Text, "35.66°, 38.15°")
	}
	found, _ := raised(e, "preparation-artefact")[0].Evidence["phase"].(string)
	e.Explanation.Matches[1].Phase.ID = strings.ToUpper(found)
	for _, c := range raised(e, "preparation-artefact") {
		assert.NotEqual(t, found, c.Evidence["phase"], "it was fitted")
	}
}

// The gravest of several stands first, notes last, those of one severity in the order of the checks.
func TestOrderOfCautions(t *testing.T) {
	list := []xrd.Caution{{Code: "n1", Severity: xrd.SeverityNote}, {Code: "c1", Severity: xrd.SeverityCaution}, {Code: "s1", Severity: xrd.SeverityStop}, {Code: "n2", Severity: xrd.SeverityNote}, {Code: "c2", Severity: xrd.SeverityCaution}, {Code: "s2", Severity: xrd.SeverityStop}}
	diagnose.Sort(list)
	var codes []string
	for _, c := range list {
		codes = append(codes, c.Code)
	}
	assert.Equal(t, []string{"s1", "s2", "c1", "c2", "n1", "n2"}, codes)
}

// A line that a phase has of its own is no image, nor is a peak beside lines that would have stronger images and have none.
func TestImagesSayOfWhat(t *testing.T) {
	c := one(t, "k-beta", image(peaks.KBeta, 0))
	assert.Equal(t, "Kβ of strong lines is seen at 44.50° (of the line at 43.30°); it is no phase.", c.Text)
	c = one(t, "tungsten-line", image(peaks.WLine, 0))
	assert.Contains(t, c.Remedy, "coated with tungsten")
}

// TestRestElementIsTold: the element whose phases explain what is left is named with them, and only where there is one.
func TestRestElementIsTold(t *testing.T) {
	x := result.Explanation{RestElement: &result.RestElement{Symbol: "Sn", Phases: []string{"tin (β)", "Cu3Sn (ε)"}, Peaks: 20, Of: 35}}
	assert.Contains(t, diagnose.Needed(x), "One element that you did not give would explain 20 of the 35: Sn, by tin (β) and Cu3Sn (ε). Check the tube")
	x.RestElement = nil
	assert.NotContains(t, diagnose.Needed(x), "One element")
}
