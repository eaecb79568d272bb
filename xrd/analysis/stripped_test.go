package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
	"phasetally/xrd/xrdtest"
)

// A scan of which Kα2 was taken away, with lines too crowded for the search for peaks to see that: it is said, and the scan is
// explained without Kα2. With it, nothing is said.
func TestStrippedOfKAlpha2(t *testing.T) {
	xrdtest.Long(t, "the kind of scan of which Kα2 was taken away")
	for _, ratio := range []float64{0, 0.5} {
		r, err := xrd.ParseRadiation("Cu")
		require.NoError(t, err)
		r.Ratio = ratio
		j := simulate.Job{Radiation: r, Instrument: xrd.DefaultInstrument(), Lo: 10, Hi: 110, Step: 0.01, Time: 1, Rate: 4000, Background: 20}
		for i, id := range []string{"gypsum", "quartz"} {
			for _, rec := range refdata.Starter() {
				if rec.ID == id {
					s, err := structure.FromRecord(rec)
					require.NoError(t, err)
					p, err := s.Phase(refdata.Beam{Radiation: r, MaxTwoTheta: 113})
					require.NoError(t, err)
					j.Components = append(j.Components, simulate.Component{Phase: p, WeightPercent: []float64{70, 30}[i]})
				}
			}
		}
		made, err := simulate.Run(j)
		require.NoError(t, err)
		scan, err := xrd.NewScan(made.TwoTheta, simulate.Count(made.Expected, 1), nil, xrd.ScanInfo{})
		require.NoError(t, err)
		question := job(t, scan, "Cu")
		question.Filter.Elements = elements(t, "Ca,S,O,H,Si")
		doc := run(t, question)
		assert.Equal(t, ratio == 0, has(doc, "alpha2-missing"))
		assert.Equal(t, result.Complete, doc.Explanation.Verdict)
		assert.InDelta(t, 70, *phase(t, doc, "gypsum").WeightPercent, 3)
		assert.False(t, has(doc, "slit-mode"))
	}
}
