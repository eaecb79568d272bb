package pattern

import (
	"context"
	"math"

	"phasetally/xrd/leastsq"
)

// Beside returns the significance that the scale of another curve has beside the phases of a fit: the scale over the standard
// uncertainty that it would have at 0, 0 for one that is not positive. Scales, blank and background are fitted with it to the
// points of the setup and their variances, everything else is held. Errors come from the context alone or from impossible input.
func (f *Fit) Beside(ctx context.Context, curve, variance []float64) (float64, error) {
	columns := []leastsq.Strip{{Values: curve}}
	for _, c := range f.Curves {
		columns = append(columns, leastsq.Strip{Values: c})
	}
	sigma := make([]float64, len(variance))
	for i, v := range variance {
		sigma[i] = math.Sqrt(v)
	}
	positive := make([]bool, f.model.linear()+1)
	for j := range f.model.firstBackground() + 1 {
		positive[j] = true
	}
	var solver leastsq.SeparableSolver
	res, err := solver.Fit(ctx, leastsq.SeparableProblem{Model: held(len(curve)), Fixed: append(columns, f.model.Fixed()...), Y: f.Setup.Intensity, Sigma: sigma, NonNegative: positive}, leastsq.Settings{})
	if err != nil || !(res.C[0] > 0) {
		return 0, err
	}
	return res.C[0] / math.Sqrt(res.ZeroVariance[0]), nil
}
