package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// TestAbsentPhasesChangeNothing: naming phases that are not there changes neither a fraction, an interval, a cell nor a point of the
// fit; each is told not to be there, with what would have been seen of it, which is little.
func TestAbsentPhasesChangeNothing(t *testing.T) {
	named := func(ids ...string) result.Analysis {
		j := demo(t)
		j.Phases = append([]string{"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite"}, ids...)
		a, err := analysis.Run(t.Context(), j)
		require.NoError(t, err)
		return a
	}
	plain := named()
	require.Len(t, plain.Document.Phases, 4)
	assert.Empty(t, plain.Document.NotDetected)
	for _, absent := range [][]string{{"tin-beta"}, {"corundum", "Quartz"}, {"corundum", "quartz", "tin-beta"}} {
		a := named(absent...)
		assert.Equal(t, plain.Document.Phases, a.Document.Phases, absent)
		assert.Equal(t, plain.Document.FractionCovariance, a.Document.FractionCovariance, absent)
		assert.Equal(t, plain.Document.Fit, a.Document.Fit, absent)
		assert.Equal(t, plain.Curves, a.Curves, absent)
		require.Len(t, a.Document.NotDetected, len(absent))
		for _, n := range a.Document.NotDetected {
			assert.True(t, n.Asked, n.ID)
			require.NotNil(t, n.DetectionLimit, n.ID)
			assert.True(t, *n.DetectionLimit > 0 && *n.DetectionLimit < 3, "%s < %g wt%%", n.ID, *n.DetectionLimit)
		}
	}
}

// TestOnlyAbsentPhases: where nothing that was named is there, each phase is told not to be.
func TestOnlyAbsentPhases(t *testing.T) {
	j := demo(t)
	j.Phases = []string{"quartz", "fluorite"}
	doc := run(t, j)
	assert.Empty(t, doc.Phases)
	assert.Len(t, doc.NotDetected, 2)
}
