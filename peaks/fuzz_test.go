package peaks_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// FuzzFind: whatever the steps, the gaps and the intensities, nothing panics, every number is finite or unknown, and peaks lie in
// the scan.
func FuzzFind(f *testing.F) {
	for _, seed := range xrdtest.FuzzScans() {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		scan, err := xrdtest.ScanOfBytes(in)
		if err != nil {
			return
		}
		found := peaks.Find(scan, copper, peaks.Settings{})
		require.Len(t, found.Background, scan.Len())
		require.Len(t, found.Fitted, scan.Len())
		lo, hi := scan.Range()
		for _, p := range found.Peaks {
			require.True(t, p.TwoTheta >= lo-1 && p.TwoTheta <= hi+1, "peak at %g of %g to %g", p.TwoTheta, lo, hi)
			require.False(t, math.IsNaN(p.Height+p.Area+p.FWHM) || math.IsInf(p.Height+p.Area+p.FWHM, 0), "%+v", p)
			require.True(t, p.FWHM > 0, "%+v", p)
		}
		for i := range scan.Len() {
			require.False(t, math.IsNaN(found.Background[i]) || math.IsNaN(found.Fitted[i]), "point %d", i)
		}
		left, of := found.Without(scan)
		require.GreaterOrEqual(t, 2*left.Len(), scan.Len())
		require.Len(t, of.Sigma, left.Len())
		for _, c := range found.Cautions {
			require.NotEmpty(t, c.Text)
			require.NotEqual(t, xrd.Severity(""), c.Severity)
		}
	})
}
