package analysis_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

// TestPointsLeftOut: a point at which the detector was dead takes no part in the fit and is shown as masked.
func TestPointsLeftOut(t *testing.T) {
	j := demo(t)
	y := slices.Clone(j.Scan.Intensity)
	k, _ := j.Scan.Between(42.48, 180) // on the strongest line
	y[k] = 0
	var err error
	j.Scan, err = xrd.NewScan(j.Scan.TwoTheta, y, nil, j.Scan.About)
	require.NoError(t, err)
	j.Phases = []string{"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite"}
	doc := run(t, j)
	assert.True(t, has(doc, "dropouts"))
	assert.Equal(t, j.Scan.Len()-1, doc.Scan.Points)
	assert.InDelta(t, 70, *phase(t, doc, "bronze-alpha").WeightPercent, 2)
}
