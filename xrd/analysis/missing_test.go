package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// TestMissingPhaseIsAllowedFor: a phase that nobody named scatters less for its mass than those that were, most of all beside heavy
// ones. No fraction is above what there is of its phase in the whole by more than its interval says.
func TestMissingPhaseIsAllowedFor(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for _, c := range []struct {
		missing string
		wt      map[string]float64
	}{
		{"silicon", map[string]float64{"tungsten": 49, "silicon": 51}},
		{"periclase", map[string]float64{"ceria": 32, "tungsten": 27, "periclase": 41}},
		{"magnetite", map[string]float64{"tungsten": 47, "magnetite": 53}},
		{"dolomite", map[string]float64{"cuprite": 31, "ceria": 29, "tungsten": 14, "dolomite": 26}},
		{"corundum", map[string]float64{"rutile": 34, "zincite": 33, "corundum": 33}},
	} {
		s := simulate.Job{Radiation: cu, Instrument: xrd.DefaultInstrument(), Lo: 15, Hi: 95, Step: 0.02, Time: 1, Rate: 4000, Background: 20}
		var named []string
		lib := library.Starter()
		for _, id := range []string{"tungsten", "ceria", "cuprite", "rutile", "zincite", "silicon", "periclase", "magnetite", "dolomite", "corundum"} {
			wt, there := c.wt[id]
			if !there {
				continue
			}
			i, ok := lib.Find(id)
			require.True(t, ok, id)
			p, err := lib.Phase(i, refdata.Beam{Radiation: cu})
			require.NoError(t, err)
			s.Components = append(s.Components, simulate.Component{Phase: p, WeightPercent: wt})
			if id != c.missing {
				named = append(named, id)
			}
		}
		made, err := simulate.Run(s)
		require.NoError(t, err)
		scan, err := xrd.NewScan(made.TwoTheta, simulate.Count(made.Expected, 7), nil, xrd.ScanInfo{})
		require.NoError(t, err)
		j := job(t, scan, "Cu")
		j.Phases = named
		doc := run(t, j)
		require.NotEqual(t, result.Complete, doc.Explanation.Verdict, c.missing)
		for _, p := range doc.Phases {
			if p.WeightPercent != nil {
				assert.LessOrEqual(t, *p.WeightPercentLo, c.wt[p.ID], "%s without %s", p.ID, c.missing)
			}
		}
	}
}
