package calibrate

import (
	"math"
	"testing"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Rescale returns a standard whose cell is larger by a factor: specimens of simulated scans need not have the
// certified one.
func Rescale(t testing.TB, s Standard, factor float64) Standard {
	t.Helper()
	s.A, s.C = s.A*factor, s.C*factor
	out, err := s.complete()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// LinesOf returns the lines of a standard.
func LinesOf(t testing.TB, s Standard, r xrd.Radiation, most float64) []refdata.Line {
	t.Helper()
	p, err := s.structure.Phase(refdata.Beam{Radiation: r, MaxTwoTheta: most})
	if err != nil {
		t.Fatal(err)
	}
	return p.Lines
}

// FitPositions fits zero and displacement to lines by least squares: observed − reference = zero − 2 s cos θ/R. When the
// lines scatter more than their uncertainties say, the result is as uncertain as the scatter; without uncertainties the
// scatter alone speaks, which needs three lines. Fewer lines, lines at one angle only, or values that are not finite are
// ErrTooFewLines.
func FitPositions(positions []Position, radius float64) (Shift, error) {
	return fitPositions(positions, radius, [2]float64{math.Inf(1), math.Inf(1)})
}

// Standards returns the standards that are known by name, the present issue of each first.
func Standards() []Standard { return append([]Standard(nil), certified...) }
