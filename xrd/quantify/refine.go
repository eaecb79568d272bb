package quantify

import (
	"context"

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
	s.Start = pattern.Start{Values: f.Values(), Kappa: f.Kappa, Knots: f.Knots, From: pattern.FullFit}
	return textured(ctx, s)
}

// Complete makes a fit for fractions of a quick one of phases that are all known, which are as good a start as from says.
// Most scans are explained at once. Where points are left to nobody, phases or textures may be missing, and the pattern is
// first fitted without regard to anything that rises above it.
func Complete(ctx context.Context, quick *pattern.Fit, from pattern.Source) (*pattern.Fit, error) {
	s := quick.Setup
	s.Doubt = nil
	s.Start = pattern.Start{Values: quick.Values(), Kappa: quick.Kappa, From: from}
	f, err := pattern.Run(ctx, s, pattern.Full)
	if err != nil {
		return nil, err
	}
	if doubted(stray(f)) <= len(f.Fitted)/immaterial {
		return pattern.ReleaseTexture(ctx, f)
	}
	s.Doubt = above(quick)
	if f, err = textured(ctx, s); err != nil {
		return nil, err
	}
	return Refine(ctx, f)
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

// textured fits fully and looks for texture.
func textured(ctx context.Context, s pattern.Setup) (*pattern.Fit, error) {
	f, err := pattern.Run(ctx, s, pattern.Full)
	if err != nil {
		return nil, err
	}
	return pattern.ReleaseTexture(ctx, f)
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
		noise := f.Noise[i]
		if f.Setup.Doubt != nil {
			noise -= f.Setup.Doubt[i]
		}
		if r > strayShare*lines && r*r > straySigma*straySigma*noise {
			if out == nil {
				out = make([]float64, len(f.Fitted))
			}
			out[i] = r * r
		}
	}
	return out
}
