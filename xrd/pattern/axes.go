package pattern

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"

	"phasetally/refdata"
)

// The axis of a texture is chosen among fits. A fit that has only scales, background, displacement parameters and textures free
// tells for each axis −2 ln L = Σ (r²/V + ln V), V with the misfit that is left. Many axes put nearly the same factors on lines
// (a pole that turns away from the normal is much like one at right angles to it that turns towards it), and noise would
// decide between them, in one scan this way and in the next that way. Two models that are not nested are compared by the sum of
// the differences of ln L at the points over its standard deviation, √n times that of a point (Vuong, Econometrica 57 (1989) 307, from
// memory), widened for serial correlation. Of the axes that the best is not surely better than, the one with the densest planes
// is taken.

// axisTrial is an axis that the lines of a phase ask for.
type axisTrial struct {
	pole [3]int
	logR float64
	chi2 float64 // of the lines
}

const (
	mostTrials = 3   // axes that are fitted, the best by the lines of the phase
	surely     = 2.0 // standard deviations by which one axis must be better than another (common practice)
)

// bestAxis returns the axis of a phase that fits tell, with ln r; false when its lines ask for none. Axes that are decided leave no
// choice. set is the setup so far, most how many axes are fitted.
func bestAxis(ctx context.Context, f *Fit, p int, set Setup, most int) (pole [3]int, logR float64, ok bool, err error) {
	phase := f.Setup.Phases[p]
	axes := poleChoices(phase)
	if decided, ok := set.Axes[phase.ID]; ok {
		axes = [][3]int{decided}
	}
	trials := rankAxes(f.Lines(p), phase, axes)
	trials = trials[:min(len(trials), most)]
	switch len(trials) {
	case 0:
		return pole, 0, false, nil
	case 1:
		return trials[0].pole, trials[0].logR, true, nil
	}
	fits := make([]*Fit, len(trials))
	for i, t := range trials {
		if fits[i], err = withAxis(ctx, set, p, t.pole, t.logR); err != nil {
			return pole, 0, false, err
		}
	}
	best := chooseAxis(phase, [][]*Fit{fits})
	k := slices.IndexFunc(fits[best].Parameters, func(q Parameter) bool { return q.Kind == TextureLogR && q.Phase == p })
	return trials[best].pole, fits[best].Parameters[k].Value, true, nil
}

// JointAxis returns which of some axes suits a phase best in several scans: its textures may differ, not their axis. The fits
// are taken as they are, but for the texture of that phase; those without it have no say. It is false when no scan tells.
func JointAxis(ctx context.Context, fits []*Fit, phase refdata.Phase, axes [][3]int) ([3]int, bool, error) {
	var trials [][]*Fit
	for _, f := range fits {
		p := slices.IndexFunc(f.Setup.Phases, func(q refdata.Phase) bool { return q.ID == phase.ID })
		if p < 0 {
			continue
		}
		set := f.Setup
		set.Start = f.Restart(FullFit)
		if set.Poles == nil {
			set.Poles = make([][][3]int, len(set.Phases))
		}
		var own []*Fit
		for _, axis := range axes {
			g, err := withAxis(ctx, set, p, axis, set.Start.Values[Key{TextureLogR, phase.ID, axis}])
			if err != nil {
				return [3]int{}, false, err
			}
			own = append(own, g)
		}
		trials = append(trials, own)
	}
	if len(trials) == 0 || len(axes) == 0 {
		return [3]int{}, false, nil
	}
	return axes[chooseAxis(phase, trials)], true, nil
}

// chooseAxis returns the number of the best axis of a phase: trials[i][k] is the fit of scan i with axis k.
func chooseAxis(phase refdata.Phase, trials [][]*Fit) int {
	n := len(trials[0])
	total := make([]float64, n)
	for _, scan := range trials {
		for k, f := range scan {
			total[k] += f.deviance()
		}
	}
	best := 0
	for k := range total {
		if total[k] < total[best] {
			best = k
		}
	}
	choice := best
	for k := range n {
		if densityOf(phase, trials[0][k]) > densityOf(phase, trials[0][choice]) && !surelyBetter(trials, best, k) {
			choice = k
		}
	}
	return choice
}

// densityOf is the density of the planes that a phase has for axis in a fit.
func densityOf(phase refdata.Phase, f *Fit) float64 {
	for p, q := range f.Setup.Phases {
		if q.ID == phase.ID {
			return density(phase, f.Setup.Poles[p][0])
		}
	}
	return 0
}

// rankAxes returns the axes whose texture explains more of the scatter of lines than chance, with ln r, best first.
func rankAxes(lines []LineFit, p refdata.Phase, axes [][3]int) []axisTrial {
	if p.Cell == nil || !indexed(p) {
		return nil
	}
	lines = slices.DeleteFunc(slices.Clone(lines), func(l LineFit) bool {
		return !l.Covered || l.Clear < 0.5 || !(l.MisfitU > 0) || !(l.Expected > 3*l.ObservedU || l.Observed > 5*l.ObservedU)
	})
	if len(lines) < textureLines {
		return nil
	}
	rotations, g := laueGroup(p), p.Cell.Reciprocal()
	factors := make([]float64, len(lines))
	most := LineChiSquare(lines, nil) - textureGain - 2*math.Log(float64(len(axes))/usualAxes) // the best of more trials gains more by chance
	var out []axisTrial
	for _, axis := range axes {
		cosines := make([][][]float64, len(lines))
		for i, l := range lines {
			cosines[i] = poleCosines(l.Line, axis, rotations, g)
		}
		best := axisTrial{pole: axis, chi2: most}
		for logR := -1.0; logR <= 1.0; logR += 0.05 {
			if math.Abs(logR) < textureLeast {
				continue
			}
			for i, l := range lines {
				factors[i], _ = textureFactor(l.Line, cosines[i], math.Exp(logR))
			}
			if chi2 := LineChiSquare(lines, factors); chi2 < best.chi2 {
				best.chi2, best.logR = chi2, logR
			}
		}
		if best.logR != 0 {
			out = append(out, best)
		}
	}
	slices.SortStableFunc(out, func(a, b axisTrial) int { return cmp.Compare(a.chi2, b.chi2) })
	if len(out) == 0 {
		return nil
	}
	// What the best axis leaves unexplained is the scale on which the others are worse.
	left := math.Max(1, out[0].chi2/math.Max(1, float64(len(lines)-2)))
	near := slices.IndexFunc(out, func(t axisTrial) bool { return t.chi2 > out[0].chi2+textureGain*left })
	if near >= 0 {
		out = out[:near]
	}
	return out
}

// withAxis fits a setup with one axis for a phase, from ln r, all but displacement parameters and textures held.
func withAxis(ctx context.Context, set Setup, p int, pole [3]int, logR float64) (*Fit, error) {
	set.Poles = slices.Clone(set.Poles)
	set.Poles[p] = [][3]int{pole}
	set.Start.Values = maps.Clone(set.Start.Values)
	set.Start.Values[Key{TextureLogR, set.Phases[p].ID, pole}] = logR // in a cubic phase nothing changes to first order at r = 1
	return Run(ctx, set, compare)
}

// deviance returns −2 ln L of a fit under its own variances, but for a constant.
func (f *Fit) deviance() (sum float64) {
	for i := range f.Fitted {
		sum += f.devianceAt(i)
	}
	return sum
}

func (f *Fit) devianceAt(i int) float64 {
	r := f.Setup.Intensity[i] - f.Fitted[i]
	return r*r/f.Variance[i] + math.Log(f.Variance[i])
}

// surelyBetter reports whether axis a is better than axis b in all scans together, beyond chance.
func surelyBetter(trials [][]*Fit, a, b int) bool {
	var gain, variance float64
	for _, scan := range trials {
		var sum, squares float64
		n := float64(len(scan[a].Fitted))
		for i := range scan[a].Fitted {
			d := scan[b].devianceAt(i) - scan[a].devianceAt(i)
			sum += d
			squares += d * d
		}
		correlated := math.Max(scan[a].Agreement.BerarLelann, scan[b].Agreement.BerarLelann)
		gain += sum
		variance += math.Max(0, squares-sum*sum/n) * correlated * correlated
	}
	return gain > surely*math.Sqrt(variance)
}

// density is the largest product of spacing and |F| among the orders of planes, 0 when none reflects: how likely grains have
// faces along them or cleave there. Between planes of a lattice the wider spacing tells (Bravais, Friedel, Donnay & Harker); that the
// atoms lie in the planes, and not between them, shows in how strongly they scatter: the cleavage of calcite, 104, before
// 012, which is wider and weak.
func density(p refdata.Phase, pole [3]int) (most float64) {
	rotations := laueGroup(p)
	for _, l := range p.Lines {
		for _, f := range l.Families {
			n := gcd(gcd(f.H, f.K), f.L)
			if n == 0 || !equivalent(rotations, [3]int{f.H / n, f.K / n, f.L / n}, pole) {
				continue
			}
			amplitude := math.Sqrt(f.F2)
			if !(amplitude > 0) {
				amplitude = math.Sqrt(l.Intensity)
			}
			most = math.Max(most, l.D*amplitude)
		}
	}
	return most
}
