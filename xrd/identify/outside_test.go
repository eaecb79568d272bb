package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// A polishing agent beyond the stated elements is named where its lines are beyond doubt, and marked.
func TestOutsidersBeyondDoubt(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"corundum", 60, 0}}, seed: 41}.job(t, library.Starter())
	job.Filter.Elements = set(29)
	out := run(t, job)
	assert.Equal(t, map[string]result.Evidence{"copper": result.Established, "corundum": result.Established}, evidenceLevels(out))
	for _, m := range out.Matches {
		assert.Equal(t, m.Phase.ID == "corundum", m.Outside, m.Phase.ID)
	}
	job.Filter.Elements = set(29, 13) // with oxygen from the air
	for _, m := range run(t, job).Matches {
		assert.False(t, m.Outside, m.Phase.ID)
	}
}

// Where the phase of the specimen is not in the collection, nothing of the watch-list stands in for it.
func TestOutsidersDoNotStandIn(t *testing.T) {
	for seed, id := range xrdtest.Some(t, []string{"barite", "anatase", "zirconia-monoclinic", "ybco-123", "cu3sn-epsilon", "hydroxyapatite", "gypsum", "cementite"}, 3) {
		if _, ok := library.Starter().Find(id); !ok {
			continue
		}
		job := specimen{parts: []part{{id, 300, 0}}, lo: 15, seed: uint64(seed)}.job(t, library.Starter())
		job.Filter = Filter{Elements: set(54), Exclude: []string{id}} // xenon: only the watch-list is left, and what air makes
		out := run(t, job)
		for _, m := range out.Matches {
			assert.False(t, m.Outside, "%s in place of %s", m.Phase.ID, id)
			assert.NotEqual(t, result.Established, m.Evidence, "%s in place of %s", m.Phase.ID, id)
		}
	}
}

// A specimen is not made of what polished it: cubic boron nitride has the lattice of copper, and takes its lines but for what texture and
// intensities leave when copper is not among the elements.
func TestOutsidersAreNotTheSpecimen(t *testing.T) {
	for _, seed := range []uint64{6, 7, 8} {
		job := specimen{parts: []part{{"copper", 300, 0}}, seed: seed}.job(t, library.Starter())
		job.Filter.Elements = set(50)
		for _, m := range run(t, job).Matches {
			assert.NotContains(t, []result.Evidence{result.Established, result.Probable}, m.Evidence, m.Phase.ID)
		}
	}
	lines := []pattern.LineFit{{Covered: true, Clear: 1, Observed: 100}}
	left := Coverage{Left: []LeftPeak{{Area: 1}}}
	assert.True(t, whole{coverage: left, noneStated: true}.contested(&Match{Lines: lines, outsider: true}), "a peak is left")
	assert.False(t, whole{noneStated: true}.contested(&Match{Lines: lines, outsider: true}), "none is")
	assert.False(t, whole{coverage: left}.contested(&Match{Lines: lines, outsider: true}), "beside a phase of the specimen")
	assert.False(t, whole{coverage: left, noneStated: true}.contested(&Match{Lines: lines}), "it is of the specimen")
	assert.False(t, whole{coverage: left, noneStated: true}.contested(&Match{Lines: lines, outsider: true, Required: true}), "it is required")
}

// A phase of the stated elements that explains the lines as well is preferred to one of the watch-list, whichever is tried first.
func TestOutsidersLoseATie(t *testing.T) {
	job := specimen{parts: []part{{"aluminium", 300, 0}}, seed: 43}.job(t, library.Starter())
	var records []refdata.Record
	for _, r := range refdata.Starter() {
		if r.ID == "aluminium" {
			r.Preparation = "polishing holder"
			other := r
			other.ID, other.Preparation = "other", ""
			records = append(records, r, other)
		}
	}
	require.Len(t, records, 2)
	job.Collection = gilded{library.FromRecords("two", "", records), func(i int) bool { return i == 1 }}
	job.Filter.Elements = set(79)
	out := run(t, job)
	require.Len(t, out.Matches, 1)
	assert.Equal(t, "other", out.Matches[0].Phase.ID)
}

// One substance that the collection has twice is one candidate, and said to be.
func TestSameSubstanceIsNoRival(t *testing.T) {
	job := specimen{parts: []part{{"silicon", 300, 0}}, hi: 130, seed: 44}.job(t, library.Starter())
	records := refdata.Starter()
	for _, r := range records {
		if r.ID == "silicon" {
			r.ID = "silicon-again"
			r.Cell.A, r.Cell.B, r.Cell.C = 1.0004*r.Cell.A, 1.0004*r.Cell.B, 1.0004*r.Cell.C
			records = append(records, r)
		}
	}
	job.Collection = library.FromRecords("twice", "", records)
	out := run(t, job)
	require.Len(t, out.Matches, 1)
	m := out.Matches[0]
	assert.Equal(t, result.Established, m.Evidence)
	assert.Empty(t, m.Alternatives)
	require.Len(t, m.Same, 1)
	assert.ElementsMatch(t, []string{"silicon", "silicon-again"}, []string{m.Phase.ID, m.Same[0]})
	said := false
	for _, r := range m.Reasons {
		said = said || r.Code == "same-substance"
	}
	assert.True(t, said)
}
