package identify

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// pair is a collection of one invented phase of two lines.
type pair struct{ phase refdata.Phase }

func (pair) Len() int                                         { return 1 }
func (p pair) Entry(int) refdata.Entry                        { return refdata.Entry{ID: p.phase.ID} }
func (p pair) Phase(int, refdata.Beam) (refdata.Phase, error) { return p.phase, nil }

// Two humps of the background are no lines of a phase that is named for them: they are diffuse, count for nothing, and the verdicts
// on the lines say so beside the reasons.
func TestDiffuseLinesAreSaidToBe(t *testing.T) {
	cu := radiation(t, "Cu")
	p := refdata.Phase{ID: "pair", Name: "pair", Lines: []refdata.Line{{D: 3.2, Intensity: 100}, {D: 2.1, Intensity: 60}}}
	for _, c := range []struct {
		fwhm float64
		want result.LineVerdict
		own  string
	}{{0.1, result.LineSeen, "2 of 2 lines"}, {1.2, result.LineDiffuse, "0 of 0 lines"}} {
		scan := xrdtest.Pattern{Lo: 20, Hi: 60, Step: 0.02, Radiation: cu, Background: func(float64) float64 { return 100 }}
		for k, l := range p.Lines {
			at, _ := xrd.TwoTheta(l.D, cu.KAlpha1)
			p.Lines[k].TwoTheta = at
			scan.Lines = append(scan.Lines, xrdtest.Line{TwoTheta: at, Area: 3 * l.Intensity, FWHM: c.fwhm, Eta: 0.9})
		}
		x := scan.Angles()
		y := xrdtest.Count(t, x, scan.Expected(x), 5).Intensity
		sigma := make([]float64, len(y))
		for i := range y {
			sigma[i] = math.Sqrt(math.Max(1, y[i]))
		}
		out, set, err := Given(Job{Collection: pair{p}, Setup: pattern.Setup{TwoTheta: x, Intensity: y, Sigma: sigma, Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}})
		require.NoError(t, err)
		set.ExtraVariance = nil
		fit, err := pattern.Run(context.Background(), set, pattern.Full)
		require.NoError(t, err)
		out.Take(fit)
		for _, l := range out.Matches[0].Lines {
			assert.Equal(t, c.want, l.Verdict(), fmt.Sprintf("%.1f° wide: %+v", c.fwhm, l))
		}
		assert.Contains(t, out.Matches[0].Reasons[1].Text, c.own)
	}
}
