package pattern

import (
	"context"
	"math"
)

const (
	textureLines   = 3    // lines that a phase must show before texture can be told from composition
	textureGain    = 12.0 // reduction of χ² over lines that makes an axis worth a fit
	usualAxes      = 3.0  // trials that textureGain is meant for
	textureScatter = 0.03 // relative scatter of lines that needs no explanation
	textureLeast   = 0.03 // |ln r| below which an axis is not worth a parameter
)

// ReleaseTexture tries a texture axis for every phase whose lines scatter more than they should, the one that fits decide for,
// and returns the refined fit when an information criterion (n ln χ² + k ln n) approves, else the fit as it was; the work of both is counted.
func ReleaseTexture(ctx context.Context, f *Fit) (*Fit, error) { return release(ctx, f, mostTrials) }

// RoughTexture is ReleaseTexture with the axes that lines alone let expect, for fits on the way and where names are asked for, not
// fractions.
func RoughTexture(ctx context.Context, f *Fit) (*Fit, error) { return release(ctx, f, 1) }

// release tries so many axes for a phase.
func release(ctx context.Context, f *Fit, trials int) (*Fit, error) {
	s := f.Setup
	s.Start = f.Restart(FullFit)
	s.Poles = make([][][3]int, len(s.Phases))
	if f.Setup.Poles != nil {
		copy(s.Poles, f.Setup.Poles)
	}
	some := false
	for p, phase := range s.Phases {
		if len(s.Poles[p]) > 0 {
			continue
		}
		pole, logR, ok, err := bestAxis(ctx, f, p, s, trials)
		if err != nil {
			return nil, err
		}
		if ok {
			s.Poles[p] = [][3]int{pole}
			s.Start.Values[Key{TextureLogR, phase.ID, pole}] = logR // in a cubic phase nothing changes to first order at r = 1
			some = true
		}
	}
	if !some {
		return f, nil
	}
	g, err := RunWithin(ctx, s, Full, f.workLeft())
	if err != nil {
		return nil, err
	}
	work := f.Work + g.Work
	if criterion(g) < criterion(f) {
		f = g
	}
	f.Work = work
	return f, nil
}

// criterion is the Bayesian information criterion with the scale of the residuals unknown.
func criterion(f *Fit) float64 {
	n := float64(len(f.Fitted))
	var chi2 float64
	for i, y := range f.Setup.Intensity {
		r := y - f.Fitted[i]
		chi2 += r * r / f.Noise[i]
	}
	linear, nonlinear := f.model.linear(), len(f.model.free)
	return n*math.Log(chi2/n) + float64(linear+nonlinear)*math.Log(n)
}

// LineChiSquare returns χ² of observed against factor × expected intensities at the best common scale; nil factors are
// all 1.
func LineChiSquare(lines []LineFit, factors []float64) float64 {
	var oe, ee, oo float64
	for i, l := range lines {
		e := l.Expected
		if factors != nil {
			e *= factors[i]
		}
		scatter := textureScatter * math.Max(l.Expected, l.Observed)
		w := 1 / (l.ObservedU*l.ObservedU + scatter*scatter)
		oe += w * l.Observed * e
		ee += w * e * e
		oo += w * l.Observed * l.Observed
	}
	return oo - oe*oe/ee
}
