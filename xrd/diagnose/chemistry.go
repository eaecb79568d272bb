package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

const (
	chemistryZ   = 3.0  // PRACTICE: |z| > 3 is a mismatch
	chemistryRel = 0.03 // relative uncertainty of measured chemistry when none is given (common practice)
)

// chemistry compares the measured chemistry with what the fractions of the phases add up to: of the whole specimen where a standard
// tells them, whose amorphous part may hold what the phases lack.
func chemistry(e Evidence) []xrd.Caution {
	if len(e.Facts.Composition) == 0 || len(e.Amounts.Roles) == 0 || len(e.Amounts.Answer.Withheld) > 0 {
		return nil
	}
	var off []string
	room := 0.0 // wt% of the specimen that is amorphous and may hold any element
	if e.absolute() {
		room = math.Max(0, e.Amounts.Answer.Amorphous.Hi)
	}
	for _, c := range e.Facts.Composition {
		sum, u := elementShare(e, c.Symbol)
		within := chemistryZ * math.Hypot(u, c.GivenU())
		if sum-c.WeightPercent > within || c.WeightPercent-sum-room > within {
			off = append(off, fmt.Sprintf("%s %.1f wt%% from the phases, %.1f measured", c.Symbol, sum, c.WeightPercent))
		}
	}
	if len(off) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "chemistry-mismatch", Severity: xrd.SeverityCaution, Text: "The phases do not add up to the measured chemistry: " + strings.Join(off, "; ") + ".",
		Remedy: "Look for a missed or amorphous phase, a solid solution, texture, or an element that was not measured.", Evidence: map[string]any{"elements": len(off)}}}
}

// GivenU returns the standard uncertainty of a measured amount, wt%.
func (c ElementAmount) GivenU() float64 {
	if c.U > 0 {
		return c.U
	}
	return math.Max(0.5, chemistryRel*c.WeightPercent)
}

// elementShare returns the wt% of an element in the specimen's phases and its standard uncertainty.
func elementShare(e Evidence, symbol string) (percent, u float64) {
	shares := make([]float64, len(e.Amounts.Roles))
	for i, p := range e.Explanation.Fit.Setup.Phases {
		if e.Amounts.Roles[i] != quantify.Specimen {
			continue
		}
		for _, e := range p.Composition {
			if strings.EqualFold(e.Symbol, symbol) {
				shares[i] += e.MassFraction
			}
		}
	}
	if e.absolute() {
		return absoluteShare(e, shares)
	}
	var variance float64
	for i, a := range shares {
		if a > 0 {
			percent += a * e.Amounts.Answer.Fractions[i].Weight.Percent
		}
		for j, b := range shares {
			variance += a * b * e.Amounts.Answer.Covariance[i][j]
		}
	}
	return percent, math.Sqrt(math.Max(0, variance))
}

// absolute reports whether a standard tells what the phases are of the whole specimen.
func (e Evidence) absolute() bool {
	for i, role := range e.Amounts.Roles {
		if role == quantify.Specimen && !(e.Amounts.Answer.Fractions[i].Original.Percent > 0) {
			return false
		}
	}
	return e.Amounts.Answer.Amorphous != nil
}

// absoluteShare is the same of the whole specimen, which a standard tells: its phases' amounts share the error of the standard, so that
// their uncertainties add up.
func absoluteShare(e Evidence, shares []float64) (percent, u float64) {
	for i, a := range shares {
		if f := e.Amounts.Answer.Fractions[i].Original; a > 0 && !math.IsNaN(f.Percent) {
			percent += a * f.Percent
			u += a * (f.Hi - f.Lo) / (2 * 1.96)
		}
	}
	return percent, u
}
