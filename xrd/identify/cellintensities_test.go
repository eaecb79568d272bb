package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// TestIntensitiesTellTypesApart: a wurtzite has all lines of a close-packed metal. Gallium nitride (a = 3.189, c = 5.185 Å), which the reference
// data lack, has those of magnesium (3.209, 5.211 Å), 12 of 12; only its intensities differ. The ratios are those of both structures (from memory),
// calculated by another program. Magnesium with the same cell, as aluminium and other atoms make it, keeps its name, and so does one that elements tell.
func TestIntensitiesTellTypesApart(t *testing.T) {
	nitride := []float64{1.21, 0.92, 0.65, 0.97, 1.29, 1.23, 1.38, 1.12, 0.87, 0.82, 1.24, 0.91}
	for _, c := range []struct {
		why      string
		ratios   []float64
		elements []int
		want     result.Evidence
		verdict  result.Verdict
	}{
		{"another phase of the type", nitride, nil, result.Tentative, result.Partial},
		{"its own intensities", nil, nil, result.Established, result.Complete},
		{"elements stated", nitride, []int{12}, result.Probable, result.Complete},
	} {
		job := specimen{parts: []part{{"magnesium", 4000, -0.0066}}, hi: 90, seed: 7, intensities: c.ratios}.job(t, library.Starter())
		for _, z := range c.elements {
			job.Filter.Elements = job.Filter.Elements.With(z)
		}
		out := run(t, job)
		require.Len(t, out.Matches, 1, c.why)
		m := out.Matches[0]
		require.Equal(t, "magnesium", m.Phase.ID, c.why)
		assert.Equal(t, c.want, m.Evidence, "%s: %v", c.why, m.Reasons)
		assert.Equal(t, c.verdict, out.Coverage.Verdict, c.why)
		told := false
		for _, r := range m.Reasons {
			told = told || r.Code == "intensities"
		}
		assert.Equal(t, c.ratios != nil && c.elements == nil, told, c.why)
	}
}
