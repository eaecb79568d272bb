package analysis_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

// TestWatchedPhaseIsSeen: of half quartz and half corundum, neither is absent although only one is named.
func TestWatchedPhaseIsSeen(t *testing.T) {
	j := job(t, load(t, "testdata/short-specimen.xy"), "Cu")
	j.Phases = []string{"quartz"}
	j.Watch = []string{"corundum", "silver"}
	doc := run(t, j)
	c := caution(t, doc, "watched-seen")
	assert.Equal(t, "corundum", c.Evidence["phase"])
	assert.Greater(t, c.Evidence["significance"], 10.0)
	require.Len(t, doc.NotDetected, 1)
	assert.Equal(t, "silver", doc.NotDetected[0].ID)
	j.Phases = []string{"quartz", "corundum"}
	j.Watch = []string{"silver"}
	assert.False(t, has(run(t, j), "watched-seen"))
}

// TestHumpIsNoPhase: a hump of glass is fitted by broad lines of cristobalite as well as by a background; without a peak nothing is found.
func TestHumpIsNoPhase(t *testing.T) {
	n := 4001
	x, y := make([]float64, n), make([]float64, n)
	draw := rand.New(rand.NewPCG(3, 4))
	for i := range x {
		x[i] = 10 + 0.02*float64(i)
		d := (x[i] - 22) / 3
		mean := 100 + 700*math.Exp(-d*d/2)
		y[i] = math.Round(mean + math.Sqrt(mean)*draw.NormFloat64())
	}
	scan, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	j := job(t, scan, "Cu")
	j.Phases = []string{"cristobalite"}
	doc := run(t, j)
	assert.Empty(t, doc.Phases)
	assert.Len(t, doc.NotDetected, 1)
	assert.True(t, has(doc, "counts-too-low"))
}

// TestTubeContradictsTheScan: what the scan says of its tube and what is asked for differ, which is said.
func TestTubeContradictsTheScan(t *testing.T) {
	j := job(t, load(t, "testdata/short-specimen.xy"), "Co")
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	j.Scan.About.Radiation = &cu
	j.Phases = []string{"quartz"}
	assert.Contains(t, caution(t, run(t, j), "radiation-doubtful").Text, "The scan says Cu Kα")
	j.Radiation = cu
	assert.False(t, has(run(t, j), "radiation-doubtful"))
}
