package pattern

import (
	"context"
	"math"
	"slices"

	"phasetally/xrd/leastsq"
)

// SignificanceBeside returns the significance that the scale of another curve has beside the phases of a fit: the scale over its standard
// uncertainty, 0 for one that is not positive or that the others leave open. Scales, blank and background are fitted with it to
// the points of the setup, of given variances, and may take any sign; everything else is held. Errors come from the context or
// from impossible input.
func (f *Fit) SignificanceBeside(ctx context.Context, curve, variance []float64) (float64, error) {
	res, _, err := f.beside(ctx, curve, variance)
	if err != nil || !(res.C[0] > 0) || slices.Contains(res.Undetermined, 0) {
		return 0, err
	}
	return res.C[0] / math.Sqrt(res.ZeroVariance[0]), nil
}

// beside fits another curve beside the phases: its scale is the first, and at tells for each phase which of the scales, over
// the fitted one, is its own, 0 for none.
func (f *Fit) beside(ctx context.Context, curve, variance []float64) (res leastsq.SeparableResult, at []int, err error) {
	columns, at := []leastsq.Strip{{Values: curve}}, make([]int, len(f.Scales))
	for j, c := range f.Curves {
		if f.Scales[j] > 0 {
			at[j] = len(columns)
			columns = append(columns, leastsq.Strip{Values: c})
		}
	}
	sigma := make([]float64, len(variance))
	for i, v := range variance {
		sigma[i] = math.Sqrt(v)
	}
	var solver leastsq.SeparableSolver
	problem := leastsq.SeparableProblem{Model: held(len(curve)), Fixed: append(columns, f.model.Fixed()...), Y: f.Setup.Intensity, Sigma: sigma}
	res, err = solver.Fit(ctx, problem, leastsq.Settings{})
	if err == nil {
		err = ctx.Err()
	}
	return res, at, err
}
