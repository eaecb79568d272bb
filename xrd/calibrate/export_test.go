package calibrate

import (
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
