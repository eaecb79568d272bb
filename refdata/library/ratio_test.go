package library_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/listfile"
	"phasetally/xrd"
)

// Every phase of the starter collection, written as a list for three tubes and cut at 90° or not, is read back; with ten times its I/Ic,
// or a tenth, it is refused when it has lines enough.
func TestRatiosOfTheStarterCollection(t *testing.T) {
	lib := library.Starter()
	refused, all := 0, 0
	for _, tube := range []string{"Cr", "Cu", "Mo"} {
		r, err := xrd.ParseRadiation(tube)
		require.NoError(t, err)
		for _, most := range []float64{90, 150} {
			for i := range lib.Len() {
				p, err := lib.Phase(i, refdata.Beam{Radiation: r, MaxTwoTheta: most})
				require.NoError(t, err)
				for _, off := range []float64{1, 10, 0.1} {
					q := p
					q.RIR.Value *= off
					var b bytes.Buffer
					if q.RIR.Value > refdata.MaxRIR || listfile.Write(&b, []refdata.Phase{q}) != nil {
						continue
					}
					_, err := listfile.Read(&b, p.ID)
					if off == 1 || len(p.Lines) < 5 {
						assert.NoError(t, err)
						continue
					}
					if all++; err != nil {
						refused++
						assert.ErrorIs(t, err, listfile.ErrConflict)
					}
				}
			}
		}
	}
	assert.Greater(t, float64(refused)/float64(all), 0.97, "%d of %d", refused, all)
	t.Logf("%d of %d refused", refused, all)
}
