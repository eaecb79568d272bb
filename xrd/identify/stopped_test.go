package identify

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// TestSearchIsStoppedByWork: a search that has taken its work ends at the same fit whatever runs beside, says so, and is sure of nothing: no
// name is established, and what may be complete is not said to be. One that comes to its own end is not touched.
func TestSearchIsStoppedByWork(t *testing.T) {
	job := specimen{parts: []part{{"rutile", 170, 0}, {"zincite", 240, 0}, {"corundum", 48, 0}}, seed: 3}.job(t, library.Starter())
	whole := run(t, job)
	require.Zero(t, whole.Stopped)
	require.Equal(t, result.Complete, whole.Coverage.Verdict)
	for _, level := range evidenceLevels(whole) {
		assert.Equal(t, result.Established, level)
	}

	job.Work = whole.Fit.Work / 2 // less than the last fit takes
	var told []string
	job.Progress = func(p result.Progress) { told = append(told, p.Doing) }
	out := run(t, job)
	require.Positive(t, out.Stopped)
	assert.NotEqual(t, result.Complete, out.Coverage.Verdict)
	assert.Contains(t, strings.Join(told, "\n"), "stopping the search after")
	for _, m := range out.Matches {
		assert.NotEqual(t, result.Established, m.Evidence, m.Phase.ID)
		assert.Contains(t, reasonCodes(m), "search-stopped")
	}
	job.Workers = 1
	job.Progress = nil
	again := run(t, job)
	assert.Equal(t, out.Stopped, again.Stopped)
	assert.Equal(t, out.Fit.Scales, again.Fit.Scales)

	job.Work = 1e3 * whole.Fit.Work
	assert.Zero(t, run(t, job).Stopped)
}

// TestStoppedWithMuchLeft: what was never tried may take the lines of a match together with what is left.
func TestStoppedWithMuchLeft(t *testing.T) {
	out := run(t, specimen{parts: []part{{"rutile", 170, 0}, {"zincite", 240, 0}, {"corundum", 48, 0}}, seed: 3}.job(t, library.Starter()))
	level := func(stopped bool, share float64) result.Evidence {
		s := &search{fit: out.Fit, matches: slices.Clone(out.Matches), found: out.found, threshold: out.Threshold}
		m := &s.matches[0]
		w := whole{threshold: out.Threshold, coverage: Coverage{Share: share, Verdict: result.Partial}, stopped: stopped}
		return w.evidenceLevel(s.look(0, m), m)
	}
	assert.Equal(t, result.Established, level(false, 0.85))
	assert.Equal(t, result.Probable, level(true, 0.95))
	assert.Equal(t, result.Tentative, level(true, 0.85))
}

// TestAllowance: a full fit may take what is left of the work of a search, and when that is little, enough to come to an end.
func TestAllowance(t *testing.T) {
	s := search{job: Job{Work: 100}}
	for work, want := range map[float64]float64{0: 100, 30: 70, 75: 25, 99: 25, 500: 25} {
		s.work = work
		assert.Equal(t, want, s.allowance(), work)
	}
	s = search{}
	assert.Equal(t, policy.Effort.Work, s.allowance())
}

func reasonCodes(m Match) (codes []string) {
	for _, r := range m.Reasons {
		codes = append(codes, r.Code)
	}
	return codes
}
