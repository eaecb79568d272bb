package quantify

import (
	"context"
	"math"
	"sort"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/floats"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

const (
	unexplainedSigma = 4.0 // residual over its noise from which intensity may be nobody's
	unexplainedShare = 1.0 // and over what the phases may put there: less is a line that is stronger than expected
)

// Refine fits a pattern again for fractions. While phases are searched for, every point where more is seen than the phases explain
// weighs less, since phases may be missing. Kept so, a phase whose lines scatter would come out too small. Here only points weigh
// less where next to nothing is expected, and texture is looked for with every line at its full weight.
func Refine(ctx context.Context, f *pattern.Fit) (*pattern.Fit, error) {
	return refine(ctx, f, unexplainedVariance(f, total(f.Curves)))
}

// refine fits a pattern again with other points distrusted.
func refine(ctx context.Context, f *pattern.Fit, extra []float64) (*pattern.Fit, error) {
	s := f.Setup
	s.ExtraVariance, s.Poles = extra, nil
	s.Start = f.Restart(pattern.FullFit)
	g, err := pattern.Run(ctx, s, pattern.Full)
	return released(ctx, g, err)
}

// FitKnown fits phases that are all known for fractions. The start of the setup may be that of another scan; its doubt is for
// a quick fit, to begin with nothing. Most scans are explained at once. Where points are left to nobody, phases or textures
// may be missing, and the pattern is first fitted without regard to anything that rises above it. Then only points stay
// distrusted where far more is seen than the phases could put there with any texture: who names the phases says that there are
// no others, and a phase of strong texture has lines many times stronger than expected.
func FitKnown(ctx context.Context, s pattern.Setup) (*pattern.Fit, error) {
	careful := s
	s.ExtraVariance = nil
	if s.Start.From != pattern.Guess {
		f, err := pattern.Run(ctx, s, pattern.Full)
		if err != nil || explained(f) {
			return released(ctx, f, err)
		}
		careful.Start, careful.Poles = pattern.Start{}, nil
	}
	quick, err := pattern.Run(ctx, careful, pattern.Quick)
	if err != nil {
		return nil, err
	}
	s.Start, s.Poles = pattern.Start{Values: quick.Values(), Kappa: quick.Kappa, From: pattern.QuickFit}, nil
	f, err := pattern.Run(ctx, s, pattern.Full)
	if err != nil || explained(f) {
		return released(ctx, f, err)
	}
	// Widths that are fitted to lines of wrong intensities may hide that they are textured: the quick fit still shows it.
	var textured *pattern.Fit
	s.ExtraVariance = above(quick)
	err = both(func() (err error) { textured, err = pattern.RoughTexture(ctx, quick); return err },
		func() (err error) {
			f, err = pattern.Run(ctx, s, pattern.Full)
			f, err = released(ctx, f, err)
			return err
		})
	if err != nil {
		return nil, err
	}
	f, err = trusting(ctx, f)
	if err == nil && textured != quick && explained(textured) && criterion(textured) < criterion(f) {
		return textured, nil
	}
	return f, err
}

// criterion is the Bayesian information criterion of a fit with the scale of its residuals unknown.
func criterion(f *pattern.Fit) float64 {
	n, k := float64(len(f.Fitted)), f.Knots
	for _, p := range f.Parameters {
		if p.Free {
			k++
		}
	}
	return 2*n*math.Log(f.Agreement.RWP) + float64(k)*math.Log(n)
}

// trusting refines a fit in which the lines of phases of strong texture have their say. Where texture takes up less than half
// of what rises above the pattern, something is missing; where it explains these lines less well than the others are
// explained, it is of another kind. Then they stay distrusted.
func trusting(ctx context.Context, f *pattern.Fit) (*pattern.Fit, error) {
	risen := unexplainedVariance(f, total(f.Curves))
	textured := unexplainedVariance(f, withTexture(f))
	if countPositive(textured) == countPositive(risen) {
		return refine(ctx, f, risen)
	}
	var g, h *pattern.Fit
	err := both(func() (err error) { g, err = refine(ctx, f, risen); return err },
		func() (err error) { h, err = refine(ctx, f, textured); return err })
	if err != nil {
		return nil, err
	}
	if h.Kappa <= g.Kappa && countPositive(unexplainedVariance(h, total(h.Curves))) <= countPositive(risen)/2 {
		return h, nil
	}
	return g, nil
}

// both does two independent things at once: a fit alone does not fill two cores.
func both(one, other func() error) error {
	var group errgroup.Group
	group.Go(one)
	group.Go(other)
	return group.Wait()
}

// released looks for texture in a fit that has not failed.
func released(ctx context.Context, f *pattern.Fit, err error) (*pattern.Fit, error) {
	if err != nil {
		return nil, err
	}
	return pattern.ReleaseTexture(ctx, f)
}

// explained reports whether a fit has come to an end and leaves hardly any point to nobody.
func explained(f *pattern.Fit) bool {
	return f.Status == leastsq.Converged && countPositive(unexplainedVariance(f, total(f.Curves))) <= len(f.Fitted)/immaterial
}

// above returns the extra variance of all points that lie above a fit beyond chance, nil when there is none.
func above(f *pattern.Fit) []float64 {
	var out []float64
	for i, y := range f.Setup.Intensity {
		r := y - f.Fitted[i]
		if r > unexplainedSigma*f.Setup.Sigma[i] {
			if out == nil {
				out = make([]float64, len(f.Fitted))
			}
			out[i] = r * r
		}
	}
	return out
}

// immaterial is one over the share of points that decide nothing.
const immaterial = 1000

// countPositive counts points with an extra variance.
func countPositive(variance []float64) (n int) {
	for _, v := range variance {
		if v > 0 {
			n++
		}
	}
	return n
}

// unexplainedVariance returns the extra variance of points whose intensity belongs to no phase, nil when there is none: points that are seen
// more than twice as high as what phases may put there.
func unexplainedVariance(f *pattern.Fit, expected []float64) []float64 {
	var out []float64
	lines := total(f.Curves)
	for i, y := range f.Setup.Intensity {
		r := y - f.Fitted[i]
		if r > (1+unexplainedShare)*expected[i]-lines[i] && r*r > unexplainedSigma*unexplainedSigma*f.NoiseAt(i) {
			if out == nil {
				out = make([]float64, len(f.Fitted))
			}
			out[i] = r * r
		}
	}
	return out
}

// total returns the sum of curves, point by point.
func total(curves [][]float64) []float64 {
	out := make([]float64, len(curves[0]))
	for _, c := range curves {
		floats.Add(out, c)
	}
	return out
}

// withTexture returns the most that the phases of a fit could put at each point with texture of the kind that is fitted.
func withTexture(f *pattern.Fit) []float64 {
	bare := *f
	bare.Noise = make([]float64, len(f.Noise))
	for i := range bare.Noise {
		bare.Noise[i] = f.NoiseAt(i) // what was distrusted is looked at again
	}
	x := f.Setup.TwoTheta
	out := make([]float64, len(x))
	for p, curve := range f.Curves {
		factor := make([]float64, len(x))
		for _, l := range strengthened(&bare, p) {
			first := sort.SearchFloat64s(x, l.from)
			for i := first; i < len(x) && x[i] <= l.to; i++ {
				factor[i] = math.Max(factor[i], l.factor)
			}
		}
		for i, c := range curve {
			out[i] += c * math.Max(1, factor[i])
		}
	}
	return out
}

// lineReach is how many widths from its centre a line is looked for.
const lineReach = 2.5

// strongerLine is a line that texture makes stronger than it was fitted, by a factor, and where it lies, degrees 2θ.
type strongerLine struct{ from, to, factor float64 }

// strengthened returns the lines of phase number p that texture may have made stronger than they were fitted: March and
// Dollase's function bounds by how much, for any axis that is tried and any coefficient that a fit can take.
func strengthened(f *pattern.Fit, p int) (out []strongerLine) {
	phase, lines := f.Setup.Phases[p], f.Lines(p)
	var ratio []float64 // observed over expected
	for _, l := range telling(lines) {
		ratio = append(ratio, l.Observed/l.Expected)
	}
	if phase.Cell == nil || len(ratio) < fibreLines {
		return nil
	}
	scale := median(ratio)
	for _, l := range lines {
		if len(l.Line.Families) == 0 || !(l.Fitted > 0) {
			continue
		}
		if k := mostTextured(phase, l.Line) * scale * l.Expected / l.Fitted; k > 1 {
			end := l.TwoTheta // where the doublet ends
			if a, ok := xrd.TwoTheta(l.Line.D, f.Setup.Radiation.KAlpha2); ok {
				start, _ := xrd.TwoTheta(l.Line.D, f.Setup.Radiation.KAlpha1)
				end += a - start
			}
			out = append(out, strongerLine{l.TwoTheta - lineReach*l.FWHM, end + lineReach*l.FWHM, k})
		}
	}
	return out
}

// mostTextured returns the largest factor that texture about any axis that is tried can give a line.
func mostTextured(p refdata.Phase, l refdata.Line) float64 {
	most := 1.0
	for _, pole := range pattern.PoleChoices(p) {
		for _, logR := range []float64{-1, -0.5, 0.5, 1} {
			across, _ := Fibre{Pole: pole, R: math.Exp(logR)}.factors(p, l)
			most = math.Max(most, across)
		}
	}
	return most
}
