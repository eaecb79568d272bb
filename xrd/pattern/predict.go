package pattern

import (
	"fmt"

	"gonum.org/v1/gonum/floats"
)

// Predict returns the pattern of each phase of a setup, at its points, for given scales and the starting values of its
// parameters: the forward calculation of the very model that Run fits. Scales are parallel to the phases, in counts × degrees
// (see the package); intensities and uncertainties of the setup are not read and may be nil. It returns ErrSetup for
// input that no model can be made from, and for starting values beyond their bounds.
func Predict(s Setup, scales []float64) ([][]float64, error) {
	s.Blank, s.BlankVar, s.ExtraVariance = nil, nil, nil
	s.Intensity, s.Sigma = make([]float64, len(s.TwoTheta)), make([]float64, len(s.TwoTheta))
	for i := range s.Sigma {
		s.Sigma[i] = 1
	}
	if len(scales) != len(s.Phases) || !finite(scales...) {
		return nil, fmt.Errorf("%w: %d scales of %d phases: %v", ErrSetup, len(scales), len(s.Phases), scales)
	}
	s.Start.Knots = 2 // of a background that is not asked for
	m, err := NewModel(s)
	if err != nil {
		return nil, err
	}
	for _, p := range m.params {
		if v, ok := s.Start.Values[m.key(p)]; ok && !(v >= p.Lower && v <= p.Upper) {
			return nil, fmt.Errorf("%w: %s is %g, outside %g to %g", ErrSetup, p.Name(m.ids()), v, p.Lower, p.Upper)
		}
	}
	stages := s.stages(Full)
	m.release(stages[len(stages)-1].accept) // lines then reach as far, and tails are averaged as closely, as at the end of a fit
	theta := make([]float64, len(m.free))
	for i, k := range m.free {
		theta[i] = m.params[k].Value
	}
	curves := make([][]float64, len(s.Phases))
	for p := range curves {
		curves[p] = make([]float64, len(s.TwoTheta))
	}
	m.Columns(theta, curves)
	for p, c := range scales {
		floats.Scale(c, curves[p])
	}
	return curves, nil
}

// ids returns the ids of the phases.
func (m *Model) ids() []string {
	ids := make([]string, len(m.phases))
	for i, p := range m.phases {
		ids[i] = p.phase.ID
	}
	return ids
}
