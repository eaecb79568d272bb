package listfile

import (
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// A stated I/Ic is compared with what formula and intensities make of it. Atoms scatter as if each were alone when the mean is taken over
// many reflections, ⟨|F|²⟩ = Σ f² (A. J. C. Wilson, Nature 150 (1942) 152, from memory): so all lines of a gram have together, between two
// spacings, 4π N_A Σ x f²/M ∫ LP q² dq, and the list tells which part of it is the strongest line's.
const (
	// fewestLines is from how many lines on a mean over reflections means something.
	fewestLines = 5
	// farFromExpected is by which factor a ratio may be off. Of the 178 phases of the starter collection, with Cr, Cu and Mo, those with
	// five lines or more are off by up to 2; a list that leaves out weak lines, or was measured on plates, may be off by 2 more.
	farFromExpected = 5.0
	// meanDisplacement is an ordinary displacement parameter B, Å² (common practice).
	meanDisplacement = 0.6
	// corundumLine is m|F|²/(V²ρ) of corundum 113: 12 reflections with |F|² = 5592.9 in 254.82 Å³ of 3.9864 g/cm³ (package structure).
	corundumLine = 12 * 5592.9 / (254.82 * 254.82 * 3.9864)
)

// ratio refuses an I/Ic that is of another order of magnitude than formula and intensities allow: a slipped decimal point, or the value of
// another phase, would give wrong fractions that look sure.
func (b *builder) ratio(t *table) error {
	l := &b.out
	f, err := refdata.ParseFormula(l.Formula)
	if err != nil || !(l.RIR.Value > 0) || len(l.Rows) < fewestLines {
		return nil
	}
	beam, err := l.beam(refdata.Beam{})
	if err != nil {
		return err
	}
	expected := expectedRatio(f.Composition(), l.Rows, beam)
	if !(expected > 0) || math.IsInf(expected, 0) { // lines that the beam cannot reach, or an element without a weight
		return nil
	}
	if off := l.RIR.Value / expected; off > farFromExpected || off < 1/farFromExpected {
		t.line = b.texts["rir"].line
		return t.refuse(fmt.Errorf("%w: rir is %g, and with the intensities of the list %s has about %.2g", ErrConflict, l.RIR.Value, l.Formula, expected),
			"correct rir, formula or intensities")
	}
	return nil
}

// expectedRatio estimates I/Ic, for the beam of the intensities.
func expectedRatio(shares []refdata.ElementShare, rows []Row, beam refdata.Beam) float64 {
	lo, hi, sum, top := math.Inf(1), 0.0, 0.0, 0.0
	for _, row := range rows {
		lo, hi = math.Min(lo, 1/row.D), math.Max(hi, 1/row.D)
		sum, top = sum+row.Intensity, math.Max(top, row.Intensity)
	}
	hi = math.Min(hi, 2*math.Sin(xrd.Radians(highest)/2)/beam.Radiation.KAlpha1)
	lp := func(q float64) float64 {
		return xrd.LorentzPolarization(2*xrd.Degrees(math.Asin(q*beam.Radiation.KAlpha1/2)), beam.Monochromator.PolarizationRatio())
	}
	const steps = 200
	total, step := 0.0, (hi-lo)/steps
	for i := range steps {
		q := lo + (float64(i)+0.5)*step
		f2 := 0.0
		for _, s := range shares {
			e, _ := element.Lookup(s.Symbol)
			f2 += s.MassFraction / e.Weight * math.Pow(e.F0(q*q/4), 2)
		}
		total += 4 * math.Pi * q * q * f2 * math.Exp(-meanDisplacement*q*q/2) * lp(q) * step
	}
	return avogadro * total * top / sum / (corundumLine * lp(1/corundum113))
}
