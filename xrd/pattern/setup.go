package pattern

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
)

// ErrSetup says that a model cannot be made from its input; test with errors.Is.
var ErrSetup = errors.New("pattern: unusable input")

// A Setup is everything a fit starts from. Slices are shared with the model and never changed.
type Setup struct {
	TwoTheta  []float64 // degrees, ascending; masked points left out
	Intensity []float64 // counts, or in the unit that Sigma has
	Sigma     []float64 // standard uncertainty of each point without any misfit
	Gain      float64   // variance over fitted intensity: 1 for counts; 0 when Sigma alone tells the noise
	Floor     float64   // variance that is there without intensity

	Radiation     xrd.Radiation      // of the tube
	Instrument    xrd.Instrument     // whose widths the fit starts from
	Specimen      xrd.Specimen       // that the beam may be longer than
	Phases        []refdata.Phase    // to be fitted
	Poles         [][][3]int         // texture poles of each phase; nil for none
	Axes          map[string][3]int  // texture axis of phases, by id, when it is decided and not to be chosen; nil for none
	DeltaB        map[string]float64 // change of the displacement parameter of phases, by id, Å², when it is decided and not fitted; nil for none
	Blank         []float64          // scan of the mount and holder, at the same angles; nil for none
	BlankVar      []float64          // its variance, parallel to Blank
	ExtraVariance []float64          // extra variance where intensity is known to be unexplained; nil for none
	Hold          []Kind             // kinds of parameter that stay at their starting values
	Anchor        string             // id of the phase whose cell is known: it stays, and the displacement is free; "" for none

	Start Start // where the fit begins
}

// Start holds starting values; the zero value starts from the instrument.
type Start struct {
	Displacement float64         // mm
	Values       map[Key]float64 // of any parameters
	Knots        int             // number of background intervals; 0 lets an information criterion choose
	Kappa        float64         // relative misfit; 0 means not known yet
	From         Source          // how good the values are
}

// A Source says where starting values come from.
type Source int

// The sources. Values from a fit must be those of the same phases.
const (
	Guess    Source = iota // the instrument, or a search
	QuickFit               // a quick fit
	FullFit                // a full fit of the same scan; texture may be new
	LikeFit                // a full fit of a scan like this one
)

// A Key identifies a parameter across models: the phase is named by its id.
type Key struct {
	Kind Kind   // of the parameter
	ID   string // of its phase; empty for those of the instrument
	Pole [3]int // of a texture; zero for others
}

func (s Setup) check() error {
	n := len(s.TwoTheta)
	if n != len(s.Intensity) || n != len(s.Sigma) {
		return fmt.Errorf("%w: %d angles, %d intensities, %d uncertainties", ErrSetup, n, len(s.Intensity), len(s.Sigma))
	}
	if n < xrd.MinPoints {
		return fmt.Errorf("%w: %d points left, at least %d are needed", ErrSetup, n, xrd.MinPoints)
	}
	if !(s.TwoTheta[0] > 0) || !(s.TwoTheta[n-1] < 180) {
		return fmt.Errorf("%w: angles from %g° to %g°", ErrSetup, s.TwoTheta[0], s.TwoTheta[n-1])
	}
	for i, v := range s.Sigma {
		if !(v > 1/huge) || !finite(v, s.Intensity[i]) || i > 0 && !(s.TwoTheta[i] > s.TwoTheta[i-1]) {
			return fmt.Errorf("%w: point %d, intensity %g with uncertainty %g at %g°", ErrSetup, i, s.Intensity[i], v, s.TwoTheta[i])
		}
	}
	for _, c := range []struct {
		name string
		v    []float64
	}{{"blank", s.Blank}, {"variance of the blank", s.BlankVar}, {"extra variance", s.ExtraVariance}} {
		if c.v != nil && len(c.v) != n {
			return fmt.Errorf("%w: the %s has %d points, the scan %d", ErrSetup, c.name, len(c.v), n)
		}
		if !finite(c.v...) {
			return fmt.Errorf("%w: the %s is not finite", ErrSetup, c.name)
		}
	}
	if !finite(s.Gain, s.Floor, s.Start.Kappa, s.Start.Displacement) || s.Gain != 0 && !(s.Gain > 1/huge) || !(s.Floor >= 0) || s.Start.Knots < 0 || s.Start.Knots > n {
		return fmt.Errorf("%w: gain %g, floor %g, start %v", ErrSetup, s.Gain, s.Floor, s.Start)
	}
	return errors.Join(s.checkInstrument(), s.checkPhases())
}

func (s Setup) checkInstrument() error {
	r, i := s.Radiation, s.Instrument
	if !(r.KAlpha1 > 0) || !(i.Radius > 0) || !(r.Ratio >= 0) {
		return fmt.Errorf("%w: wavelength %g Å, Kα2/Kα1 %g, radius %g mm", ErrSetup, r.KAlpha1, r.Ratio, i.Radius)
	}
	if !finite(r.KAlpha1, r.KAlpha2, r.KBeta, r.Ratio, i.Radius, i.Zero, i.ZeroU, i.GaussTan2, i.GaussTan, i.GaussConst, i.LorentzSize, i.LorentzStrain, i.Axial, i.Slit.Value, s.Specimen.Length) {
		return fmt.Errorf("%w: radiation, instrument or specimen with a value that is not finite", ErrSetup)
	}
	return nil
}

func (s Setup) checkPhases() error {
	if s.Poles != nil && len(s.Poles) != len(s.Phases) {
		return fmt.Errorf("%w: texture poles for %d of %d phases", ErrSetup, len(s.Poles), len(s.Phases))
	}
	for i, p := range s.Phases {
		if err := checkPhase(p); err != nil {
			return fmt.Errorf("%w: phase %q: %w", ErrSetup, p.ID, err)
		}
		if axis, ok := s.Axes[p.ID]; ok && axis == [3]int{} || s.Poles != nil && slices.Contains(s.Poles[i], [3]int{}) {
			return fmt.Errorf("%w: phase %q: texture pole 0 0 0", ErrSetup, p.ID)
		}
		if b := s.DeltaB[p.ID]; !finite(b) {
			return fmt.Errorf("%w: phase %q: displacement parameter changed by %g Å²", ErrSetup, p.ID, b)
		}
	}
	return nil
}

func checkPhase(p refdata.Phase) error {
	if p.Cell != nil {
		if err := p.Cell.Check(); err != nil {
			return err
		}
	}
	for _, l := range p.Lines {
		if !(l.D > 0) || !(l.Intensity >= 0) || !finite(l.D, l.Intensity) {
			return fmt.Errorf("line of intensity %g at %g Å", l.Intensity, l.D)
		}
		for _, f := range l.Families {
			if f.H == 0 && f.K == 0 && f.L == 0 || !(f.F2 >= 0) || !finite(f.F2) {
				return fmt.Errorf("reflection %d %d %d with |F|² %g", f.H, f.K, f.L, f.F2)
			}
		}
	}
	return nil
}

// huge is beyond any number of the trade, and its square still a number.
const huge = 1e100

func finite(values ...float64) bool {
	return !slices.ContainsFunc(values, func(v float64) bool { return !(math.Abs(v) < huge) })
}
