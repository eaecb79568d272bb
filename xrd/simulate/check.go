package simulate

import (
	"fmt"
	"math"
)

const (
	mostPoints = 1_000_000
	sumWithin  = 0.5  // wt% by which fractions may miss 100: what rounding leaves
	mostCounts = 1e12 // beyond which counts are no whole numbers any more
)

// check refuses what nobody can scan, in one line that says what to do.
func (j Job) check() error {
	for _, c := range []struct {
		name        string
		v, lo, hi   float64
		zeroAllowed bool
		unit        string
	}{
		{"range from", j.Lo, 0.5, 170, false, "°"}, {"range to", j.Hi, 1, 175, false, "°"}, {"step", j.Step, 1e-4, 1, false, "°"},
		{"time", j.Time, 1e-6, 1e6, false, " s"}, {"count rate", j.Rate, 1e-3, 1e9, false, " counts/s"}, {"background", j.Background, 0, 1e9, true, " counts/s"},
		{"air", j.Air, 0, 1e9, true, " counts/s"}, {"radius", j.Instrument.Radius, 10, 10000, false, " mm"}, {"specimen length", j.Specimen.Length, 1e-3, 10000, true, " mm"},
		{"displacement", j.Displacement, -1, 1, true, " mm"}, {"Kβ", j.KBeta, 0, 0.3, true, " of Kα"}, {"W Lα", j.WLAlpha, 0, 0.2, true, " of Kα"},
		{"edge step", j.EdgeStep, 0, 1, true, " per degree"}, {"scatter of lines", j.LineScatter, 0, 2, true, ""},
		{"diameter of grains", j.Grain, 1e-3, 1000, true, " µm"},
	} {
		if c.zeroAllowed && c.v == 0 {
			continue
		}
		if !(c.v >= c.lo && c.v <= c.hi) {
			return fmt.Errorf("%w: %s %g; give %g to %g%s", ErrInput, c.name, c.v, c.lo, c.hi, c.unit)
		}
	}
	if !(j.Intercept >= 0) {
		return fmt.Errorf("%w: mean intercept %g µm; give a length above 0, or inf for grains much larger than the beam reaches", ErrInput, j.Intercept)
	}
	if n := (j.Hi - j.Lo) / j.Step; !(n >= 20 && n < mostPoints) {
		return fmt.Errorf("%w: range %g° to %g° in steps of %g°; give 20 to %d points", ErrInput, j.Lo, j.Hi, j.Step, mostPoints)
	}
	if !(j.Rate*j.Time < mostCounts) {
		return fmt.Errorf("%w: %g counts/s for %g s are more than can be counted", ErrInput, j.Rate, j.Time)
	}
	for _, h := range j.Haloes {
		if !(h.D > 0.3 && h.D < 100) || !(h.Width >= 1 && h.Width <= 60) || !(h.Height >= 0 && h.Height <= 1e9) {
			return fmt.Errorf("%w: halo at %g Å, %g° wide, %g counts/s; give a spacing of 0.3 to 100 Å, a width of 1 to 60° and a height not below 0", ErrInput, h.D, h.Width, h.Height)
		}
	}
	return j.checkComponents()
}

func (j Job) checkComponents() error {
	var sum float64
	seen := map[string]bool{}
	for _, c := range j.Components {
		id := c.Phase.ID
		switch {
		case seen[id]:
			return fmt.Errorf("%w: phase %s is named twice; add its fractions up", ErrInput, id)
		case !(c.WeightPercent >= 0 && c.WeightPercent <= 100):
			return fmt.Errorf("%w: phase %s with %g wt%%; give 0 to 100", ErrInput, id, c.WeightPercent)
		case c.SizeNM != 0 && !(c.SizeNM >= 1 && c.SizeNM <= 1e5):
			return fmt.Errorf("%w: crystallites of %s of %g nm; give 1 to 100000", ErrInput, id, c.SizeNM)
		case !(c.Strain >= 0 && c.Strain <= 0.01):
			return fmt.Errorf("%w: strain of %s of %g; give 0 to 0.01", ErrInput, id, c.Strain)
		case c.Pole != [3]int{} && !(c.March >= 0.21 && c.March <= 4.9):
			return fmt.Errorf("%w: texture of %s with r = %g; give 0.21 (plates) to 4.9 (needles), 1 for none", ErrInput, id, c.March)
		case !(math.Abs(c.Stretch) <= 0.05):
			return fmt.Errorf("%w: cell of %s stretched by %g; give −0.05 to 0.05", ErrInput, id, c.Stretch)
		}
		seen[id] = true
		sum += c.WeightPercent
	}
	if !(math.Abs(sum-100) <= sumWithin) {
		return fmt.Errorf("%w: the fractions add up to %g wt%%; they must add up to 100", ErrInput, sum)
	}
	return nil
}
