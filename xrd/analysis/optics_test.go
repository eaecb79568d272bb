package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// simulated is a scan of testdata with its phases named.
func simulated(t testing.TB, name string, phases ...string) analysis.Job {
	j := job(t, load(t, "testdata/"+name+".xy"), "Cu")
	j.Phases = phases
	return j
}

// TestEdgeStep: the K edge of nickel at 1.488 Å puts a step at 2 asin(sin(44.5°/2)·1.4881/1.5406) = 42.9° for nickel 111
// (acceptance situation 4 of PRACTICE). What rises to it is no peak of a phase.
func TestEdgeStep(t *testing.T) {
	doc := run(t, simulated(t, "edge", "nickel", "copper"))
	c := caution(t, doc, "edge-step")
	assert.Equal(t, xrd.SeverityNote, c.Severity)
	assert.InDelta(t, 42.9, c.Evidence["two_theta"], 0.1)
	assert.Empty(t, doc.UnexplainedPeaks)
	assert.False(t, has(run(t, simulated(t, "longitudinal", "copper", "cu3sn-epsilon")), "edge-step"))
	j := simulated(t, "edge", "nickel", "copper")
	j.Instrument.Monochromator, _ = xrd.ParseMonochromator("graphite", j.Radiation)
	assert.False(t, has(run(t, j), "edge-step"), "a monochromator lets no white radiation pass")
}

func TestFluorescence(t *testing.T) {
	c := caution(t, run(t, simulated(t, "iron", "iron-alpha", "copper")), "fluorescence")
	assert.Equal(t, []string{"Fe"}, c.Evidence["elements"])
	assert.InDelta(t, 50, c.Evidence["weight_percent"], 4)
	j := simulated(t, "iron", "iron-alpha", "copper")
	j.Instrument.Monochromator, _ = xrd.ParseMonochromator("graphite", j.Radiation)
	assert.False(t, has(run(t, j), "fluorescence"))
	assert.False(t, has(run(t, simulated(t, "longitudinal", "copper", "cu3sn-epsilon")), "fluorescence"), "copper does not glow in its own Kα")
}

// TestNotInfinite: copper absorbs with 460/cm (51.8 cm²/g × 8.93 g/cm³; tables, from memory), so up to 100° it takes
// 3.1·sin 50°/460 cm = 0.052 mm; 0.02 mm is enough up to 2 asin(0.002·460/3.1) = 34.5°.
func TestNotInfinite(t *testing.T) {
	j := simulated(t, "longitudinal", "copper")
	j.Specimen.Section = "longitudinal"
	j.Thickness = 0.02
	c := caution(t, run(t, j), "not-infinite")
	assert.InEpsilon(t, 0.052, c.Evidence["needed_mm"], 0.04)
	assert.InDelta(t, 34.5, c.Evidence["thin_above_two_theta"], 1.5)
	j.Thickness = 0.06
	assert.False(t, has(run(t, j), "not-infinite"))
	j.Specimen.Section = "powder" // 60 % of it is solid
	assert.True(t, has(run(t, j), "not-infinite"))
}

// TestSurfaceDeformed: the scan was simulated with an apparent strain of 2e-3 and the widths of the instrument below.
func TestSurfaceDeformed(t *testing.T) {
	j := simulated(t, "ground", "copper")
	j.Specimen.Section = "transverse"
	assert.False(t, has(run(t, j), "surface-deformed"), "widths of an unknown instrument say nothing")
	j.Instrument.Calibrated = true
	j.Instrument.GaussTan2, j.Instrument.GaussTan, j.Instrument.GaussConst, j.Instrument.LorentzSize, j.Instrument.LorentzStrain = 0.004, -0.003, 0.0055, 0.015, 0.02
	c := caution(t, run(t, j), "surface-deformed")
	assert.InEpsilon(t, 2e-3, c.Evidence["strain"], 0.15)
	j.Specimen.Section = "powder"
	assert.False(t, has(run(t, j), "surface-deformed"))
	j = simulated(t, "transverse", "copper", "cu3sn-epsilon")
	j.Specimen.Section, j.Instrument.Calibrated = "transverse", true
	assert.False(t, has(run(t, j), "surface-deformed"), "no strain was simulated")
}

// TestEpitaxial: of a phase that shows its 00l lines only no fraction is given, nor of what lies beside it (acceptance
// situation 11 of PRACTICE).
func TestEpitaxial(t *testing.T) {
	doc := run(t, simulated(t, "oriented", "ybco-123", "silver"))
	c := caution(t, doc, "epitaxial")
	assert.Equal(t, xrd.SeverityStop, c.Severity)
	assert.Equal(t, "ybco-123", c.Evidence["phase"])
	assert.Equal(t, "0 0 1", c.Evidence["planes"])
	assert.False(t, has(doc, "rir-missing"), "the ratio is there")
	for _, p := range doc.Phases {
		assert.Nil(t, p.WeightPercent, p.ID)
	}
	assert.False(t, has(run(t, simulated(t, "transverse", "copper", "cu3sn-epsilon")), "epitaxial"), "an ordinary texture")
}

// TestLimitAboveRequest: the remedy counts (limit/wanted)² times as long.
func TestLimitAboveRequest(t *testing.T) {
	j := simulated(t, "longitudinal", "copper", "cu3sn-epsilon", "quartz")
	j.WantedLimit = 5
	doc := run(t, j)
	assert.False(t, has(doc, "limit-above-request"))
	require.Len(t, doc.NotDetected, 1)
	limit := *doc.NotDetected[0].DetectionLimit
	j.WantedLimit = limit / 2.5
	c := caution(t, run(t, j), "limit-above-request")
	assert.InDelta(t, 7, c.Evidence["times_as_long"], 1e-9, "2.5² = 6.25, rounded up")
	assert.Contains(t, c.Text, "quartz")
}

func TestStrongestOutOfRange(t *testing.T) {
	j := simulated(t, "longitudinal", "copper", "cu3sn-epsilon")
	j.Range = [2]float64{44.5, 100}
	c := caution(t, run(t, j), "reference-strongest-out-of-range")
	assert.Equal(t, xrd.SeverityNote, c.Severity, "lines from a structure stand in for each other")
	j.Range = [2]float64{}
	assert.False(t, has(run(t, j), "reference-strongest-out-of-range"))
	j.Masks = [][2]float64{{42.8, 43.8}}
	assert.True(t, has(run(t, j), "reference-strongest-out-of-range"))
}
