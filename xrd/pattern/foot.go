package pattern

import (
	"context"
	"maps"
	"math"

	"gonum.org/v1/gonum/interp"

	"phasetally/refdata"
)

// A Foot is a broader profile under the lines of a phase, beside the one that was fitted: crystallites of two sizes, the finer of
// which hide in the background.
type Foot struct {
	Size    float64   // volume-weighted, of the finer crystallites, nm
	Sigmas  float64   // scale of the broader pattern over its standard uncertainty
	Amounts []float64 // scales of all phases with the broader pattern counted over those that were fitted; 1 for a phase that is not there
}

// footSizes are the sizes of finer crystallites that are looked for, nm. Below the first a crystal is hardly told from a glass, and
// lines of the last are told from those of large crystallites by the fit itself. The first tells of all.
var footSizes = []float64{5, 8, 12, 20}

// leastFoot is the significance from which a broader profile is there (common practice: beyond what chance and looking at many phases do).
const leastFoot = 5.0

// FootOf returns the broader profile that the lines of phase p have beside that which was fitted, and false for none. A second pattern of the
// phase, its lines as broad as crystallites of a size make them, is fitted with all scales, blank and background, everything
// else being held: the likelihood-ratio test of one linear parameter, with the variances of the fit, misfit included, and widened for
// serial correlation. The size is that which gains most.
func (f *Fit) FootOf(p int) (Foot, bool) {
	best := Foot{}
	for _, size := range footSizes {
		foot, ok := f.footOf(p, size)
		if !ok || size == footSizes[0] && !(foot.Sigmas > leastFoot) {
			break
		}
		if foot.Sigmas > best.Sigmas {
			best = foot
		}
	}
	return best, best.Sigmas > 0
}

// footOf fits one size.
func (f *Fit) footOf(p int, size float64) (Foot, bool) {
	if f.model == nil || !(f.Scales[p] > 0) || !(f.Agreement.BerarLelann > 0) {
		return Foot{}, false
	}
	broad, ok := f.broader(p, size)
	if !ok {
		return Foot{}, false
	}
	var pull float64 // what is left is at right angles to the fitted curves, so that this has the sign of the new scale
	for i, c := range broad {
		pull += c * (f.Setup.Intensity[i] - f.Fitted[i]) / f.Variance[i]
	}
	if !(pull > 0) {
		return Foot{}, false
	}
	res, at, err := f.beside(context.Background(), broad, f.Variance)
	if err != nil || !(res.ZeroVariance[0] > 0) {
		return Foot{}, false
	}
	out := Foot{Size: size, Sigmas: res.C[0] / (math.Sqrt(res.ZeroVariance[0]) * f.Agreement.BerarLelann), Amounts: make([]float64, len(f.Scales))}
	for j := range out.Amounts {
		out.Amounts[j] = 1
		if at[j] > 0 {
			out.Amounts[j] = max(0, res.C[at[j]])
		}
	}
	out.Amounts[p] += res.C[0]
	return out, true
}

// broader returns the fitted curve of a phase as crystallites of a size, nm, would draw it, false where its lines are nearly as broad or no
// model has them.
func (f *Fit) broader(p int, size float64) ([]float64, bool) {
	s := f.Setup
	s.Start = f.Restart(FullFit)
	s.Phases = []refdata.Phase{s.Phases[p]}
	if s.Poles != nil {
		s.Poles = s.Poles[p : p+1]
	}
	key := Key{Kind: Size, ID: s.Phases[0].ID}
	width := SizeNM(size, s.Radiation.KAlpha1) // Scherrer's formula is its own inverse
	q, ok := f.Get(Size, p)
	if !ok || !(q.Value < width/2) || !(q.Value+width <= q.Upper) {
		return nil, false
	}
	s.Start.Values = maps.Clone(s.Start.Values)
	s.Start.Values[key] = q.Value + width
	x := s.TwoTheta
	s.TwoTheta = sparse(x, width/drawnWidth)
	s.Intensity, s.Sigma, s.Blank, s.BlankVar, s.ExtraVariance = make([]float64, len(s.TwoTheta)), make([]float64, len(s.TwoTheta)), nil, nil, nil
	for i := range s.Sigma {
		s.Sigma[i] = 1
	}
	var line interp.PiecewiseLinear
	if line.Fit(s.TwoTheta, draw(s, f.Scales[p])) != nil {
		return nil, false
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = line.Predict(v)
	}
	return out, true
}

// drawnWidth is how many points a broad line is drawn with within its width.
const drawnWidth = 16

// sparse returns some of the angles x, no nearer to each other than a step where there are others, and both ends.
func sparse(x []float64, step float64) []float64 {
	out := []float64{x[0]}
	for i, v := range x[1:] {
		if v-out[len(out)-1] >= step || i == len(x)-2 {
			out = append(out, v)
		}
	}
	return out
}
