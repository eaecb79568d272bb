package pattern

import (
	"cmp"
	"context"
	"math"
	"slices"

	"phasetally/refdata"
)

// poleChoices returns the texture axes worth trying for a phase: low-index planes that grains grow, cleave or are drawn along
// (common practice), and the densest planes of its lattice, on which grains have their faces and cleave: those of the largest
// spacing that reflect, glide planes and screw axes counted (law of Bravais, Friedel, Donnay & Harker, Am. Mineral. 22 (1937)
// 446, from memory). So the carbonates have their rhombohedron 104. In cubic lattices the usual ones are these.
func poleChoices(p refdata.Phase) [][3]int {
	out := usualPoles(p.System)
	if p.System == refdata.Cubic || p.Cell == nil {
		return out
	}
	lines := slices.Clone(p.Lines)
	slices.SortStableFunc(lines, func(a, b refdata.Line) int { return cmp.Compare(b.D, a.D) })
	rotations := laueGroup(p)
	for _, l := range lines[:min(denseFaces, len(lines))] {
		if len(l.Families) == 0 {
			continue
		}
		f := l.Families[0]
		n := gcd(gcd(f.H, f.K), f.L)
		if n == 0 {
			continue
		}
		pole := [3]int{f.H / n, f.K / n, f.L / n}
		if !slices.ContainsFunc(out, func(q [3]int) bool { return equivalent(rotations, pole, q) }) {
			out = append(out, pole)
		}
	}
	return out
}

// denseFaces is how many spacings are looked at for faces: crystals show a few forms only (common practice).
const denseFaces = 4

// usualPoles returns the axes of a crystal system.
func usualPoles(s refdata.CrystalSystem) [][3]int {
	switch s {
	case refdata.Cubic:
		return [][3]int{{1, 1, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Hexagonal, refdata.Tetragonal:
		return [][3]int{{0, 0, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Rhombohedral:
		return [][3]int{{1, 1, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Monoclinic:
		return [][3]int{{0, 0, 1}, {0, 1, 0}, {1, 0, 0}, {1, 1, 0}}
	}
	return [][3]int{{0, 0, 1}, {0, 1, 0}, {1, 0, 0}}
}

// equivalent reports whether symmetry takes planes a to planes b.
func equivalent(rotations [][9]int, a, b [3]int) bool {
	return slices.ContainsFunc(rotations, func(r [9]int) bool {
		h := applied(r, a)
		return h == b || h == [3]int{-b[0], -b[1], -b[2]}
	})
}

// gcd returns the greatest common divisor, not negative.
func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

const (
	textureLines   = 3    // lines that a phase must show before texture can be told from composition
	textureGain    = 12.0 // reduction of χ² over lines that makes an axis worth a fit
	usualAxes      = 3.0  // trials that textureGain is meant for
	textureScatter = 0.03 // relative scatter of lines that needs no explanation
	textureLeast   = 0.03 // |ln r| below which an axis is not worth a parameter
)

// ReleaseTexture tries a texture axis for every phase whose lines scatter more than they should, the one that fits decide for,
// and returns the refined fit when an information criterion (n ln χ² + k ln n) approves, else the fit as it was.
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
	g, err := Run(ctx, s, Full)
	if err != nil {
		return nil, err
	}
	if criterion(g) < criterion(f) {
		return g, nil
	}
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
