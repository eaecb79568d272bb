package session_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/session"
)

// loads the demo scan with the phases of a list, whatever the arguments say.
func loads(t testing.TB, phases ...string) session.Loader {
	f, err := os.Open("../../testdata/bushing-aged.xy")
	require.NoError(t, err)
	defer f.Close()
	scan, err := scanfile.Read(f, "bushing-aged.xy")
	require.NoError(t, err)
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return func(context.Context, []string) (analysis.Job, error) {
		return analysis.Job{Measurement: analysis.Measurement{Scan: scan, File: "bushing-aged.xy"}, Setting: analysis.Setting{Radiation: cu},
			Search: analysis.Search{Collection: library.Starter(), Phases: phases}}, nil
	}
}

// The demo scan without its cuprite: at the place of its strongest line, 36.4°, it is the first candidate; every strong line of it
// has a peak, and the curve goes through what is left of the peak.
func TestCandidatesAtAPeak(t *testing.T) {
	a, err := session.Solve(t.Context(), loads(t, "bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon"), []string{"analyse", "bushing-aged.xy"}, nil)
	require.NoError(t, err)
	list, err := a.Candidates(t.Context(), 36.4)
	require.NoError(t, err)
	require.NotEmpty(t, list)
	first := list[0]
	assert.Equal(t, "cuprite", first.ID, "the phase with which the scan was simulated (testdata/truth.csv)")
	assert.Greater(t, first.Significance, 10.0)
	assert.Equal(t, first.Expected, first.Seen)
	assert.Contains(t, first.Decide, "every strong line of it has a peak")
	require.Len(t, first.Curve, len(a.Curves.TwoTheta))
	peak, at := 0.0, 0
	for i, v := range first.Curve {
		if v > peak {
			peak, at = v, i
		}
	}
	assert.InDelta(t, 36.43, a.Curves.TwoTheta[at], 0.1)
	left := a.Curves.Observed[at] - a.Curves.Calculated[at]
	assert.Greater(t, peak, left/2, "half of what is left: the phases of the fit have bent to take some")
	assert.Less(t, peak, 1.2*left)
	strongest, err := a.Candidates(t.Context(), 42.48) // the strongest line of the bronze
	require.NoError(t, err)
	require.NotEmpty(t, strongest)
	for _, c := range append(list, strongest...) {
		assert.NotContains(t, []string{"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon"}, c.ID, "phases of the answer are no candidates")
		assert.False(t, math.IsNaN(c.Significance))
		assert.LessOrEqual(t, c.Seen, c.Expected)
	}
	alone, err := a.Candidate(t.Context(), "cuprite")
	require.NoError(t, err)
	assert.Equal(t, first.Significance, alone.Significance)
	_, err = a.Candidate(t.Context(), "no-such-phase")
	assert.ErrorIs(t, err, analysis.ErrUnknownPhase)
}

// A phase whose strongest line has no peak is said to lack it: silicon in the bronze (111 at 28.4° with Cu Kα, from memory).
func TestMissingLinesAreTold(t *testing.T) {
	a, err := session.Solve(t.Context(), loads(t, "bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite"), []string{"analyse", "x"}, nil)
	require.NoError(t, err)
	c, err := a.Candidate(t.Context(), "silicon")
	require.NoError(t, err)
	assert.Less(t, c.Seen, c.Expected)
	assert.Contains(t, c.Decide, "should be there and is not seen")
	assert.Contains(t, c.Decide, "an analysis for Si")
}

func TestFindInTheCollection(t *testing.T) {
	a, err := session.Solve(t.Context(), loads(t, "bronze-alpha"), []string{"analyse", "x"}, nil)
	require.NoError(t, err)
	ids := func(words string, elements ...string) (out []string) {
		list, _ := a.Find(words, elements, 50)
		for _, r := range list {
			out = append(out, r.ID)
		}
		return out
	}
	assert.Contains(t, ids("cuprite"), "cuprite", "an id")
	assert.Contains(t, ids("Cu2O"), "cuprite", "a formula")
	assert.Equal(t, "cuprite", ids("copper(I) oxide")[0], "a synonym")
	assert.Empty(t, ids("nothing is called so"))
	only := ids("", "Cu", "O")
	assert.Contains(t, only, "cuprite")
	assert.NotContains(t, only, "cu6sn5-eta")
	list, more := a.Find("", nil, 3)
	assert.Len(t, list, 3)
	assert.True(t, more)
}

func TestSolveStopsAndFails(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := session.Solve(ctx, loads(t, "bronze-alpha"), []string{"analyse", "x"}, nil)
	assert.ErrorIs(t, err, context.Canceled)
	broken := errors.New("no such file")
	_, err = session.Solve(t.Context(), func(context.Context, []string) (analysis.Job, error) { return analysis.Job{}, broken }, nil, nil)
	assert.ErrorIs(t, err, broken)
}

func TestFoundLeavesOutTheStandard(t *testing.T) {
	load := loads(t, "bronze-alpha", "cu6sn5-eta")
	a, err := session.Solve(t.Context(), func(ctx context.Context, args []string) (analysis.Job, error) {
		j, err := load(ctx, args)
		j.Spike = &analysis.Spike{ID: "cu6sn5-eta", WeightPercent: 15}
		return j, err
	}, []string{"analyse", "x"}, nil)
	require.NoError(t, err)
	assert.Equal(t, []session.Phase{{ID: "bronze-alpha", On: true}}, a.Found())
	assert.Equal(t, []string{"one"}, a.Finish([]string{"one"}).Document.Choices)
	assert.Nil(t, a.Document.Choices, "the answer itself does not change")
}

// encoded is the document of an answer as it is written.
func encoded(t *testing.T, a *session.Answer) []byte {
	t.Helper()
	text, err := json.Marshal(a.Document)
	require.NoError(t, err)
	return text
}

// Whoever waits is told what is being tried: the peaks first, then the phases, then the fractions; a search names its candidates, and what
// explains the scan so far. The answer is the same to the last byte when nobody listens.
func TestProgressIsTold(t *testing.T) {
	var heard []result.Progress
	tell := func(phases ...string) (told []string) {
		heard = nil
		listen := func(p result.Progress) {
			heard, told = append(heard, p), append(told, p.Doing)
		}
		a, err := session.Solve(t.Context(), loads(t, phases...), []string{"analyse", "x"}, listen)
		require.NoError(t, err)
		alone, err := session.Solve(t.Context(), loads(t, phases...), []string{"analyse", "x"}, nil)
		require.NoError(t, err)
		assert.Equal(t, string(encoded(t, alone)), string(encoded(t, a)))
		return told
	}
	named := tell("bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite")
	assert.Equal(t, []string{"finding peaks", "fitting 4 phases", "working out the fractions"}, named)
	assert.Contains(t, tell("bronze-alpha"), "asking whether the tube was Co", "it explains the scan badly")
	searched := tell()
	assert.Regexp(t, `^looking for phases among \d+$`, searched[1])
	assert.True(t, slices.ContainsFunc(searched, func(s string) bool { return strings.Contains(s, "bronze") && strings.HasPrefix(s, "trying ") }), searched)
	first := slices.IndexFunc(heard, func(p result.Progress) bool { return len(p.Found) > 0 })
	require.Positive(t, first)
	assert.Less(t, first, len(heard)/2, "long before the end")
	assert.Len(t, heard[first].Found, 1)
	assert.Contains(t, heard[first].Found[0], "bronze")
	assert.Greater(t, heard[first].Share, 0.3)
	end := heard[len(heard)-1]
	assert.Greater(t, len(end.Found), 1)
	assert.Greater(t, end.Share, heard[first].Share)
	assert.Equal(t, "working out the fractions", searched[len(searched)-1])
}
