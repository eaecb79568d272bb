package diagnose_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// sound is an analysis of invented copper and nickel of which there is nothing to say.
func sound(t *testing.T) *diagnose.Evidence {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	x := make([]float64, 4001)
	flat := make([]float64, len(x))
	for i := range x {
		x[i], flat[i] = 20+0.02*float64(i), 100
	}
	scan, err := xrd.NewScan(x, flat, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	ratio := refdata.RIR{Value: 8, Origin: "computed", Basis: "area", Radiation: "Cu"}
	phase := func(id string, d float64) refdata.Phase {
		return refdata.Phase{ID: id, Name: id, RIR: ratio, Density: 8.9, MassAbsorption: 50, Lines: []refdata.Line{{D: d, Intensity: 100}, {D: 0.8 * d, Intensity: 50}},
			Composition: []refdata.ElementShare{{Symbol: id, MassFraction: 1}}}
	}
	phases := []refdata.Phase{phase("Cu", 2.09), phase("Ni", 2.03)}
	fit := fitOf(t, x, cu, phases)
	value := func(v float64) quantify.Value { return quantify.Value{Percent: v, Lo: v - 1, Hi: v + 1} }
	fraction := quantify.Fraction{Weight: value(50), Volume: value(50), Coarse: value(50), MuRatio: 1}
	share, half := 1.0, 50.0
	e := &diagnose.Evidence{Scan: scan, Facts: diagnose.Facts{Radiation: cu, Instrument: xrd.Instrument{Radius: 200}, References: 100, Preparations: refdata.Preparations()},
		Found:       peaks.Found{Peaks: []peaks.Peak{{TwoTheta: 43.3, Area: 100, AreaU: 1, FWHM: 0.1, Kind: peaks.KAlpha}, {TwoTheta: 44.5, Area: 100, AreaU: 1, FWHM: 0.1, Kind: peaks.KAlpha}}},
		Explanation: &identify.Explanation{Fit: fit, Tried: 100}, Order: []int{0, 1},
		Amounts: diagnose.Amounts{Roles: []quantify.Role{quantify.Specimen, quantify.Specimen},
			Answer: quantify.Answer{Fractions: []quantify.Fraction{fraction, fraction}, Covariance: [][]float64{{0.3, -0.3}, {-0.3, 0.3}}, Amorphous: &quantify.Value{}}},
		Document: result.Document{Explanation: &result.Explanation{Verdict: result.Complete, ExplainedShare: &share}, Phases: []result.Phase{{ID: "Cu", Name: "Cu", WeightPercent: &half}, {ID: "Ni", Name: "Ni", WeightPercent: &half}}}}
	for _, p := range phases {
		e.Explanation.Matches = append(e.Explanation.Matches, identify.Match{Phase: p, Evidence: result.Established, Lines: lines(1, 1, 1, 1, 1)})
	}
	return e
}

// fitted is the fit of all cases, which copy it.
var fitted *pattern.Fit

// fitOf returns the fit of a pattern of both phases on a flat background, without noise.
func fitOf(t *testing.T, x []float64, cu xrd.Radiation, phases []refdata.Phase) *pattern.Fit {
	if fitted == nil {
		set := pattern.Setup{TwoTheta: x, Intensity: make([]float64, len(x)), Sigma: make([]float64, len(x)), Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
		for i := range x {
			set.Intensity[i], set.Sigma[i] = 100, 10
		}
		for _, p := range phases {
			for i, y := range pattern.Calculate(set, p, 500, 0, 0) {
				set.Intensity[i] += y
			}
		}
		set.Phases = phases
		f, err := pattern.Run(t.Context(), set, pattern.Quick)
		require.NoError(t, err)
		require.Equal(t, leastsq.Converged, f.Status)
		fitted = f
	}
	f := *fitted
	f.Parameters, f.ZeroU, f.Setup.Phases = slices.Clone(f.Parameters), slices.Clone(f.ZeroU), slices.Clone(phases)
	return &f
}

// lines are those of a phase's own, with the ratios of observed over fitted intensity.
func lines(ratios ...float64) []pattern.LineFit {
	var out []pattern.LineFit
	for k, r := range ratios {
		out = append(out, pattern.LineFit{TwoTheta: 40 + 10*float64(k), FWHM: 0.1, Covered: true, Clear: 1, Expected: 1000, Fitted: 1000, Observed: 1000 * r, ObservedU: 5, MisfitU: 20})
	}
	return out
}

// raised are the cautions of a code that any check raises.
func raised(e *diagnose.Evidence, code string) (out []xrd.Caution) {
	for _, c := range diagnose.Cautions(*e) {
		if c.Code == code {
			out = append(out, c)
		}
	}
	return out
}

func limit(v float64) *float64 { return &v }

// checks are the cases: what raises a caution, and what comes near to it and does not.
var checks = []struct {
	code       string
	yes, hardy func(e *diagnose.Evidence)
}{
	{"radiation-assumed", func(e *diagnose.Evidence) { e.Facts.RadiationAssumed = true }, func(*diagnose.Evidence) {}},
	{"radiation-doubtful", func(e *diagnose.Evidence) { e.Scan.About.Radiation = &xrd.Radiation{Name: "Co", KAlpha1: 1.789} },
		func(e *diagnose.Evidence) {
			e.Scan.About.Radiation = &xrd.Radiation{Name: "copper by another table", KAlpha1: 1.5406}
		}},
	{"radiation-doubtful", func(e *diagnose.Evidence) { e.Decided.Tube = &diagnose.Tube{Name: "Co", Share: 0.9} }, func(*diagnose.Evidence) {}},
	{"blank-doubtful", func(e *diagnose.Evidence) { e.Facts.BlankShare = 0.51 }, func(e *diagnose.Evidence) { e.Facts.BlankShare = 0.5 }},
	{"instrument-differs", func(e *diagnose.Evidence) { e.Facts.Instrument.Tube = "Co" }, func(e *diagnose.Evidence) { e.Facts.Instrument.Tube = "Cu" }},
	{"instrument-differs", widths(0.7, 4, 50), widths(0.8, 4, 50)},
	{"instrument-differs", widths(0.5, 4, 50), widths(0.5, 3, 50)},
	{"instrument-differs", widths(0.5, 4, 50), widths(0.5, 4, 20)}, // faint ones say little of widths
	{"header-key", func(e *diagnose.Evidence) {
		e.Scan.About.Slips = []xrd.KeySlip{{Key: "radiaton", Like: "radiation", Line: 1}}
	}, func(*diagnose.Evidence) {}},
	// The footprint R δ/sin θ of 1° at 200 mm is 10 mm long at 41°, 28 mm at 14°: above the first peak, and below it.
	{"beam-overspill", stated(1, 9), stated(1, 28)},
	{"transmission", func(e *diagnose.Evidence) { e.Facts.Instrument.Geometry = xrd.Transmission }, func(*diagnose.Evidence) {}},
	{"no-candidates", searched(7, 7), searched(8, 7)},
	{"search-stopped", stoppedAfter(40), stoppedAfter(0)},
	{"not-explained", verdict(result.None, 0.3), verdict(result.Complete, 0.99)},
	{"partly-explained", verdict(result.Partial, 0.8), verdict(result.Complete, 0.99)},
	{"k-beta", image(peaks.KBeta, 0), image(peaks.KBeta, -1)},
	{"tungsten-line", image(peaks.WLine, 0), image(peaks.WLine, 99)},
	{"k-beta", image(peaks.KBeta, 0), beforeLine(peaks.KBeta, 44.5, 0)},       // a line of a phase makes up the peak
	{"tungsten-line", image(peaks.WLine, 0), beforeLine(peaks.WLine, 46, 26)}, // 24.9° is where its image would be
	{"tungsten-line", hides(0.25), beforeLine(peaks.WLine, 46, 26)},           // a peak that is stronger hides it
	{"tungsten-line", hides(0.25), hides(0.4)},                                // not at four widths
	{"k-beta", shared(20, 1, 1, 1), shared(55, 1, 1, 1)},                      // of 100: half is a line of its own
	{"k-beta", shared(20, 1.4, 0.6, 1), shared(35, 1.4, 0.6, 1)},              // where lines scatter by 33 %, a third
	{"tungsten-line", stronger(120, 0.1), stronger(80, 0.1)},                  // half of the 200 that it must have
	{"tungsten-line", stronger(120, 0.1), stronger(120, 1)},                   // a hump is no image
	{"preparation-artefact", left(35.66, 38.15), left(35.66)},
	{"preparation-artefact", left(35.66, 38.15), left(35.66, 38.15, 50, 51, 52)},
	{"preparation-artefact", left(35.66, 38.15), left(35.5, 38.4)},
	{"fit-not-converged", func(e *diagnose.Evidence) { e.Explanation.Fit.Status = leastsq.IterationLimit }, func(*diagnose.Evidence) {}},
	{"displaced", parameter(pattern.Displacement, -1, -0.11, 0.01), parameter(pattern.Displacement, -1, 0.09, 0.01)},
	{"displaced", parameter(pattern.Displacement, -1, 0.3, 0.05), parameter(pattern.Displacement, -1, 0.3, 0.11)},
	{"displaced", parameter(pattern.Displacement, -1, 0.3, 0.05), candidates(parameter(pattern.Displacement, -1, 0.3, 0.05))}, // a height by lines of candidates is none
	{"axis-doubtful", halved(result.None, 0.1), halved(result.Complete, 0.97)},
	{"axis-doubtful", halved(result.Partial, 0.45), halved(result.Partial, 0.55)},
	{"zero-displacement-correlated", correlated("zero", "displacement"), correlated("zero", "width")},
	{"unexplained-peaks", func(e *diagnose.Evidence) {
		e.Document.UnexplainedPeaks = []result.Unexplained{{TwoTheta: 30, D: 2.976, Significance: 8}}
	}, func(*diagnose.Evidence) {}},
	{"amorphous-halo", hump(8, 60), hump(8, 20)},          // of 100: a third is asked for
	{"amorphous-halo", hump(8, 60), hump(1, 60)},          // narrower ones are peaks
	{"amorphous-halo", underLines(100), underLines(2000)}, // lines of 2000 on average scatter 116 between them by thermal motion
	{"anchor-doubtful", func(e *diagnose.Evidence) {
		e.Decided.Anchor = &diagnose.FalseAnchor{Phase: refdata.Phase{ID: "Cu", Name: "Cu"}, Change: 0.01, U: 0.001}
	}, func(*diagnose.Evidence) {}},
	{"anchor-doubtful", anchored(result.Named), anchored(result.Established)},
	{"angle-anchor", anchored(result.Established), anchored(result.Named)},
	{"one-spacing", func(e *diagnose.Evidence) {
		e.Document.Explanation = &result.Explanation{Verdict: result.None, OneSpacing: &result.OneSpacing{Spacing: 15.35, Peaks: 8, Of: 9}}
	}, func(e *diagnose.Evidence) {
		e.Document.Explanation = &result.Explanation{Verdict: result.None}
	}},
	{"epitaxial", func(e *diagnose.Evidence) { e.Amounts.Planes = []*[3]int{{1, 1, 1}, nil} }, func(e *diagnose.Evidence) { e.Amounts.Planes = []*[3]int{nil, nil} }},
	{"fluorescence", composed("Fe", 0.5), composed("Zn", 0.5)},
	{"fluorescence", composed("Fe", 0.3), composed("Fe", 0.1)}, // of half of the specimen: 15 and 5 wt%, 10 matter
	{"not-infinite", thick(0.02), thick(0.2)},                  // 3.1 sin 50°/(445/cm) = 0.053 mm
	{"surface-deformed", strained("transverse", 0.9), strained("powder", 0.9)},
	{"surface-deformed", strained("transverse", 0.9), strained("transverse", 0.1)},
	{"limit-above-request", absent(2.1), absent(1.9)},
	{"many-named", func(e *diagnose.Evidence) { e.Facts.AskedFor = 178 }, func(*diagnose.Evidence) {}},
	{"watched-seen", func(e *diagnose.Evidence) {
		e.Decided.Watched = []diagnose.WatchedSeen{{Phase: refdata.Phase{ID: "Ag", Name: "silver"}, Significance: 6}}
	}, func(*diagnose.Evidence) {}},
	{"reference-strongest-out-of-range", strongest(8), strongest(4)}, // at 11° and at 22°; the scan begins at 20°
	{"undetermined", func(e *diagnose.Evidence) { e.Explanation.Fit.ZeroU[1] = math.Inf(1) }, func(*diagnose.Evidence) {}},
	{"undetermined", func(e *diagnose.Evidence) { e.Explanation.Fit.Undetermined = []string{"size of Cu"} }, func(*diagnose.Evidence) {}},
	{"undetermined", func(e *diagnose.Evidence) { e.Explanation.Fit.Knots = 4001 / 5 }, func(e *diagnose.Evidence) { e.Explanation.Fit.Knots = 4001/5 - 40 }},
	{"same-lines", func(e *diagnose.Evidence) {
		e.Decided.Twins = []diagnose.Twin{{Phase: refdata.Phase{ID: "cupronickel", Name: "cupronickel"}, Of: "Ni"}}
	}, func(e *diagnose.Evidence) {
		e.Decided.Twins = []diagnose.Twin{{Phase: refdata.Phase{ID: "cupronickel", Name: "cupronickel"}, Of: "Ag"}}
	}},
	{"same-lines", alike([2]int{0, 1}), alike([2]int{-1, -1})},
	{"same-lines", rivalled(28, 29), rivalled()},
	{"structure-atoms-without-place", func(e *diagnose.Evidence) {
		e.Explanation.Matches[0].Phase.Cautions = []xrd.Caution{{Code: "structure-atoms-without-place", Severity: xrd.SeverityCaution, Text: "Left out: H1."}}
	}, func(*diagnose.Evidence) {}},
	{"texture", textured(0.8, 0.02), textured(0.92, 0.02)},
	{"texture", textured(0.8, 0.049), textured(0.8, 0.051)}, // 4 σ
	{"texture", func(e *diagnose.Evidence) {
		e.Document.Phases[0].Sections = &result.Sections{Pole: [3]int{1, 1, 1}, R: 0.5, Lines: []result.SectionLine{{H: 1, K: 1, L: 1, Transverse: 3, Longitudinal: 0.3}}}
	}, func(*diagnose.Evidence) {}},
	{"coarse-grain", shown(1.4, 0.6, 1.3, 0.7, 1), shown(1.1, 0.9, 1.1, 0.9, 1)},
	{"angle-trend", trend(-0.8, 45, 55), func(*diagnose.Evidence) {}},
	{"angle-trend", trend(0.8, math.NaN(), math.NaN()), func(*diagnose.Evidence) {}},
	{"broad-feet", feet(quantify.Foot{Foot: pattern.Foot{Size: 5, Sigmas: 12}, Percent: 60}), feet(quantify.Foot{})},
	{"broad-feet", feet(quantify.Foot{Foot: pattern.Foot{Size: 5, Sigmas: 12}, Percent: math.NaN()}), func(*diagnose.Evidence) {}},
	{"few-lines", tentative(1, 1), tentative(1, 1, 1)},
	{"few-lines", tentative(1, 0, 1), func(e *diagnose.Evidence) { e.Explanation.Matches[0].Lines = lines(1, 0, 1) }},
	{"rir-missing", func(e *diagnose.Evidence) {
		e.Explanation.Fit.Setup.Phases[0].RIR.Value, e.Amounts.Answer.Withheld = 0, []int{0}
	}, func(e *diagnose.Evidence) { e.Amounts.Answer.Withheld = []int{0} }},
	{"mixed-rir", func(e *diagnose.Evidence) { e.Explanation.Fit.Setup.Phases[0].RIR.Origin = "measured" },
		func(e *diagnose.Evidence) {
			e.Explanation.Fit.Setup.Phases[0].RIR.Origin = quantify.CorrectedOrigin
		}},
	{"factors-elsewhere", func(e *diagnose.Evidence) {
		e.Document.Factors = &result.Factors{Differences: []string{"another slit"}}
	},
		func(e *diagnose.Evidence) { e.Document.Factors = &result.Factors{} }},
	{"factors-partial", func(e *diagnose.Evidence) { e.Document.Factors = &result.Factors{Without: []string{"Ni"}} },
		func(e *diagnose.Evidence) { e.Document.Factors = &result.Factors{} }},
	{"methods-disagree", checked(-2.9), checked(2.7)},
	{"methods-disagree", byStrongest(3.1), byStrongest(-2.7)},
	{"scans-disagree", repeated(0.009), repeated(0.011)},
	{"standard-missing", spiked(nil, ""), spiked(&quantify.Value{}, "")},
	{"standard-missing", spiked(nil, ""), spiked(nil, "60 % would be more than there is")}, // another caution says why
	{"halo-missing", func(e *diagnose.Evidence) { e.Amounts.NoHump = &diagnose.MissingHump{Percent: 40, Expected: 90} }, func(*diagnose.Evidence) {}},
	{"standard-contradicted", func(e *diagnose.Evidence) { e.Amounts.Impossible = "it would be 130 %" }, func(*diagnose.Evidence) {}},
	{"external-standard", func(e *diagnose.Evidence) {
		e.Facts.External, e.Amounts.Answer.Amorphous = &diagnose.StandardScan{}, nil
	}, func(*diagnose.Evidence) {}},
	{"external-standard", func(e *diagnose.Evidence) {
		e.Facts.External, e.Amounts.Constant = &diagnose.StandardScan{}, &quantify.External{K: 1000, U: 10}
	}, func(e *diagnose.Evidence) {
		e.Facts.External, e.Facts.Spike = &diagnose.StandardScan{}, &diagnose.StandardAdded{}
	}},
	{"chemistry-mismatch", measured("Cu", 45), measured("Cu", 48)}, // 50 ± 0.55 wt% from the phases, 3 % relative of the chemistry
	{"microabsorption", func(e *diagnose.Evidence) { e.Amounts.Grain = []float64{200, 0} }, func(e *diagnose.Evidence) { e.Amounts.Grain = []float64{2, 0} }},
	{"microabsorption", absorbing(1.5), absorbing(1.2)},
	{"microabsorption", func(e *diagnose.Evidence) {
		e.Amounts.Answer.Absorption, e.Amounts.Answer.Amorphous = quantify.Either, nil
	}, func(e *diagnose.Evidence) { // a phase alone is all of it in both limits
		e.Amounts.Answer.Absorption, e.Amounts.Answer.Amorphous, e.Amounts.Roles[1] = quantify.Either, nil, quantify.Preparation
	}},
	{"micrograph-disagrees", imaged(0.001), imaged(0.5)},
	{"preparation-artefact", counted(6), counted(30)},
	{"preparation-artefact", func(e *diagnose.Evidence) { e.Amounts.Roles[1] = quantify.Preparation }, func(*diagnose.Evidence) {}},
	{"sum-assumption", func(e *diagnose.Evidence) { e.Amounts.Answer.Amorphous = nil }, func(*diagnose.Evidence) {}},
	{"sum-assumption", func(e *diagnose.Evidence) { e.Amounts.Answer.Amorphous = nil }, func(e *diagnose.Evidence) {
		e.Amounts.Answer.Amorphous = nil
		for i := range e.Document.Phases {
			e.Document.Phases[i].WeightPercent = nil
		}
	}}, // without fractions nothing sums to 100
}

// feet puts a broader profile under the lines of the first phase.
func feet(foot quantify.Foot) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Amounts.Answer.Feet = []quantify.Foot{foot, {}} }
}

// trend lets the displacement parameters of both phases end beside those of their structures.
func trend(deltaB float64, percent ...float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Amounts.Answer.Trend = &quantify.Trend{CommonDeltaB: pattern.CommonDeltaB{Value: deltaB, U: 0.1}, Percent: percent}
	}
}

// stoppedAfter lets a search be stopped after a number of fits.
func stoppedAfter(fits int) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		out := *e.Explanation
		out.Stopped = fits
		e.Explanation = &out
	}
}

func TestChecks(t *testing.T) {
	said := map[string]bool{}
	for _, c := range checks {
		yes, no := sound(t), sound(t)
		c.yes(yes)
		c.hardy(no)
		found := raised(yes, c.code)
		assert.NotEmpty(t, found, c.code)
		assert.Empty(t, raised(no, c.code), c.code)
		for _, x := range found {
			said[c.code] = true
			assert.Contains(t, []xrd.Severity{xrd.SeverityNote, xrd.SeverityCaution, xrd.SeverityStop}, x.Severity, c.code)
			assert.Regexp(t, `[.]$`, x.Text, c.code)
			assert.NotContains(t, x.Text+x.Remedy, "NaN", c.code)
			assert.NotContains(t, x.Text+x.Remedy, "%!", c.code)
		}
	}
	// What needs a fit of its own to be raised is tested where there is one.
	elsewhere := []string{"slit-mode", "layered", "edge-step", "solid-solution", "reference-doubtful"}
	for _, c := range diagnose.Checks {
		for _, code := range c.Codes {
			assert.True(t, said[code] || slices.Contains(elsewhere, code), "no case of %s", code)
		}
	}
}

// TestSoundAnalysis: nothing is said of an analysis in which nothing is wrong, and checks that need more than there is are not asked.
func TestSoundAnalysis(t *testing.T) {
	assert.Empty(t, diagnose.Cautions(*sound(t)))
	e := sound(t)
	e.Explanation, e.Amounts, e.Document = nil, diagnose.Amounts{}, result.Document{}
	assert.Empty(t, diagnose.Cautions(*e), "peaks alone")
	e.Explanation = &identify.Explanation{Tried: 5}
	assert.Empty(t, diagnose.Cautions(*e), "nothing found")
}

// TestChecksChangeNothing: running the checks twice says the same, and the gravest come first.
func TestChecksChangeNothing(t *testing.T) {
	e := sound(t)
	for _, c := range checks {
		switch c.code {
		case "displaced", "texture", "fit-not-converged", "sum-assumption", "structure-atoms-without-place":
			c.yes(e)
		}
	}
	first := diagnose.Cautions(*e)
	assert.Equal(t, first, diagnose.Cautions(*e))
	rank := map[xrd.Severity]int{xrd.SeverityStop: 0, xrd.SeverityCaution: 1, xrd.SeverityNote: 2}
	assert.True(t, slices.IsSortedFunc(first, func(a, b xrd.Caution) int { return rank[a.Severity] - rank[b.Severity] }))
	assert.Greater(t, len(first), 4)
}

func stated(slit, length float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Instrument.Slit, e.Facts.Specimen.Length = xrd.Slit{Mode: xrd.SlitFixed, Value: slit}, length
		e.Found.Peaks[0].TwoTheta = 30
	}
}

// widths shows so many peaks of a share of the width of the instrument.
func widths(share float64, n int, significance float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Instrument = xrd.Instrument{Tube: "Cu", Radius: 200, GaussConst: 0.01}
		e.Found.Peaks = nil
		for i := range n {
			at := 30 + 10*float64(i)
			e.Found.Peaks = append(e.Found.Peaks, peaks.Peak{TwoTheta: at, FWHM: share * e.Facts.Instrument.FWHM(at), Significance: significance, Kind: peaks.KAlpha})
		}
	}
}

func searched(tried, watched int) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation = &identify.Explanation{Tried: tried, Watched: watched}
	}
}

func verdict(v result.Verdict, share float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Document.Explanation = &result.Explanation{Verdict: v, ExplainedShare: &share, LeftOverPeaks: []result.LeftOverPeak{{TwoTheta: 77}}}
	}
}

// halved shows the lines of corundum at θ in a scan of 20° to 100° of which a share is explained as 2θ.
func halved(v result.Verdict, share float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		verdict(v, share)(e)
		e.Found.Peaks = nil
		k := slices.IndexFunc(refdata.Starter(), func(r refdata.Record) bool { return r.ID == "corundum" })
		for _, l := range refdata.Starter()[k].Strong {
			theta := 180 / math.Pi * math.Asin(1.5405929/2/float64(l.D))
			e.Found.Peaks = append(e.Found.Peaks, peaks.Peak{TwoTheta: theta, Area: float64(l.Intensity), FWHM: 0.05, Kind: peaks.KAlpha})
		}
	}
}

func image(kind peaks.Kind, of int) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Found.Peaks[1].Kind, e.Found.Peaks[1].Of = kind, of }
}

// beforeLine is an image of the line at 43.3° beside a line of a phase at one angle and a peak that is twice as strong at another; 0 for none.
func beforeLine(kind peaks.Kind, line, stronger float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		image(kind, 0)(e)
		e.Explanation.Matches[0].Lines[0].TwoTheta, e.Explanation.Matches[0].Lines[0].Fitted = line, 60
		if stronger > 0 {
			e.Found.Peaks = append(e.Found.Peaks, peaks.Peak{TwoTheta: stronger, Area: 200, AreaU: 1, FWHM: 0.1, Kind: peaks.KAlpha})
		}
	}
}

// hides puts a strong peak beside the place of the image of a stronger line, so many degrees off.
func hides(off float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		beforeLine(peaks.WLine, 46, 26)(e)
		at, _ := xrd.ImageTwoTheta(26, e.Facts.Radiation.KAlpha1, xrd.WLAlpha)
		e.Found.Peaks = append(e.Found.Peaks, peaks.Peak{TwoTheta: at + off, Area: 500, AreaU: 1, FWHM: 0.1, Kind: peaks.KBeta, Of: -1})
	}
}

// shared puts a line of a fitted intensity under a peak that may be an image; its phase has other lines with ratios of observed over fitted.
func shared(fitted float64, ratios ...float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		image(peaks.KBeta, 0)(e)
		l := lines(ratios...)
		e.Explanation.Matches[0].Lines = append(l, pattern.LineFit{TwoTheta: 44.5, FWHM: 0.1, Covered: true, Fitted: fitted})
	}
}

// stronger puts a peak of an area and a width where W Lα of a line lies that is twice as strong as that of an image.
func stronger(area, width float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		beforeLine(peaks.WLine, 46, 26)(e)
		at, _ := xrd.ImageTwoTheta(26, e.Facts.Radiation.KAlpha1, xrd.WLAlpha)
		e.Found.Peaks = append(e.Found.Peaks, peaks.Peak{TwoTheta: at, Area: area, AreaU: 1, FWHM: width, Kind: peaks.KBeta, Of: -1})
	}
}

// left leaves peaks where no phase has a line, beside a phase whose lines hide the others of silicon carbide.
func left(at ...float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Matches[0].Lines = append(e.Explanation.Matches[0].Lines, lines(1, 1, 1, 1, 1)...)
		e.Found.Width = peaks.WidthCurve{Least: 0.1, Most: 0.1}
		for k, x := range []float64{34.1, 41.4, 60.0, 65.6, 71.75} {
			e.Explanation.Matches[0].Lines[5+k].TwoTheta = x
		}
		for _, x := range at {
			e.Document.UnexplainedPeaks = append(e.Document.UnexplainedPeaks, result.Unexplained{TwoTheta: x, Significance: 9})
		}
	}
}

func parameter(kind pattern.Kind, phase int, value, u float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		for i, p := range e.Explanation.Fit.Parameters {
			if p.Kind == kind && p.Phase == phase {
				p.Value, p.U, p.Free = value, u, true
				e.Explanation.Fit.Parameters[i] = p
				return
			}
		}
		e.Explanation.Fit.Parameters = append(e.Explanation.Fit.Parameters, pattern.Parameter{Kind: kind, Phase: phase, Value: value, U: u, Free: true})
	}
}

func correlated(a, b string) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Fit.Correlated = []pattern.Correlation{{A: a, B: b, Rho: 0.99, Scales: [2]int{-1, -1}}}
	}
}

func alike(scales [2]int) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Fit.Correlated = []pattern.Correlation{{A: "scale of Cu", B: "scale of Ni", Rho: -0.97, Scales: scales}}
	}
}

// hump adds one of a width, degrees, and a height to the flat background.
func hump(width, height float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		f := e.Explanation.Fit
		f.Background = slices.Clone(f.Background)
		for i, x := range f.Setup.TwoTheta {
			d := (x - 30) / width
			f.Background[i] += height * math.Exp(-4*math.Ln2*d*d)
		}
		f.Fitted = f.Background
	}
}

// underLines is a hump of 60 under lines of a mean intensity.
func underLines(intensity float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		hump(8, 60)(e)
		f := e.Explanation.Fit
		f.Setup.Radiation.KAlpha1, f.Setup.Phases[0].MeanB = 1.5406, 1
		f.Curves = nil
		for p := range f.Setup.Phases {
			curve := make([]float64, len(f.Setup.TwoTheta))
			if p == 0 {
				floats.AddConst(intensity, curve)
			}
			f.Curves = append(f.Curves, curve)
		}
	}
}

func anchored(level result.Evidence) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Fit.Setup.Anchor, e.Explanation.Matches[0].Evidence = "Cu", level
	}
}

func composed(symbol string, share float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Explanation.Fit.Setup.Phases[0].Composition = []refdata.ElementShare{{Symbol: symbol, MassFraction: share}}
	}
}

func thick(mm float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Thickness, e.Facts.Specimen.Section, e.Amounts.Answer.MeanMu = mm, "transverse", 445
	}
}

// strained is a section whose lines are broadened by strain, degrees in tan θ.
func strained(section string, degrees float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Specimen.Section, e.Facts.Instrument.Calibrated = section, true
		parameter(pattern.Strain, 0, degrees, 0.01)(e)
	}
}

func absent(wt float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Document.NotDetected = []result.NotDetected{{ID: "Ag", Name: "silver", DetectionLimit: limit(wt), Asked: true},
			{ID: "Au", Name: "gold", DetectionLimit: limit(9), Asked: false}}
	}
}

func strongest(d float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Explanation.Matches[0].Phase.Lines[0].D = d }
}

func textured(r, u float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Document.Phases[0].Texture = []result.Texture{{Pole: [3]int{1, 1, 1}, R: r, RU: u}}
	}
}

func shown(ratios ...float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Explanation.Matches[0].Lines = lines(ratios...) }
}

func tentative(ratios ...float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		shown(ratios...)(e)
		e.Explanation.Matches[0].Evidence = result.Tentative
	}
}

func checked(sigmas float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Amounts.Checks = []quantify.LineCheck{{Lines: 3, Sigmas: sigmas, Multi: quantify.Value{Percent: 60}}, {}}
	}
}

func byStrongest(sigmas float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Amounts.Checks = []quantify.LineCheck{{Lines: 3, SingleSigmas: sigmas, Multi: quantify.Value{Percent: 60}, Single: quantify.Value{Percent: 75}}, {}}
	}
}

// counted is a phase that preparation may have left, of so many wt%, as the specimen's own.
func counted(percent float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Amounts.Counted = []bool{false, true}
		e.Amounts.Answer.Fractions[1].Weight.Percent, e.Explanation.Fit.Setup.Phases[1].Preparation = percent, "Left by grinding."
	}
}

// candidates takes away what is sure of the names.
func candidates(change func(*diagnose.Evidence)) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		change(e)
		for i := range e.Explanation.Matches {
			e.Explanation.Matches[i].Evidence = result.Tentative
		}
	}
}

func repeated(p float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Amounts.Answer.Repeats = &quantify.Repeats{Scans: 3, P: p} }
}

// Scans whose amounts differ by more than half are hardly of one specimen, and grains beyond any correction give no fractions.
func TestWhatCannotBeStops(t *testing.T) {
	severity := func(e *diagnose.Evidence, code string) xrd.Severity {
		c := raised(e, code)
		require.Len(t, c, 1)
		return c[0].Severity
	}
	for between, want := range map[float64]xrd.Severity{0.49: xrd.SeverityCaution, 0.51: xrd.SeverityStop} {
		e := sound(t)
		repeated(1e-9)(e)
		e.Amounts.Answer.Repeats.Between = between
		assert.Equal(t, want, severity(e, "scans-disagree"), between)
	}
	e := sound(t)
	e.Amounts.Grain = []float64{200, 0}
	assert.Equal(t, xrd.SeverityStop, severity(e, "microabsorption"))
}

func spiked(amorphous *quantify.Value, impossible string) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Spike = &diagnose.StandardAdded{ID: "zincite", WeightPercent: 20}
		e.Amounts.Answer.Amorphous, e.Amounts.Impossible = amorphous, impossible
	}
}

func measured(symbol string, wt float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Facts.Composition = []diagnose.ElementAmount{{Symbol: symbol, WeightPercent: wt}}
	}
}

func absorbing(ratio float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) { e.Amounts.Answer.Fractions[0].MuRatio = ratio }
}

func imaged(p float64) func(*diagnose.Evidence) {
	return func(e *diagnose.Evidence) {
		e.Amounts.Areas = []quantify.Area{{Phase: 0, Percent: 60, U: 1}, {Phase: 1, Percent: 40, U: 1}}
		e.Amounts.Image = &quantify.Micrograph{VolumeU: []float64{1, 1}, Z: []float64{-7, 7}, ChiSquare: 49, Freedom: 1, P: p}
	}
}
