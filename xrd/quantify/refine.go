package quantify

import (
	"context"

	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

const (
	straySigma = 4.0 // residual over its noise from which intensity may be nobody's
	strayShare = 1.0 // and over what the phases put there: less is a line that is stronger than expected
)

// Refine fits a pattern again for fractions. A search distrusts every point where more is seen than its phases explain,
// since phases may be missing; fractions come out too small for a phase whose lines scatter if they are kept so. Only
// points where next to nothing is expected stay distrusted, and texture is looked for with all lines in their right.
func Refine(ctx context.Context, f *pattern.Fit) (*pattern.Fit, error) {
	s := f.Setup
	s.Doubt, s.Poles = stray(f), nil
	s.Start = f.Restart(pattern.FullFit)
	g, err := pattern.Run(ctx, s, pattern.Full)
	return released(ctx, g, err)
}

// FitKnown fits phases that are all known for fractions. The start of the setup may be that of another scan; its doubt is for
// a quick fit, to begin with nothing. Most scans are explained at once. Where points are left to nobody, phases or textures
// may be missing, and the pattern is first fitted without regard to anything that rises above it.
func FitKnown(ctx context.Context, s pattern.Setup) (*pattern.Fit, error) {
	careful := s
	s.Doubt = nil
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
	s.Doubt = above(quick)
	f, err = pattern.Run(ctx, s, pattern.Full)
	if f, err = released(ctx, f, err); err != nil {
		return nil, err
	}
	return Refine(ctx, f)
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
	return f.Status == leastsq.Converged && doubted(stray(f)) <= len(f.Fitted)/immaterial
}

// above returns the extra variance of all points that lie above a fit beyond chance, nil when there is none.
func above(f *pattern.Fit) []float64 {
	var out []float64
	for i, y := range f.Setup.Intensity {
		r := y - f.Fitted[i]
		if r > straySigma*f.Setup.Sigma[i] {
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

// doubted counts points with an extra variance.
func doubted(variance []float64) (n int) {
	for _, v := range variance {
		if v > 0 {
			n++
		}
	}
	return n
}

// stray returns the extra variance of points whose intensity belongs to no phase, nil when there is none.
func stray(f *pattern.Fit) []float64 {
	var out []float64
	for i, y := range f.Setup.Intensity {
		var lines float64
		for _, c := range f.Curves {
			lines += c[i]
		}
		r := y - f.Fitted[i]
		if r > strayShare*lines && r*r > straySigma*straySigma*f.NoiseAt(i) {
			if out == nil {
				out = make([]float64, len(f.Fitted))
			}
			out[i] = r * r
		}
	}
	return out
}
