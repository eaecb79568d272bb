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

// shape is one profile: integrated intensity area per unit scale, centre, width, mixing and the axial tail, degrees; and
// the derivatives of width and mixing to the Gaussian [0] and the Lorentzian [1] width.
type shape struct {
	area, centre, fwhm, eta, tail float64
	dF, dE                        [2]float64
}

// The quantities of a shape that parameters move; each parameter moves one.
const (
	toArea = iota
	toCentre
	toTail
	toGaussian
	toLorentzian
	shapeQuantities
)

// A slope says that a free parameter moves a quantity of a shape, and by how much.
type slope struct {
	slot, quantity int
	factor         float64
}

// slopes is a list of them, without those of parameters that are held.
type slopes []slope

func (s *slopes) add(slot, quantity int, factor float64) {
	if slot >= 0 {
		*s = append(*s, slope{slot, quantity, factor})
	}
}

// shape returns the profile of a term, and renews the list of its slopes when that is not nil. It reports false for a line
// that does not diffract. Only the centre follows the cell: width, tail and intensity change so slowly with the angle
// that they are taken at the reference spacing.
func (m *Model) shape(v phaseView, t *term, moves *slopes) (shape, bool) {
	pm := &m.phases[t.phase]
	q := inverseSquare(v, t)
	sin := m.emissions[t.emission].wavelength / 2 * math.Sqrt(q)
	if !(sin < 0.9995) {
		return shape{}, false
	}
	s := shape{centre: 2*xrd.Degrees(math.Asin(sin)) + m.global(Zero) + m.global(Displacement)*t.toDisplacement}
	fg, off := m.gaussian(t.tan)
	fl := math.Max(0, (m.global(WidthX)+m.params[pm.size].Value)/t.cos+(m.global(WidthY)+m.params[pm.strain].Value)*t.tan)
	s.fwhm, s.eta, s.dF, s.dE = xrd.ThompsonCoxHastingsSlopes(fg, fl)
	s.tail = -m.global(Axial) * t.cot
	share, logs := m.share(t), [maxPoles]float64{}
	unit := t.base * m.trend(t) * math.Exp(-m.params[pm.thermal].Value*t.thermal)
	for i, p := range pm.texture {
		var f float64
		f, logs[i] = textureFactor(pm.lines[t.line], pm.cosines[i*len(pm.lines)+t.line], math.Exp(m.params[p].Value))
		unit *= f
		logs[i] /= f
	}
	s.area = unit * share
	if moves != nil {
		*moves = (*moves)[:0]
		m.positionSlopes(moves, v, t, q, sin)
		m.widthSlopes(moves, t, fg, off)
		m.areaSlopes(moves, t, unit, s.area, logs[:len(pm.texture)])
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

// trend returns what the footprint does to the intensity of a term.
func (m *Model) trend(t *term) float64 {
	power := m.global(Footprint)
	if power == 0 {
		return 1
	}
	return math.Pow(t.sin, power)
}

func (m *Model) positionSlopes(out *slopes, v phaseView, t *term, q, sin float64) {
	out.add(m.slotOf(Zero), toCentre, 1)
	out.add(m.slotOf(Displacement), toCentre, t.toDisplacement)
	pm := &m.phases[t.phase]
	perQ := xrd.Degrees(sin / math.Sqrt(1-sin*sin) / q) // d2θ/dq = tan θ/q
	if v.stretch > 0 {
		out.add(m.slot[pm.cell[0]], toCentre, perQ*-2*q/v.stretch)
		return
	}
	var dq [6]float64
	spacingSlopes(v.cell, v.reciprocal, pm.phase.System, t.hkl, pm.cellKinds, dq[:])
	for i, p := range pm.cell {
		d := dq[i] * t.excess
		if pm.cellKinds[i] < CellAlpha {
			d /= 1 + m.params[p].Value // relative to the reference edge, not the present one
		}
		out.add(m.slot[p], toCentre, perQ*d)
	}
}

func (m *Model) widthSlopes(out *slopes, t *term, fg, off float64) {
	pm := &m.phases[t.phase]
	out.add(m.slotOf(WidthU), toGaussian, off*off/(2*fg))
	out.add(m.slotOf(WidthTau), toGaussian, -m.global(WidthU)*off/fg)
	out.add(m.slotOf(WidthW), toGaussian, 1/(2*fg))
	out.add(m.slotOf(WidthX), toLorentzian, 1/t.cos)
	out.add(m.slotOf(WidthY), toLorentzian, t.tan)
	out.add(m.slot[pm.size], toLorentzian, 1/t.cos)
	out.add(m.slot[pm.strain], toLorentzian, t.tan)
	out.add(m.slotOf(Axial), toTail, -t.cot)
}

func (m *Model) areaSlopes(out *slopes, t *term, unit, area float64, logs []float64) {
	if e := m.emissions[t.emission]; e.share < 0 {
		out.add(m.slotOf(e.param), toArea, unit)
	}
	pm := &m.phases[t.phase]
	out.add(m.slotOf(Footprint), toArea, area*math.Log(t.sin))
	out.add(m.slot[pm.thermal], toArea, -area*t.thermal)
	for i, p := range pm.texture {
		out.add(m.slot[p], toArea, area*logs[i])
	}
}
