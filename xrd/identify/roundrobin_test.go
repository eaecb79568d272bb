package identify

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
)

// The measured round-robin mixture 1g holds corundum, fluorite and zincite and nothing else (Madsen et al. 2001, J. Appl.
// Cryst. 34, 409; from memory). TestRunFindsThePhases makes the same claim of a scan of our own.
func TestRoundRobinIsExplained(t *testing.T) {
	name := filepath.Join("..", "..", "..", "shared", "data", "cpd", "cpd-1g.prn")
	file, err := os.Open(name)
	if err != nil {
		t.Skip("SKIPPED: the measured round-robin scan is not here: ", err)
	}
	defer file.Close()
	scan, err := scanfile.Read(file, name)
	require.NoError(t, err)
	sigma := make([]float64, len(scan.Intensity))
	for i, y := range scan.Intensity {
		sigma[i] = math.Sqrt(math.Max(1, y))
	}
	cu := radiation(t, "Cu")
	job := Job{Setup: pattern.Setup{TwoTheta: scan.TwoTheta, Intensity: scan.Intensity, Sigma: sigma, Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()},
		Beam: refdata.Beam{Radiation: cu, MaxTwoTheta: 155}, Collection: library.Starter()}
	want := map[string]result.Evidence{"corundum": result.Established, "fluorite": result.Established, "zincite": result.Established}
	assert.Equal(t, want, evidenceLevels(run(t, job)), "no elements given")
	job.Filter.Elements = refdata.ElementSet{}.With(13).With(20).With(9).With(30).With(8)
	assert.Equal(t, want, evidenceLevels(run(t, job)), "elements given")
}
