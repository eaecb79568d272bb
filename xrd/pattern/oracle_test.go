package pattern_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// An exchange is a least-squares problem with what was found, for .ci/oracle_fit.py, which fits the documented model with
// another library. Data, weights, starting values and the reach of each line define the problem; the model is the reader's.
type exchange struct {
	TwoTheta, Intensity, Variance []float64
	Wavelengths                   []float64 // Kα1, Kα2, Å
	Ratio, Radius                 float64
	Instrument                    xrd.Instrument
	Intervals                     int // of the background
	Phases                        []exchangePhase
	Lines                         []exchangeLine
	Parameters                    []exchangeParameter // free; held ones are those of the instrument, or 0
	Scales                        int                 // linear parameters of which the first so many are scales, ≥ 0

	Status               string
	SumSquares, Penalty  float64
	Theta, C, Covariance []float64 // covariance of (C, Theta), row by row
	Milliseconds         float64   // that the fit took
	Iterations           int
}

type exchangePhase struct {
	ID, System string
	Cell       [6]float64 // a, b, c, α, β, γ
	MeanB      float64
}

// An exchangeLine is a line for one wavelength; it is drawn at points First ≤ i < Last with so many nodes of the axial tail.
type exchangeLine struct {
	Phase, Wavelength, First, Last, Nodes int
	HKL                                   [3]int
	D, Intensity                          float64
}

type exchangeParameter struct {
	Kind                      string
	Phase                     int
	Start, PriorMean, PriorSD float64
}

// TestOracleFit fits a fixed set of parameters to a simulated scan of three phases with the weights of a whole fit, from
// values some way off, to the end. With PHASETALLY_ORACLE_FIT it writes problem and result there.
func TestOracleFit(t *testing.T) {
	truth, s := mixture(t)
	s.Instrument.Axial = 0.02
	s.Intensity = counted(truth.expected(s.TwoTheta, s.Radiation, s.Instrument), 5)
	whole, err := pattern.Run(context.Background(), s, pattern.Full)
	require.NoError(t, err)
	s.Start.Knots = whole.Knots
	m, err := pattern.NewModel(s)
	require.NoError(t, err)
	free := []pattern.Kind{pattern.Displacement, pattern.WidthW, pattern.WidthX, pattern.WidthY, pattern.Axial, pattern.CellA, pattern.CellC, pattern.Thermal}
	pattern.Set(m, pattern.Axial, -1, 0.02) // so that lines have the nodes that the result needs
	pattern.Release(m, func(p pattern.Parameter) bool { return slices.Contains(free, p.Kind) })
	p := pattern.Problem(m, whole.Variance)
	for k := range p.Theta {
		p.Theta[k] += 0.5 * p.ThetaPrior[k].Sigma * 0.1
	}
	var res leastsq.SeparableResult
	took := math.Inf(1)
	for range 5 {
		began := time.Now()
		res, err = new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
		require.NoError(t, err)
		took = math.Min(took, time.Since(began).Seconds())
	}
	require.Equal(t, leastsq.Converged, res.Status)
	n := float64(len(s.TwoTheta))
	require.InDelta(t, n, res.SumSquares, 6*math.Sqrt(2*n), "residuals are counting noise")
	for k, v := range res.Theta {
		require.Greater(t, v, p.Lower[k], "no parameter is at a bound")
		require.Less(t, v, p.Upper[k])
	}
	out, ok := os.LookupEnv("PHASETALLY_ORACLE_FIT")
	if !ok {
		return
	}
	e := exchange{TwoTheta: s.TwoTheta, Intensity: s.Intensity, Variance: whole.Variance, Wavelengths: []float64{s.Radiation.KAlpha1, s.Radiation.KAlpha2},
		Ratio: s.Radiation.Ratio, Radius: s.Instrument.Radius, Instrument: s.Instrument, Intervals: whole.Knots, Scales: len(s.Phases),
		Status: "converged", SumSquares: res.SumSquares, Penalty: res.Penalty, Theta: res.Theta, C: res.C, Covariance: res.Covariance,
		Milliseconds: took * 1e3, Iterations: res.Iterations}
	for _, ph := range s.Phases {
		c := ph.Cell
		e.Phases = append(e.Phases, exchangePhase{ph.ID, ph.System.String(), [6]float64{c.A, c.B, c.C, c.Alpha, c.Beta, c.Gamma}, ph.MeanB})
	}
	for _, w := range pattern.Windows(m) {
		f := w.Line.Families[0]
		e.Lines = append(e.Lines, exchangeLine{w.Phase, w.Emission, w.First, w.Last, w.Nodes, [3]int{f.H, f.K, f.L}, w.Line.D, w.Line.Intensity})
	}
	k := 0
	for _, q := range m.Parameters() {
		if q.Free {
			e.Parameters = append(e.Parameters, exchangeParameter{q.Kind.String(), q.Phase, p.Theta[k], q.Prior.Mean, q.Prior.Sigma})
			k++
		}
	}
	b, err := json.Marshal(e)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(out, b, 0o600))
}
