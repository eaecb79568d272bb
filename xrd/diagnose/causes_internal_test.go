package diagnose

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/peaks"
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
		{"few grains, nothing explained", evidence(result.None, 40.05), []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
		{"few grains, a name in doubt", doubted, []string{"coarse-grain", "partly-explained"}, caution, []string{"coarse-grain", "partly-explained"}, nil},
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
				assert.Contains(t, x.Text, "It follows from another caution: "+c.codes[0], c.name)
			}
		}
	}
}

// Every code of a cause is one that some check, or the search for peaks, raises.
func TestCausesNameCautions(t *testing.T) {
	known := []string{"not-counts", "step-too-coarse", "saturation", "amorphous-halo"} // of the search for peaks
	for _, c := range Checks {
		known = append(known, c.Codes...)
	}
	for _, c := range causes {
		for _, code := range append([]string{c.code}, c.explains...) {
			assert.True(t, slices.Contains(known, code), code)
		}
	}
}
