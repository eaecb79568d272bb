package analysis

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// TestStart: a fit that came to an end is a start, with what firm phases say only, and for scans of the same tube only.
func TestStart(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	assert.NoError(t, err)
	s := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
	for at := 25.0; at < 55; at += 0.02 {
		s.TwoTheta, s.Intensity, s.Sigma = append(s.TwoTheta, at), append(s.Intensity, 20), append(s.Sigma, 4.5)
	}
	for _, id := range []string{"firm", "faint"} {
		s.Phases = append(s.Phases, refdata.Phase{ID: id, Lines: []refdata.Line{{D: 3.1 - 0.1*float64(len(id)), Intensity: 100}}})
	}
	s.Poles = [][][3]int{{{0, 0, 1}}, {{1, 0, 0}}}
	fit, err := pattern.Run(t.Context(), s, pattern.Quick)
	assert.NoError(t, err)
	identified := &identify.Explanation{Fit: fit, Matches: []identify.Match{
		{Phase: s.Phases[0], Significance: firmStart}, {Phase: s.Phases[1], Significance: firmStart - 1}}}
	fit.Status = leastsq.IterationLimit
	assert.Nil(t, startOf(cu, identified))
	fit.Status = leastsq.Converged
	begin := startOf(cu, identified)
	ids := map[string]int{}
	for k := range begin.values {
		ids[k.ID]++
	}
	assert.Positive(t, ids[""], "the instrument")
	assert.Positive(t, ids["firm"])
	assert.Zero(t, ids["faint"])

	set := pattern.Setup{Radiation: cu, Phases: []refdata.Phase{s.Phases[1], s.Phases[0]}}
	begin.apply(&set)
	assert.Equal(t, [][][3]int{nil, {{0, 0, 1}}}, set.Poles)
	assert.Equal(t, pattern.LikeFit, set.Start.From)
	for _, other := range []*Start{nil, {radiation: xrd.Radiation{Name: "Co"}}} {
		set := pattern.Setup{Radiation: cu}
		other.apply(&set)
		assert.Equal(t, pattern.Guess, set.Start.From)
	}
}
