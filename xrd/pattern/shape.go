package pattern

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// phaseView is a phase at the present values of its parameters.
type phaseView struct {
	cell       refdata.Cell
	reciprocal refdata.Metric
	stretch    float64 // of all spacings, for a phase without cell
}

func (m *Model) views() []phaseView {
	out := make([]phaseView, len(m.phases))
	for i := range out {
		out[i] = m.view(i)
	}
	return out
}

func (m *Model) view(i int) phaseView {
	pm := &m.phases[i]
	if pm.phase.Cell == nil || !indexed(pm.phase) {
		return phaseView{stretch: 1 + m.params[pm.cell[0]].Value}
	}
	var ps [6]Parameter
	n := 0
	for _, k := range pm.cell {
		ps[n] = m.params[k]
		n++
	}
	c := strained(*pm.phase.Cell, pm.phase.System, ps[:n])
	return phaseView{cell: c, reciprocal: c.Reciprocal()}
}

// shape is one profile: integrated intensity area per unit scale, centre, width, mixing and the axial tail, degrees.
type shape struct {
	area, centre, fwhm, eta, tail float64
}

// The quantities of a shape that parameters move.
const (
	toArea = iota
	toCentre
	toFWHM
	toEta
	toTail
	shapeQuantities
)

// shapeSlopes holds the derivatives of a shape to the free parameters that touch it.
type shapeSlopes struct {
	n     int
	param [kinds + 8]int
	of    [kinds + 8][shapeQuantities]float64
}

func (s *shapeSlopes) add(slot int) *[shapeQuantities]float64 {
	s.param[s.n] = slot
	s.of[s.n] = [shapeQuantities]float64{}
	s.n++
	return &s.of[s.n-1]
}

// shape returns the profile of a term, and fills the derivatives when slopes is not nil. It reports false for a line
// that does not diffract. Only the centre follows the cell: width, tail and intensity change so slowly with the angle
// that they are taken at the reference spacing.
func (m *Model) shape(v phaseView, t *term, slopes *shapeSlopes) (shape, bool) {
	pm := &m.phases[t.phase]
	q := inverseSquare(v, t)
	sin := m.emissions[t.emission].wavelength / 2 * math.Sqrt(q)
	if !(sin < 0.9995) {
		return shape{}, false
	}
	s := shape{centre: 2*xrd.Degrees(math.Asin(sin)) + m.global(Zero) + m.global(Displacement)*t.toDisplacement}
	fg, off := m.gaussian(t.tan)
	fl := math.Max(0, (m.global(WidthX)+m.params[pm.size].Value)/t.cos+(m.global(WidthY)+m.params[pm.strain].Value)*t.tan)
	var dF, dE [2]float64
	s.fwhm, s.eta, dF, dE = xrd.ThompsonCoxHastingsSlopes(fg, fl)
	s.tail = -m.global(Axial) * t.cot
	share, logs := m.share(t), [maxPoles]float64{}
	unit := t.base * math.Pow(t.sin, m.global(Footprint)) * math.Exp(-m.params[pm.thermal].Value*t.thermal)
	for i, p := range pm.texture {
		var f float64
		f, logs[i] = textureFactor(pm.lines[t.line], pm.cosines[i*len(pm.lines)+t.line], math.Exp(m.params[p].Value))
		unit *= f
		logs[i] /= f
	}
	s.area = unit * share
	if slopes != nil {
		slopes.n = 0
		m.positionSlopes(slopes, v, t, q, sin)
		m.widthSlopes(slopes, t, fg, off, dF, dE)
		m.areaSlopes(slopes, t, unit, s.area, logs[:len(pm.texture)])
	}
	return s, true
}

// inverseSquare returns 1/d² of a term in the present cell.
func inverseSquare(v phaseView, t *term) float64 {
	if v.stretch > 0 {
		return 1 / (t.d * t.d * v.stretch * v.stretch)
	}
	// Lines of a published list need not lie exactly where the cell puts them; their own spacing is kept and the
	// cell moves it.
	return v.reciprocal.Norm2(t.hkl[0], t.hkl[1], t.hkl[2]) * t.excess
}

// gaussian returns Γ_G and the distance of tan θ from where it is least.
func (m *Model) gaussian(tan float64) (width, off float64) {
	off = tan - m.global(WidthTau)
	return math.Sqrt(m.global(WidthW) + m.global(WidthU)*off*off), off
}

// share returns the intensity of a term's wavelength over that of the Kα doublet.
func (m *Model) share(t *term) float64 {
	if e := m.emissions[t.emission]; e.share < 0 {
		return m.global(e.param)
	} else {
		return e.share
	}
}

func (m *Model) positionSlopes(out *shapeSlopes, v phaseView, t *term, q, sin float64) {
	if k := m.slotOf(Zero); k >= 0 {
		out.add(k)[toCentre] = 1
	}
	if k := m.slotOf(Displacement); k >= 0 {
		out.add(k)[toCentre] = t.toDisplacement
	}
	pm := &m.phases[t.phase]
	perQ := xrd.Degrees(sin / math.Sqrt(1-sin*sin) / q) // d2θ/dq = tan θ/q
	if v.stretch > 0 {
		if k := m.slot[pm.cell[0]]; k >= 0 {
			out.add(k)[toCentre] = perQ * -2 * q / v.stretch
		}
		return
	}
	var dq [6]float64
	spacingSlopes(v.cell, v.reciprocal, pm.phase.System, t.hkl, pm.cellKinds, dq[:])
	for i, p := range pm.cell {
		if k := m.slot[p]; k >= 0 {
			d := dq[i] * t.excess
			if pm.cellKinds[i] < CellAlpha {
				d /= 1 + m.params[p].Value // relative to the reference edge, not the present one
			}
			out.add(k)[toCentre] = perQ * d
		}
	}
}

func (m *Model) widthSlopes(out *shapeSlopes, t *term, fg, off float64, dF, dE [2]float64) {
	add := func(slot int, gaussian, lorentzian float64) {
		if slot >= 0 {
			g := out.add(slot)
			g[toFWHM] = dF[0]*gaussian + dF[1]*lorentzian
			g[toEta] = dE[0]*gaussian + dE[1]*lorentzian
		}
	}
	pm := &m.phases[t.phase]
	add(m.slotOf(WidthU), off*off/(2*fg), 0)
	add(m.slotOf(WidthTau), -m.global(WidthU)*off/fg, 0)
	add(m.slotOf(WidthW), 1/(2*fg), 0)
	add(m.slotOf(WidthX), 0, 1/t.cos)
	add(m.slotOf(WidthY), 0, t.tan)
	add(m.slot[pm.size], 0, 1/t.cos)
	add(m.slot[pm.strain], 0, t.tan)
	if k := m.slotOf(Axial); k >= 0 {
		out.add(k)[toTail] = -t.cot
	}
}

func (m *Model) areaSlopes(out *shapeSlopes, t *term, unit, area float64, logs []float64) {
	if e := m.emissions[t.emission]; e.share < 0 {
		if k := m.slotOf(e.param); k >= 0 {
			out.add(k)[toArea] = unit
		}
	}
	if k := m.slotOf(Footprint); k >= 0 {
		out.add(k)[toArea] = area * math.Log(t.sin)
	}
	if k := m.slot[m.phases[t.phase].thermal]; k >= 0 {
		out.add(k)[toArea] = -area * t.thermal
	}
	for i, p := range m.phases[t.phase].texture {
		if k := m.slot[p]; k >= 0 {
			out.add(k)[toArea] = area * logs[i]
		}
	}
}
