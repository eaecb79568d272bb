package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
)

// TestJobOfAScanAlone: a job that holds nothing but a scan is that of an ordinary instrument with a copper tube, and says so.
func TestJobOfAScanAlone(t *testing.T) {
	scan := load(t, "../../testdata/bushing-aged.xy")
	stated := run(t, analysis.Job{Measurement: analysis.Measurement{Scan: scan}})
	assert.False(t, stated.Scan.RadiationAssumed, "the scan says its tube")
	scan.About = xrd.ScanInfo{}
	doc := run(t, analysis.Job{Measurement: analysis.Measurement{Scan: scan}})
	assert.True(t, doc.Scan.RadiationAssumed)
	assert.Equal(t, "Cu", doc.Scan.Radiation)
	assert.Equal(t, 200.0, *doc.Scan.RadiusMM)
	assert.Contains(t, caution(t, doc, "radiation-assumed").Text, "Cu Kα was assumed")
	assert.Equal(t, result.Established, phase(t, doc, "bronze-alpha").Evidence)
	full := demoDocument(t)
	assert.Equal(t, full.Phases, doc.Phases, "the same as with everything stated")
	j := analysis.Job{Measurement: analysis.Measurement{Scan: displaced(t, scan, 0.3)}}
	assert.Contains(t, caution(t, run(t, j), "displaced").Text, "if the radius is 200 mm")
	for _, depth := range []analysis.Steps{analysis.PeaksOnly, analysis.IdentifyOnly} {
		assert.NotEmpty(t, run(t, analysis.Job{Measurement: analysis.Measurement{Scan: scan}, Steps: depth}).Peaks)
	}
}

// displaced is a scan of a surface so many mm below the focusing plane.
func displaced(t testing.TB, s xrd.Scan, mm float64) xrd.Scan {
	x := make([]float64, s.Len())
	for i, v := range s.TwoTheta {
		x[i] = v + xrd.DisplacementShift(v, mm, xrd.DefaultInstrument().Radius)
	}
	out, err := xrd.NewScan(x, s.Intensity, nil, s.About)
	require.NoError(t, err)
	return out
}

// TestCouldBeIsRanked: what could be a peak stands in the order in which identify --explain lists it, whatever the order of
// the collection.
func TestCouldBeIsRanked(t *testing.T) {
	j := demo(t)
	j.Phases = []string{"bronze-alpha"}
	doc := run(t, j)
	require.NotEmpty(t, doc.UnexplainedPeaks)
	ranked := 0
	for _, u := range doc.UnexplainedPeaks {
		var all []string
		for _, s := range identify.Explain(library.Starter(), identify.Filter{}, u.TwoTheta, 0.5, j.Radiation.KAlpha1) {
			all = append(all, s.ID)
		}
		last := -1
		for _, id := range u.CouldBe {
			at := indexOf(all, id)
			require.GreaterOrEqual(t, at, 0, id)
			assert.Greater(t, at, last, "%s at %.2f°: %v", id, u.TwoTheta, u.CouldBe)
			last = at
			ranked++
		}
	}
	assert.Greater(t, ranked, 10)
}

func indexOf(list []string, id string) int {
	for i, s := range list {
		if s == id {
			return i
		}
	}
	return -1
}

// TestAside: a phase that is set aside is fitted and not counted; the others share the 100 %, and a note says so.
func TestAside(t *testing.T) {
	j := demo(t)
	j.Phases, j.Aside = []string{"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite"}, []string{"Cuprite"}
	doc := run(t, j)
	sum := 0.0
	for _, p := range doc.Phases {
		if p.ID == "cuprite" {
			assert.Equal(t, "preparation", p.Origin)
			continue
		}
		sum += *p.WeightPercent
	}
	assert.InDelta(t, 100, sum, 1e-9)
	assert.Contains(t, caution(t, doc, "preparation-artefact").Text, "as stated")
	j.Aside = []string{"no-such-phase"}
	_, err := analysis.Run(t.Context(), j)
	assert.ErrorIs(t, err, analysis.ErrUnknownPhase)
}
