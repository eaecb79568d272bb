package xrd

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
)

// Errors of NewScan; test with errors.Is.
var (
	ErrTooFewPoints = errors.New("too few points")
	ErrNotAscending = errors.New("angles do not ascend")
	ErrNotFinite    = errors.New("not a finite number")
	ErrLengths      = errors.New("columns differ in length")
	ErrAngleRange   = errors.New("angle outside 0° to 180° 2θ")
	ErrNoIntensity  = errors.New("every intensity is zero")
	ErrBadUncertain = errors.New("standard uncertainty is not positive, or smaller than any counting could give")
	ErrSecondCurve  = errors.New("what stands for uncertainties goes with the intensities as a second curve does, such as calculated ones")
)

// MinPoints is the least number of points that make a scan.
const MinPoints = 20

// A Scan is intensity against angle, ascending, with what is known of how it was taken. Make one with NewScan and do
// not change its slices.
type Scan struct {
	TwoTheta  []float64 // degrees, strictly ascending
	Intensity []float64 // counts, counts per second or unknown units: see Counts
	Sigma     []float64 // standard uncertainties as recorded; nil when the file has none
	About     ScanInfo  // what the file says besides
}

// ScanInfo is what a scan file says of itself; zero values mean that it does not say.
type ScanInfo struct {
	Sample         string          // name of the specimen; empty: not stated
	Radiation      *Radiation      // nil when not stated
	Monochromator  string          // as the file has it; empty: not stated
	Slit           *Slit           // nil when not stated
	Geometry       *Geometry       // nil when not stated
	Radius         float64         // mm
	SpecimenLength float64         // mm
	CountingTime   float64         // s per step
	Section        string          // as Specimen.Section
	Mount          string          // material about the specimen; empty: not stated
	Simulated      string          // of a scan that was calculated: from what; empty for a measured one
	Intercepts     []Intercept     // of the regions of a section; nil when not stated
	InterceptCV2   InterceptSpread // zero: not stated
	Slips          []KeySlip       // keys that are known to none and look like one that is; what they say is not used
}

// A KeySlip is a key of a scan file that seems to be misspelt.
type KeySlip struct {
	Line      int    // of the file
	Key, Like string // as written, and the key that it looks like
}

// NewScan copies three parallel columns (sigma may be nil) into a Scan. Angles must ascend strictly inside 0° to 180°,
// all numbers must be finite, and there must be at least MinPoints of them.
func NewScan(twoTheta, intensity, sigma []float64, about ScanInfo) (Scan, error) {
	n := len(twoTheta)
	if n != len(intensity) || sigma != nil && n != len(sigma) {
		return Scan{}, ErrLengths
	}
	if n < MinPoints {
		return Scan{}, fmt.Errorf("%w: %d, at least %d are needed", ErrTooFewPoints, n, MinPoints)
	}
	some := false
	for i, t := range twoTheta {
		switch {
		case math.IsNaN(t+intensity[i]) || math.IsInf(t+intensity[i], 0):
			return Scan{}, fmt.Errorf("point %d: %w", i+1, ErrNotFinite)
		case t < 0 || t > 180:
			return Scan{}, fmt.Errorf("point %d: %w: %g", i+1, ErrAngleRange, t)
		case i > 0 && !(t > twoTheta[i-1]):
			return Scan{}, fmt.Errorf("point %d: %w: %g after %g", i+1, ErrNotAscending, t, twoTheta[i-1])
		case sigma != nil && !(sigma[i] > 0 && !math.IsInf(sigma[i], 0)):
			return Scan{}, fmt.Errorf("point %d: %w: %g", i+1, ErrBadUncertain, sigma[i])
		}
		some = some || intensity[i] != 0
	}
	if !some {
		return Scan{}, ErrNoIntensity
	}
	if err := checkSigma(intensity, sigma); err != nil {
		return Scan{}, err
	}
	return Scan{slices.Clone(twoTheta), slices.Clone(intensity), slices.Clone(sigma), about}, nil
}

// leastUncertainty is the share of the highest intensity below which a number is no standard uncertainty: it would take 10¹⁸ counts.
const leastUncertainty = 1e-9

// checkSigma refuses uncertainties that cannot be.
func checkSigma(intensity, sigma []float64) error {
	most := 0.0
	for _, y := range intensity {
		most = math.Max(most, math.Abs(y))
	}
	for i, u := range sigma {
		if !(u > leastUncertainty*most) {
			return fmt.Errorf("point %d: %w: %g", i+1, ErrBadUncertain, u)
		}
	}
	if secondCurve(intensity, sigma) {
		return ErrSecondCurve
	}
	return nil
}

// secondCurve reports whether what is given as uncertainties is another curve of about the size of the intensities, such as calculated ones. Where
// lines stand well above the background, an uncertainty grows as the square root of what was counted, and is a small part of it.
func secondCurve(intensity, sigma []float64) bool {
	const (
		tops     = 0.01 // of the points: the lines
		contrast = 10.0 // of their mean over the median, from which it can be told
		part     = 0.3  // of the intensity of lines: ten counts have that much
		power    = 0.8  // of growth with the intensity: 0.5 when counted, 1 when another curve
	)
	if sigma == nil {
		return false
	}
	order := make([]int, len(intensity))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(intensity[a], intensity[b]) })
	mean := func(of []float64, points []int) (sum float64) {
		for _, i := range points {
			sum += of[i] / float64(len(points))
		}
		return sum
	}
	low, high := order[:(len(order)+1)/2], order[len(order)-max(1, int(tops*float64(len(order)))):]
	y, u := mean(intensity, high)/mean(intensity, low), mean(sigma, high)/mean(sigma, low)
	return y > contrast && math.Log(u) > power*math.Log(y) && mean(sigma, high) > part*mean(intensity, high)
}

// Len returns the number of points.
func (s Scan) Len() int { return len(s.TwoTheta) }

// Range returns the first and the last angle, degrees 2θ.
func (s Scan) Range() (lo, hi float64) { return s.TwoTheta[0], s.TwoTheta[len(s.TwoTheta)-1] }

// Step returns the median step, degrees 2θ.
func (s Scan) Step() float64 {
	steps := make([]float64, len(s.TwoTheta)-1)
	for i := range steps {
		steps[i] = s.TwoTheta[i+1] - s.TwoTheta[i]
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// EvenSteps reports whether every step, those over gaps left out, is within 10 % of the median one.
func (s Scan) EvenSteps() bool {
	step := s.Step()
	for _, run := range Runs(s.TwoTheta) {
		for i := run.First + 1; i < run.End; i++ {
			if math.Abs(s.TwoTheta[i]-s.TwoTheta[i-1]-step) > 0.1*step {
				return false
			}
		}
	}
	return true
}

// Counts reports whether the intensities look like raw counts: all of them non-negative whole numbers. A file with
// uncertainties of its own speaks for itself and is not asked.
func (s Scan) Counts() bool {
	return s.Sigma == nil && !slices.ContainsFunc(s.Intensity, func(y float64) bool { return y < 0 || y != math.Trunc(y) })
}

// Between returns the indices [i, j) of the points with lo ≤ 2θ ≤ hi.
func (s Scan) Between(lo, hi float64) (i, j int) {
	i = sort.SearchFloat64s(s.TwoTheta, lo)
	j = sort.Search(len(s.TwoTheta), func(k int) bool { return s.TwoTheta[k] > hi })
	return i, max(i, j)
}

// Diffracting returns a scan without points at 0° and 180° 2θ, where no plane diffracts. The points are shared. ErrTooFewPoints when hardly any is left.
func (s Scan) Diffracting() (Scan, error) {
	return s.Crop(math.SmallestNonzeroFloat64, math.Nextafter(180, 0))
}

// Crop returns the part of the scan from lo to hi degrees 2θ; the slices are shared, not copied. Fewer than MinPoints
// points are ErrTooFewPoints.
func (s Scan) Crop(lo, hi float64) (Scan, error) {
	i, j := s.Between(lo, hi)
	if j-i < MinPoints {
		return Scan{}, fmt.Errorf("%w: %d between %g° and %g°, at least %d are needed", ErrTooFewPoints, j-i, lo, hi, MinPoints)
	}
	c := s
	c.TwoTheta, c.Intensity = s.TwoTheta[i:j:j], s.Intensity[i:j:j]
	if s.Sigma != nil {
		c.Sigma = s.Sigma[i:j:j]
	}
	return c, nil
}
