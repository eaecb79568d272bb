package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
)

// ErrTooFewLines says that positions cannot be fitted; test with errors.Is.
var ErrTooFewLines = errors.New("too few lines")

// A Position is where one line was seen and where it should be, degrees 2θ.
type Position struct {
	Reference, Observed float64 // degrees 2θ
	U                   float64 // standard uncertainty of Observed; 0 in all: not known, taken from the scatter
}

// A Shift is the zero and the displacement that explain why lines lie off their places.
type Shift struct {
	Zero, ZeroU                 float64       // degrees 2θ
	Displacement, DisplacementU float64       // mm
	Radius                      float64       // mm, of the goniometer
	Correlation                 float64       // of the shifts that the two cause; near −1 where the angles span little
	Covariance                  [2][2]float64 // zero, displacement
	ResidualSD                  float64       // degrees: √(Σ r²/(n − 2)) of the positions; NaN for two lines
	ChiSquare                   float64       // Σ (r/u)²; 0 when uncertainties are not known
	Residuals                   []float64     // degrees, parallel to the positions
}

// At returns the shift of both together at an angle and its standard uncertainty, degrees 2θ.
func (s Shift) At(twoTheta float64) (shift, u float64) {
	d := xrd.DisplacementShift(twoTheta, 1, s.Radius)
	c := s.Covariance
	return s.Zero + d*s.Displacement, math.Sqrt(math.Max(0, c[0][0]+2*d*c[0][1]+d*d*c[1][1]))
}

// fitPositions fits zero and displacement to lines by least squares: observed − reference = zero − 2 s cos θ/R. When the
// lines scatter more than their uncertainties say, the result is as uncertain as the scatter; without uncertainties the
// scatter alone speaks, which needs three lines. Fewer lines, lines at one angle only, or values that are not finite are
// ErrTooFewLines. Zero and displacement have priors around 0 with the given standard uncertainties.
func fitPositions(positions []Position, radius float64, prior [2]float64) (Shift, error) {
	known := true
	for _, p := range positions {
		known = known && p.U > 0
		if !finite(p.Reference, p.Observed, p.U) || p.U < 0 {
			return Shift{}, fmt.Errorf("%w: position %+v", ErrTooFewLines, p)
		}
	}
	if len(positions) < 2 || !known && len(positions) < 3 || !(radius > 0) {
		return Shift{}, fmt.Errorf("%w: %d positions, radius %g mm", ErrTooFewLines, len(positions), radius)
	}
	n := [2][2]float64{{1 / (prior[0] * prior[0]), 0}, {0, 1 / (prior[1] * prior[1])}}
	var b [2]float64
	for _, p := range positions {
		w := 1.0
		if known {
			w = 1 / (p.U * p.U)
		}
		a := [2]float64{1, xrd.DisplacementShift(p.Reference, 1, radius)}
		for i := range a {
			b[i] += w * a[i] * (p.Observed - p.Reference)
			for j := range a {
				n[i][j] += w * a[i] * a[j]
			}
		}
	}
	det := n[0][0]*n[1][1] - n[0][1]*n[1][0]
	if !(det > 1e-12*n[0][0]*n[1][1]) {
		return Shift{}, fmt.Errorf("%w: all at one angle", ErrTooFewLines)
	}
	s := Shift{Radius: radius, Covariance: [2][2]float64{{n[1][1] / det, -n[0][1] / det}, {-n[1][0] / det, n[0][0] / det}}}
	c := s.Covariance
	s.Zero, s.Displacement = c[0][0]*b[0]+c[0][1]*b[1], c[1][0]*b[0]+c[1][1]*b[1]
	s.scatter(positions, known)
	return s, nil
}

// scatter fills in what the residuals tell, and widens the covariance by it.
func (s *Shift) scatter(positions []Position, known bool) {
	var squares float64
	for _, p := range positions {
		at, _ := s.At(p.Reference)
		r := p.Observed - p.Reference - at
		s.Residuals = append(s.Residuals, r)
		squares += r * r
		if known {
			s.ChiSquare += r * r / (p.U * p.U)
		}
	}
	free := float64(len(positions) - 2)
	s.ResidualSD = math.Sqrt(squares / free)
	widen := squares / free
	if known {
		widen = math.Max(1, s.ChiSquare/math.Max(1, free))
	}
	for i := range s.Covariance {
		for j := range s.Covariance[i] {
			s.Covariance[i][j] *= widen
		}
	}
	c := s.Covariance
	s.ZeroU, s.DisplacementU = math.Sqrt(c[0][0]), math.Sqrt(c[1][1])
	s.Correlation = -c[0][1] / (s.ZeroU * s.DisplacementU) // a positive displacement shifts down
}

func finite(values ...float64) bool {
	return !slices.ContainsFunc(values, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
}

func tanHalf(twoTheta float64) float64 { return math.Tan(xrd.Radians(twoTheta) / 2) }
