package quantify

import "math"

// modelU is the standard uncertainty of the model of a Mosaic beside that of CV², as that of the logarithm of all intercepts
// together. Traced through shapes that are no mosaic but have no direction (clusters, lamellae that stand in all directions), a
// model with DefaultSpread errs as if the intercepts were wrong by a factor of 0.62 to 1.31 (section_trace_test.go): a standard
// uncertainty of a quarter. Of this, CV² makes 0.3/1.5 = 0.20, since (1 + CV²)/2 goes with the intercept, and 0.15 is left. It
// vanishes in both limits, as the error does. Shapes with a direction are not covered: lamellae on edge along the beam absorb as
// if no region ended, lamellae across the beam or lying flat as if regions were down to ten times as small.
const modelU = 0.15

// Slopes holds how the volume fractions of a Mosaic depend on what goes in, as derivatives of ln v_p.
type Slopes struct {
	Intensity [][]float64 // [p][q] to the logarithm of the intensity of q
	Intercept [][]float64 // [p][q] to the logarithm of the own intercept of q; 0 where it has none
	Common    []float64   // to the logarithm of the common intercept
	Spread    []float64   // to CV²
}

// Slopes returns the derivatives at the intensities, by central differences; 0 for phases without intensity.
func (m Mosaic) Slopes(intensity []float64) (s Slopes, err error) {
	n := len(intensity)
	if s.Intensity, err = m.intensitySlopes(intensity); err != nil {
		return s, err
	}
	s.Intercept, s.Common, s.Spread = zeros(n), make([]float64, n), make([]float64, n)
	for q, y := range intensity {
		if !(y > 0) || !m.hasOwn(q) {
			continue
		}
		up, down := m, m
		up.Intercept, down.Intercept = scaled(m.Intercept, q, slopeStep), scaled(m.Intercept, q, -slopeStep)
		d, err := difference(up, down, intensity, intensity, 2*slopeStep)
		if err != nil {
			return s, err
		}
		for p := range d {
			s.Intercept[p][q] = d[p]
		}
	}
	up, down := m, m
	up.Common *= math.Exp(slopeStep)
	down.Common *= math.Exp(-slopeStep)
	if s.Common, err = difference(up, down, intensity, intensity, 2*slopeStep); err != nil {
		return s, err
	}
	up, down = m, m
	up.Spread += slopeStep
	down.Spread = max(0, down.Spread-slopeStep)
	s.Spread, err = difference(up, down, intensity, intensity, up.Spread-down.Spread)
	return s, err
}

// intensitySlopes returns the derivatives of ln v_p to the logarithm of the intensity of q.
func (m Mosaic) intensitySlopes(intensity []float64) ([][]float64, error) {
	out := zeros(len(intensity))
	for q, y := range intensity {
		if !(y > 0) {
			continue
		}
		d, err := difference(m, m, scaled(intensity, q, slopeStep), scaled(intensity, q, -slopeStep), 2*slopeStep)
		if err != nil {
			return nil, err
		}
		for p := range d {
			out[p][q] = d[p]
		}
	}
	return out, nil
}

// slopeStep is the step of logarithms for differences.
const slopeStep = 1e-3

// difference returns the differences of ln v over a width.
func difference(up, down Mosaic, yUp, yDown []float64, width float64) ([]float64, error) {
	a, err := up.Volumes(yUp)
	if err != nil {
		return nil, err
	}
	b, err := down.Volumes(yDown)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(a))
	for p := range a {
		if a[p] > 0 && b[p] > 0 {
			out[p] = math.Log(a[p]/b[p]) / width
		}
	}
	return out, nil
}

// scaled returns a copy of v with entry q multiplied by exp(step).
func scaled(v []float64, q int, step float64) []float64 {
	out := append([]float64(nil), v...)
	out[q] *= math.Exp(step)
	return out
}
