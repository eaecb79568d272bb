package quantify

import "math"

// modelU is the standard uncertainty of the model of a Mosaic, as that of the logarithm of all intercepts together: traced
// through shapes that are no mosaic but have no direction (clusters, lamellae that stand in all directions) it errs as if the
// intercepts were wrong by a factor of 0.63 to 1.29 (section_trace_test.go). It vanishes in both limits, as the error does.
// Shapes with a direction are not covered: lamellae on edge along the beam absorb as if no region ended, lamellae across
// the beam or lying flat as if regions were down to ten times as small.
const modelU = 0.25

// Slopes holds how the volume fractions of a Mosaic depend on what goes in, as derivatives of ln v_p.
type Slopes struct {
	Intensity [][]float64 // [p][q] to the logarithm of the intensity of q
	Intercept [][]float64 // [p][q] to the logarithm of the own intercept of q; 0 where it has none
	Common    []float64   // to the logarithm of the common intercept
	Spread    []float64   // to CV²
}

// Slopes returns the derivatives at the intensities, by central differences; 0 for phases without intensity.
func (m Mosaic) Slopes(intensity []float64) (Slopes, error) {
	n := len(intensity)
	s := Slopes{Intensity: zeros(n), Intercept: zeros(n), Common: make([]float64, n), Spread: make([]float64, n)}
	const step = 1e-3
	// difference stores (f(up) − f(down))/width.
	difference := func(width float64, up, down Mosaic, yUp, yDown []float64, put func(p int, slope float64)) error {
		a, err := up.Volumes(yUp)
		if err != nil {
			return err
		}
		b, err := down.Volumes(yDown)
		if err != nil {
			return err
		}
		for p := range a {
			if a[p] > 0 && b[p] > 0 {
				put(p, math.Log(a[p]/b[p])/width)
			}
		}
		return nil
	}
	for q := range intensity {
		if !(intensity[q] > 0) {
			continue
		}
		err := difference(2*step, m, m, scaled(intensity, q, step), scaled(intensity, q, -step), func(p int, d float64) { s.Intensity[p][q] = d })
		if err != nil {
			return s, err
		}
		if !m.own(q) {
			continue
		}
		up, down := m, m
		up.Intercept, down.Intercept = scaled(m.Intercept, q, step), scaled(m.Intercept, q, -step)
		if err := difference(2*step, up, down, intensity, intensity, func(p int, d float64) { s.Intercept[p][q] = d }); err != nil {
			return s, err
		}
	}
	up, down := m, m
	up.Common *= math.Exp(step)
	down.Common *= math.Exp(-step)
	if err := difference(2*step, up, down, intensity, intensity, func(p int, d float64) { s.Common[p] = d }); err != nil {
		return s, err
	}
	up, down = m, m
	up.Spread += step
	down.Spread = max(0, down.Spread-step)
	err := difference(up.Spread-down.Spread, up, down, intensity, intensity, func(p int, d float64) { s.Spread[p] = d })
	return s, err
}

// scaled returns a copy of v with entry q multiplied by exp(step).
func scaled(v []float64, q int, step float64) []float64 {
	out := append([]float64(nil), v...)
	out[q] *= math.Exp(step)
	return out
}
