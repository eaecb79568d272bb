package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// A phase that takes the place of one that is not in the reference data is never sure, and the explanation is not complete, although no
// peak is left: its cell is not its own, or its peaks are no more than chance and a cell give.
func TestStandInsLeaveTheWholePartial(t *testing.T) {
	type row struct {
		missing []string
		parts   []part
	}
	for seed, c := range xrdtest.Some(t, []row{
		{[]string{"gold", "silver"}, []part{{"gold", 300, 0}, {"corundum", 200, 0}}},
		{[]string{"nickel"}, []part{{"nickel", 300, 0}, {"calcite", 200, 0}}},
		{[]string{"silicon"}, []part{{"silicon", 300, 0}, {"rutile", 200, 0}}},
		{[]string{"niobium", "tantalum"}, []part{{"niobium", 300, 0}, {"periclase", 200, 0}}},
	}, 2) {
		job := specimen{parts: c.parts, seed: uint64(300 + seed)}.job(t, library.Starter())
		out := run(t, job)
		assert.Equal(t, result.Complete, out.Coverage.Verdict, "%v there", c.missing)
		assert.Empty(t, out.Coverage.Doubted, "%v there", c.missing)
		job.Filter.Exclude = c.missing
		out = run(t, job)
		assert.NotEqual(t, result.Complete, out.Coverage.Verdict, "%v missing", c.missing)
		for _, m := range out.Matches {
			if m.Phase.ID != c.parts[1].id {
				assert.Equal(t, result.Tentative, m.Evidence, "%s in place of %v", m.Phase.ID, c.missing)
			}
		}
	}
}

// Which tentative names make an explanation partial: those that something speaks against, and that account for a peak.
func TestStandsIn(t *testing.T) {
	seen := tally{own: 2, seen: 2, pieces: 2, expected: 100, strongestSeen: 20}
	for _, c := range []struct {
		why   string
		tally tally
		match Match
		want  bool
	}{
		{"little speaks for it, nothing against it", seen, Match{Evidence: result.Tentative}, false},
		{"its cell cannot be", seen, Match{Evidence: result.Tentative, shift: 0.006}, true},
		{"its cell cannot be, but that of another that explains its lines can", seen, Match{Evidence: result.Tentative, shift: 0.006, Alternatives: []Alternative{{ownCell: true}}}, false},
		{"nor can that of another", seen, Match{Evidence: result.Tentative, shift: 0.006, Alternatives: []Alternative{{}}}, true},
		{"chance gives as much", seen, Match{Evidence: result.Tentative, Chance: 0.1}, true},
		{"the same, and it is probable", seen, Match{Evidence: result.Probable, Chance: 0.1}, false},
		{"the same, and the user named it", seen, Match{Evidence: result.Tentative, Chance: 0.1, Required: true}, false},
		{"the same, and it accounts for no peak", tally{own: 2, seen: 2, pieces: 2, expected: 100, strongestSeen: 3}, Match{Evidence: result.Tentative, Chance: 0.1}, false},
		{"many of its lines are missing", tally{own: 9, seen: 6, pieces: 6, missing: 3, expected: 100, absent: 4, strongestSeen: 20}, Match{Evidence: result.Tentative, Merit: Merit{M: 20, MLines: 6}}, true},
		{"its places do not agree", tally{own: 6, seen: 6, pieces: 6, expected: 100, strongestSeen: 20}, Match{Evidence: result.Tentative, Merit: Merit{M: 4, MLines: 6}}, true},
		{"its places cannot be compared", tally{own: 6, seen: 6, pieces: 6, expected: 100, strongestSeen: 20}, Match{Evidence: result.Tentative}, false},
	} {
		w := whole{threshold: 5, coverage: Coverage{Share: 1, Verdict: result.Complete}}
		assert.Equal(t, c.want, w.standsIn(c.tally, &c.match), c.why)
	}
	c := Coverage{Share: 1, Verdict: result.Complete}
	c.doubt("gold")
	require.Equal(t, result.Partial, c.Verdict)
	c = Coverage{Share: 0.2, Verdict: result.None}
	c.doubt("gold")
	assert.Equal(t, result.None, c.Verdict)
}
