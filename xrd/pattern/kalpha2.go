package pattern

import "math"

// KAlpha2 returns how much of the Kα2 intensity that a fit puts into its lines the scan has, 1 when all is as it should be and 0
// when Kα2 was stripped, with its standard uncertainty: the residual is regressed on what moving all of Kα2 into Kα1 would
// change. Where position and width have adapted to a missing Kα2, less is seen missing than is. It is 1 ± ∞ for a radiation
// without Kα2.
func (f *Fit) KAlpha2() (share, u float64) {
	m := f.model
	if m == nil || len(m.emissions) < 2 || m.emissions[1].wavelength != f.Setup.Radiation.KAlpha2 {
		return 1, math.Inf(1)
	}
	part := m.emissions[1].share
	change := make([]float64, len(f.Fitted))
	one := make([]float64, len(f.Fitted))
	for p, scale := range f.Scales {
		v := m.view(p)
		for i := range m.terms {
			t := &m.terms[i]
			if t.phase != p || t.emission > 1 {
				continue
			}
			if sh, ok := m.shape(v, t, nil); ok {
				clear(one[t.first:t.last])
				addProfile(f.Setup.TwoTheta[t.first:t.last], one[t.first:t.last], sh, t.nodes)
				factor := scale
				if t.emission == 0 {
					factor *= -part / m.emissions[0].share
				}
				for k := t.first; k < t.last; k++ {
					change[k] += factor * one[k]
				}
			}
		}
	}
	var rg, gg float64
	for i, g := range change {
		v := f.Noise[i]
		rg += g * (f.Setup.Intensity[i] - f.Fitted[i]) / v
		gg += g * g / v
	}
	return 1 + rg/gg, 1 / math.Sqrt(gg)
}
