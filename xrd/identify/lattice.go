package identify

import (
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// darkPlaces returns how many peaks lie where the lattice of a cubic match has planes whose lines its structure forbids, so that a phase of the same
// cell, with its atoms in another order, may be there in its place: sylvite (a = 6.293 Å) has all lines of molybdenum (3.147 Å) and more
// between them, NiAl all of chromium. In a cubic cell (a/d)² is a whole number; those of other systems meet every place. So may a phase of twice the cell,
// centred on its faces, whose lines between have odd indices: silver bromide (a = 5.775 Å) has all lines of NiAl (2.887 Å), and 111 and 311. One such place
// is easily met; two different ones are not. Peaks are given by their angles, degrees 2θ.
func (s *search) darkPlaces(m *Match, angles []float64) (n int) {
	if m.Required || m.atBound || m.Phase.System != refdata.Cubic || m.Phase.Cell == nil {
		return 0
	}
	a := m.Phase.Cell.A * (1 + m.shift)
	shift, shiftU := displacementOf(s.fit)
	odd := map[float64]bool{}
	for _, at := range angles {
		own := slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return math.Abs(l.TwoTheta-at) <= l.FWHM })
		d, ok := xrd.DSpacing(at-s.fit.Setup.Instrument.Shift(at, shift), s.fit.Setup.Radiation.KAlpha1)
		if own || !ok {
			continue
		}
		square := (a / d) * (a / d)
		if whole := math.Round(square); whole >= 1 && whole <= policy.Cells.DarkMost && math.Abs(square/whole-1) <= 2*policy.Cells.Own {
			n++
		}
		// A cell of few lines is known with the displacement only; d(ln d)/dθ = −cot θ.
		reach := 2*policy.Cells.Own + 2*math.Abs(xrd.Radians(s.fit.Setup.Instrument.Shift(at, shiftU)))/math.Tan(xrd.Radians(at/2))
		for _, whole := range oddSquares {
			if math.Abs(4*square/whole-1) <= reach {
				odd[whole] = true
			}
		}
	}
	if len(odd) >= 2 {
		n += len(odd)
	}
	return n
}

// oddSquares are h² + k² + l² of 111, 311 and 331, of which each place takes up 0.3 % of the range; beyond, places lie too dense.
var oddSquares = []float64{3, 11, 19}

// unaccounted returns the angles of the peaks that no firm name accounts for: those that are left, in peaks or in what the fit leaves, and those that
// only phases explain which may stand in for missing ones.
func (s *search) unaccounted() (angles []float64) {
	for _, l := range s.coverage.Left {
		angles = append(angles, l.TwoTheta)
	}
	if s.fit == nil {
		return angles
	}
	rest := NewLeftover(s.fit)
	for _, p := range s.found {
		area, u, ok := rest.At(p)
		if p.Kind == peaks.KAlpha && ok && area > policy.Coverage.LeftSigma*u && area > policy.Coverage.LeftShare*p.Area && !slices.Contains(angles, p.TwoTheta) {
			angles = append(angles, p.TwoTheta)
		}
	}
	for _, m := range s.matches {
		if !slices.Contains(s.coverage.Doubted, m.Phase.ID) {
			continue
		}
		for _, l := range m.Lines {
			if l.Own() && l.Seen() {
				angles = append(angles, l.TwoTheta)
			}
		}
	}
	return angles
}

// darkWords says what peaks at the forbidden places of a lattice mean.
func darkWords(n int) string {
	what := "one peak that no firm name accounts for lies"
	if n > 1 {
		what = fmt.Sprintf("%d peaks that no firm name accounts for lie", n)
	}
	return what + " where its cell, or one of twice its edge, has planes whose lines its structure forbids: a phase of that cell with its atoms in another order may be there in its place"
}
