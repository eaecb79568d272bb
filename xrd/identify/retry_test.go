package identify

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// wire is a superconductor wire of the bronze route: its bronze has a cell 0.8 % smaller than the reference, close to copper's, and niobium
// and tantalum differ by 0.1 %. Its bronze is not said to form solid solutions, as that of a plain CIF is not.
func wire(t *testing.T) Job {
	t.Helper()
	parts := []part{{"nb3sn", 300, 0}, {"bronze-alpha", 400, -0.0079}, {"copper", 90, 0}, {"niobium", 150, 0}}
	job := specimen{parts: parts, seed: 61}.job(t, library.Starter())
	var records []refdata.Record
	for _, r := range refdata.Starter() {
		r.SolidSolution = false
		switch r.ID {
		case "copper": // a plain structure of the bronze's cell stands for it
			bronze := r
			bronze.ID, bronze.KnownDensity, bronze.Strong = "bronze-alpha", 0, nil
			by := 3.684 / r.Cell.A
			bronze.Cell.A, bronze.Cell.B, bronze.Cell.C = 3.684, 3.684, 3.684
			for _, l := range r.Strong {
				bronze.Strong = append(bronze.Strong, refdata.StrongLine{D: l.D * float32(by), Intensity: l.Intensity})
			}
			records = append(records, r, bronze)
		case "nb3sn", "niobium", "tantalum", "tin-beta", "cu3sn-epsilon":
			records = append(records, r)
		}
	}
	require.Len(t, records, 7)
	job.Collection = library.FromRecords("plain", "", records)
	job.Filter.Elements = set(29, 50, 41, 73)
	return job
}

// Isotypes with cells within 1 % are separate phases when both patterns are there; a cell as far from its own as that of the bronze
// leaves a name with doubt.
func TestRetryFindsBothIsotypes(t *testing.T) {
	out := run(t, wire(t))
	got := evidenceLevels(out)
	assert.Contains(t, got, "copper")
	assert.Equal(t, result.Tentative, got["bronze-alpha"])
	assert.Contains(t, got, "nb3sn")
	assert.Equal(t, result.Partial, out.Coverage.Verdict, "the name of the bronze does not hold")
	assert.Equal(t, []string{"bronze-alpha"}, out.Coverage.Doubted)
	for _, l := range out.Coverage.Left {
		assert.Less(t, l.Significance, policy.Coverage.RetrySigma)
	}
}

// No answer leaves a strong peak that a phase of the collection would explain.
func TestNoStrongPeakIsLeft(t *testing.T) {
	for seed, parts := range xrdtest.Some(t, [][]part{
		{{"copper", 300, 0}, {"bronze-alpha", 200, 0.002}, {"nickel", 100, 0}},
		{{"silicon", 200, 0}, {"corundum", 200, 0.007}, {"quartz", 80, 0}},
		{{"periclase", 200, 0}, {"bunsenite", 150, 0.004}, {"fluorite", 60, 0}},
		{{"iron-alpha", 200, 0}, {"chromium", 100, 0.001}, {"magnetite", 60, 0}},
	}, 2) {
		job := specimen{parts: parts, seed: uint64(70 + seed), displacement: 0.05}.job(t, library.Starter())
		out := run(t, job)
		for _, l := range out.Coverage.Left {
			assert.Less(t, l.Significance, policy.Coverage.RetrySigma, "%v leaves %.2f°", parts, l.TwoTheta)
		}
		assert.Len(t, out.Matches, 3, "%v", parts)
	}
}

// A fit that lacks a phase misfits by as much as it explains: what is left by 12 uncertainties of the counts is asked for all the same.
func TestMisfitDoesNotHideLeftPeaks(t *testing.T) {
	found := []peaks.Peak{{Area: 130, AreaU: 10, Kind: peaks.KAlpha}, {Area: 60, AreaU: 10, Kind: peaks.KAlpha}}
	left := []LeftPeak{{Peak: 0, Area: 120, Significance: 8}, {Peak: 1, Area: 60, Significance: 6}}
	assert.Equal(t, left[:1], strong(slices.Clone(left), found))
}

// Nothing comes in for peaks that no phase of the collection has.
func TestRetryLeavesWhatNothingExplains(t *testing.T) {
	job := wire(t)
	job.Filter.Exclude = []string{"bronze-alpha"}
	out := run(t, job)
	assert.Equal(t, result.Partial, out.Coverage.Verdict)
	assert.NotEmpty(t, out.Coverage.Left)
	for _, m := range out.Matches {
		assert.Contains(t, []string{"nb3sn", "copper", "niobium", "tantalum"}, m.Phase.ID)
	}
}
