package diagnose

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// told returns the codes of cautions above a note, and those of notes.
func told(list []xrd.Caution) (grave, notes []string) {
	for _, c := range list {
		if c.Severity == xrd.SeverityNote {
			notes = append(notes, c.Code)
		} else {
			grave = append(grave, c.Code)
		}
	}
	return grave, notes
}

// withAlpha2 gives an analysis a copper tube, whose Kα2 of a line at 40° lies at 40.10°.
func withAlpha2(e Evidence) Evidence {
	e.Facts.Radiation, _ = xrd.ParseRadiation("Cu")
	return e
}

// uncovered leaves the points of all lines out.
func uncovered(e Evidence) Evidence {
	e.Explanation = &identify.Explanation{Matches: []identify.Match{{Lines: []pattern.LineFit{{TwoTheta: 40, FWHM: 0.2}}}}}
	return e
}

// One fault is one caution: what follows from it is a note, or nothing where it rests on what is wrong. What does not follow stays.
func TestConsequences(t *testing.T) {
	matches := []identify.Match{{Lines: []pattern.LineFit{{TwoTheta: 40, FWHM: 0.2, Covered: true}}}}
	evidence := func(verdict result.Verdict, at ...float64) Evidence {
		x := &result.Explanation{Verdict: verdict}
		for _, a := range at {
			x.LeftOverPeaks = append(x.LeftOverPeaks, result.LeftOverPeak{TwoTheta: a})
		}
		return Evidence{Explanation: &identify.Explanation{Matches: matches}, Document: result.Document{Explanation: x}}
	}
	smoothed := evidence(result.Complete)
	smoothed.Found = peaks.Found{Noise: peaks.NoiseModel{Correlation: 0.9}}
	doubted := evidence(result.Partial, 40.05)
	doubted.Document.Explanation.DoubtedPhases = []string{"a"}
	caution, stop := xrd.SeverityCaution, xrd.SeverityStop
	for _, c := range []struct {
		name         string
		e            Evidence
		codes        []string
		first        xrd.Severity
		grave, notes []string
	}{
		{"nothing follows", evidence(result.Complete), []string{"texture", "displaced"}, caution, []string{"texture", "displaced"}, nil},
		{"another tube", evidence(result.None, 40), []string{"radiation-doubtful", "not-explained", "texture", "amorphous-halo"}, stop, []string{"radiation-doubtful", "not-explained"}, nil},
		{"a tube that is only doubted", evidence(result.Complete), []string{"radiation-doubtful", "texture"}, caution, []string{"radiation-doubtful", "texture"}, nil},
		{"coarse steps", evidence(result.Complete), []string{"step-too-coarse", "not-counts"}, caution, []string{"step-too-coarse"}, []string{"not-counts"}},
		{"coarse steps, smoothed", smoothed, []string{"step-too-coarse", "not-counts"}, caution, []string{"step-too-coarse", "not-counts"}, nil},
		{"few grains, left on a line", evidence(result.Partial, 40.05), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain"}, []string{"partly-explained"}},
		{"few grains, left beside it", evidence(result.Partial, 40.05, 40.3), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
		{"few grains, left on the Kα2 of a line", withAlpha2(evidence(result.Partial, 40.16)), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain"}, []string{"partly-explained"}},
		{"saturated, left on a clipped line", uncovered(evidence(result.Partial, 40.05)), []string{"saturation", "unexplained-peaks"}, caution, []string{"saturation"}, []string{"unexplained-peaks"}},
		{"saturated, left beside it", uncovered(evidence(result.Partial, 40.3)), []string{"saturation", "unexplained-peaks"}, caution, []string{"saturation", "unexplained-peaks"}, nil},
		{"few grains, left on a clipped line", uncovered(evidence(result.Partial, 40.05)), []string{"coarse-grain", "unexplained-peaks"}, caution, []string{"coarse-grain", "unexplained-peaks"}, nil},
		{"few grains, left beside Kα2", withAlpha2(evidence(result.Partial, 39.84)), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
		{"another tube, explained in part", evidence(result.Partial, 40), []string{"radiation-doubtful", "partly-explained", "alpha2-missing", "k-beta", "tungsten-line", "epitaxial"}, stop, []string{"radiation-doubtful"}, nil},
		{"few grains, nothing explained", evidence(result.None, 40.05), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
		{"few grains, a name in doubt", doubted, []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
		{"a layer, nothing left", evidence(result.Partial), []string{"layered", "partly-explained", "coarse-grain"}, caution, []string{"layered"}, []string{"partly-explained", "coarse-grain"}},
		{"a layer, a peak left", evidence(result.Partial, 40.05), []string{"layered", "partly-explained"}, caution, []string{"layered", "partly-explained"}, nil},
		{"candidates", evidence(result.None, 40), []string{"not-explained", "texture", "solid-solution", "amorphous-halo"}, stop, []string{"not-explained", "amorphous-halo"}, nil},
		{"texture moves single lines", evidence(result.Complete), []string{"texture", "methods-disagree"}, caution, []string{"texture"}, []string{"methods-disagree"}},
		{"few counts", evidence(result.Partial), []string{"counts-too-low", "few-lines", "partly-explained"}, caution, []string{"counts-too-low"}, []string{"few-lines", "partly-explained"}},
		{"few counts, a peak left", evidence(result.Partial, 40.3), []string{"counts-too-low", "few-lines", "partly-explained"}, caution, []string{"counts-too-low", "partly-explained"}, []string{"few-lines"}},
		{"saturated", evidence(result.Complete), []string{"saturation", "step-too-coarse"}, caution, []string{"saturation"}, []string{"step-too-coarse"}},
	} {
		var list []xrd.Caution
		for i, code := range c.codes {
			s := caution
			if i == 0 {
				s = c.first
			}
			list = append(list, xrd.Caution{Code: code, Severity: s, Text: "Something."})
		}
		got := consequences(c.e, list)
		grave, notes := told(got)
		assert.Equal(t, c.grave, grave, c.name)
		assert.Equal(t, c.notes, notes, c.name)
		for _, x := range got {
			if x.Severity == xrd.SeverityNote {
				assert.Regexp(t, "It (follows|may follow) from another caution: ("+strings.Join(c.codes, "|")+")[.]$", x.Text, c.name)
			}
		}
	}
}

// Of copper (a = 3.615 Å) 400 has d = 0.90375 Å: Kα1 at 116.9°, Kβ at 100.7° by Bragg's law. Beyond a scan to 105° its Kβ image is
// explained as such, unless it is strong, lies elsewhere, or its parent would be in the scan.
func TestKBetaBeyondTheScan(t *testing.T) {
	scan := func(hi float64) xrd.Scan {
		var x, y []float64
		for a := 20.0; a <= hi; a++ {
			x, y = append(x, a), append(y, 1)
		}
		s, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
		assert.NoError(t, err)
		return s
	}
	r, err := xrd.ParseRadiation("Cu")
	assert.NoError(t, err)
	copper := refdata.Phase{System: refdata.Cubic, Cell: &refdata.Cell{A: 3.615, B: 3.615, C: 3.615, Alpha: 90, Beta: 90, Gamma: 90}}
	at := func(hi, left, area float64, phase refdata.Phase) bool {
		e := Evidence{Facts: Facts{Radiation: r}, Scan: scan(hi), Explanation: &identify.Explanation{Matches: []identify.Match{{Phase: phase}}},
			Found:    peaks.Found{Peaks: []peaks.Peak{{TwoTheta: 43.3, Area: 100, FWHM: 0.1}, {TwoTheta: left, Area: area, FWHM: 0.1}}},
			Document: result.Document{Explanation: &result.Explanation{Verdict: result.Partial, LeftOverPeaks: []result.LeftOverPeak{{TwoTheta: left}}}}}
		list := []xrd.Caution{{Code: "k-beta", Severity: xrd.SeverityNote}, {Code: "partly-explained", Severity: xrd.SeverityCaution}}
		grave, _ := told(consequences(e, list))
		return len(grave) == 0
	}
	assert.True(t, at(105, 100.77, 1, copper))
	assert.False(t, at(105, 100.77, 8, copper), "too strong")
	assert.False(t, at(105, 100.2, 1, copper), "no line there")
	assert.False(t, at(120, 100.77, 1, copper), "its parent would be seen")
	low := copper
	low.System = refdata.Monoclinic
	assert.False(t, at(105, 100.77, 1, low), "there is always a line")
}

// Every code of a cause is one that some check, or the search for peaks, raises.
func TestCausesNameCautions(t *testing.T) {
	known := []string{"not-counts", "step-too-coarse", "saturation", "amorphous-halo", "range-too-short", "alpha2-missing", "counts-too-low"} // of the search for peaks
	for _, c := range Checks {
		known = append(known, c.Codes...)
	}
	for _, c := range causes {
		for _, code := range append([]string{c.code}, c.explains...) {
			assert.True(t, slices.Contains(known, code), code)
		}
	}
}

// What a missing phase may do to others is no more than what it leaves in peaks of its own: 100 and 60 % of 50 here, which is 130.
// A texture that moves more, and a name that accounts for more, are told as what they are.
func TestWhatAMissingPhaseMayDo(t *testing.T) {
	about := func(code string) xrd.Caution {
		return xrd.Caution{Code: code, Severity: xrd.SeverityCaution, Text: "Something.", Evidence: map[string]any{"phase": "a"}}
	}
	grave := func(cause string, c xrd.Caution, lines ...pattern.LineFit) bool {
		e := Evidence{Explanation: &identify.Explanation{Matches: []identify.Match{{Phase: refdata.Phase{ID: "a"}, Lines: lines}}},
			Found: peaks.Found{Peaks: []peaks.Peak{{TwoTheta: 30, Area: 100, FWHM: 0.1}, {TwoTheta: 50, Area: 50, FWHM: 0.1}, {TwoTheta: 60, Area: 900, FWHM: 0.1}}},
			Document: result.Document{Explanation: &result.Explanation{Verdict: result.Partial,
				LeftOverPeaks: []result.LeftOverPeak{{TwoTheta: 30.02, Share: 1}, {TwoTheta: 50, Share: 0.6}}}}}
		list, _ := told(consequences(e, []xrd.Caution{{Code: cause, Severity: xrd.SeverityCaution}, c}))
		return slices.Contains(list, c.Code)
	}
	line := func(expected, fitted float64) pattern.LineFit {
		return pattern.LineFit{Expected: expected, Fitted: fitted, Covered: true}
	}
	const cause = "partly-explained"
	assert.False(t, grave(cause, about("texture"), line(1000, 1120), line(500, 400)))
	assert.True(t, grave(cause, about("texture"), line(1000, 1140), line(500, 400)))
	assert.True(t, grave(cause, about("texture"), line(1000, 1100), line(500, 360)))
	for _, code := range []string{"few-lines", "solid-solution", "preparation-artefact"} {
		assert.False(t, grave(cause, about(code), line(80, 80), line(40, 40)), code)
		assert.True(t, grave(cause, about(code), line(90, 90), line(50, 50)), code)
		assert.True(t, grave(cause, about(code)), "%s of nothing that is known", code)
	}
	assert.True(t, grave("same-lines", about("texture"), line(1000, 1000)), "nothing is missing")
	assert.False(t, grave(cause, about("coarse-grain"), line(80, 80)))
	assert.True(t, grave(cause, about("coarse-grain"), line(180, 180)))
	on := line(80, 80)
	on.TwoTheta, on.FWHM = 30, 0.5
	also := on
	also.TwoTheta, also.Fitted = 50, 20
	assert.True(t, grave(cause, about("coarse-grain"), on, also), "what is left are its own lines: it is the cause")
}

// A trend of intensities may come from lines that scatter; what was stated of slit and specimen does not.
func TestTrendsOfLinesThatScatter(t *testing.T) {
	for _, code := range []string{"beam-overspill", "slit-mode"} {
		for evidence, want := range map[string]int{"slope": 1, "full_above_two_theta": 2} {
			grave, _ := told(consequences(Evidence{}, []xrd.Caution{{Code: "coarse-grain", Severity: xrd.SeverityCaution},
				{Code: code, Severity: xrd.SeverityCaution, Evidence: map[string]any{evidence: 0.5}}}))
			assert.Len(t, grave, want, code+evidence)
		}
	}
}
