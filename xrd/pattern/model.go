package pattern

import (
	"math"
	"slices"
	"sort"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// A Model is the pattern model of one Setup: the parameters with their present values, and the lines they move.
// It satisfies leastsq.Ranged in those of its parameters that are free and in the scales; blank and background do not move
// and are Fixed. It is not safe for concurrent use.
type Model struct {
	setup      Setup
	runs       []xrd.Run // stretches of the scan without a gap
	params     []Parameter
	globals    [kinds]int // index of each global parameter
	phases     []phaseModel
	emissions  []emission
	background []leastsq.Strip
	bounded    bool  // the background is nowhere negative
	free       []int // indices of the free parameters, in the order of θ
	slot       []int // of each parameter: its place in free, -1 when held
	terms      []term
	views      []phaseView // of each phase at the present values
	shapes     []shape     // of each term at the present values; without width: it does not diffract
	workspaces workspaces  // derivatives of several ranges are formed at once
}

var _ leastsq.Ranged = (*Model)(nil)

// phaseModel is what a phase adds to the model.
type phaseModel struct {
	phase      refdata.Phase
	reciprocal refdata.Metric // of its cell; nothing without one
	lines      []refdata.Line // those strong enough to matter and near the range
	cellKinds  []Kind
	cell       []int // parameter indices, parallel to cellKinds
	size       int
	strain     int
	thermal    int
	texture    []int         // parameter indices
	cosines    [][][]float64 // [pole × line][family][equivalent]
}

// emission is one wavelength of the tube. A share below 0 says that a parameter holds it.
type emission struct {
	wavelength float64
	share      float64
	param      Kind
}

// term is one line of one phase for one wavelength: where it lies and what moves it. Angles are of the reference cell.
type term struct {
	phase, line, emission int
	first, last           int // points that it reaches
	nodes                 int // of the axial quadrature
	hkl                   [3]float64
	d                     float64 // reference spacing, Å
	excess                float64 // 1/d² over that of the reference cell: 1 for computed lines
	base                  float64 // integrated intensity per unit scale, without share, trend and texture
	sin, cos, tan, cot    float64 // of θ, and cot 2θ
	toDisplacement        float64 // degrees 2θ per mm
	thermal               float64 // 2 s², Å⁻²: intensity falls by exp(−thermal ΔB)
}

const (
	mattersLeast = 0.06  // of 100: weaker lines are left out
	negligible   = 0.004 // unless they hold more than this share of a phase's intensity together
	rangeMargin  = 2.0   // degrees: lines that far outside may reach in
)

// newLines makes a model without background.
func newLines(s Setup) (*Model, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	m := &Model{setup: s, runs: xrd.Runs(s.TwoTheta)}
	for _, p := range globalParameters(s.Instrument) {
		m.globals[p.Kind] = m.add(p)
	}
	m.params[m.globals[Displacement]].Value = s.Start.Displacement
	total := 1 + s.Radiation.Ratio
	m.emissions = []emission{{s.Radiation.KAlpha1, 1 / total, -1}}
	if s.Radiation.KAlpha2 > 0 && s.Radiation.Ratio > 0 {
		m.emissions = append(m.emissions, emission{s.Radiation.KAlpha2, s.Radiation.Ratio / total, -1})
	}
	if s.Radiation.KBeta > 0 {
		m.emissions = append(m.emissions, emission{s.Radiation.KBeta, -1, KBetaShare})
	}
	if s.Radiation.KAlpha1 < 2.5 && s.Radiation.KAlpha1 > 1 {
		m.emissions = append(m.emissions, emission{xrd.WLAlpha, -1, WLAlpha})
	}
	for i, p := range s.Phases {
		m.addPhase(i, p)
	}
	for i := range m.params {
		p := &m.params[i]
		if p.Kind == Displacement && s.anchored() {
			p.Prior.Sigma = displacementLimit
		}
		if m.anchored(*p) {
			continue
		}
		if b, ok := m.decided(*p); ok {
			p.Value = math.Min(p.Upper, math.Max(p.Lower, b))
			continue
		}
		if v, ok := s.Start.Values[m.key(*p)]; ok {
			p.Value = math.Min(p.Upper, math.Max(p.Lower, v))
		}
	}
	m.prepare()
	return m, nil
}

func (m *Model) add(p Parameter) int {
	m.params = append(m.params, p)
	return len(m.params) - 1
}

func (m *Model) addPhase(i int, p refdata.Phase) {
	var poles [][3]int
	if m.setup.Poles != nil && indexed(p) && p.Cell != nil {
		poles = m.setup.Poles[i][:min(len(m.setup.Poles[i]), maxPoles)]
	}
	pm := phaseModel{phase: p, cellKinds: cellKinds(p)}
	if p.Cell != nil {
		pm.reciprocal = p.Cell.Reciprocal()
	}
	lo, hi := m.setup.TwoTheta[0]-rangeMargin, m.setup.TwoTheta[len(m.setup.TwoTheta)-1]+rangeMargin
	pm.lines = weighty(p.Lines, func(l refdata.Line) bool { return reaches(l.D, lo, hi, m.emissions) })
	if !slices.ContainsFunc(pm.lines, func(l refdata.Line) bool { return reaches(l.D, lo, hi, m.emissions[:1]) }) {
		pm.lines = nil // what reaches the scan by Kβ alone says nothing of an amount
	}
	for _, q := range phaseParameters(i, p, poles) {
		n := m.add(q)
		switch q.Kind {
		case Size:
			pm.size = n
		case Strain:
			pm.strain = n
		case Thermal:
			pm.thermal = n
		case TextureLogR:
			pm.texture = append(pm.texture, n)
		default:
			pm.cell = append(pm.cell, n)
		}
	}
	if len(poles) > 0 {
		rotations := laueGroup(p)
		for _, pole := range poles {
			for _, l := range pm.lines {
				pm.cosines = append(pm.cosines, poleCosines(l, pole, rotations, pm.reciprocal))
			}
		}
	}
	m.phases = append(m.phases, pm)
}

// weighty returns the lines that pass the test and matter: large cells have thousands that do not.
func weighty(lines []refdata.Line, pass func(refdata.Line) bool) []refdata.Line {
	var kept []refdata.Line
	var sum, weak float64
	for _, l := range lines {
		if !pass(l) {
			continue
		}
		kept = append(kept, l)
		sum += l.Intensity
		if l.Intensity < mattersLeast {
			weak += l.Intensity
		}
	}
	if weak > negligible*sum {
		return kept // weak, but together they are something
	}
	return slices.DeleteFunc(kept, func(l refdata.Line) bool { return l.Intensity < mattersLeast })
}

// reaches reports whether planes d Å apart diffract one of the wavelengths between two angles.
func reaches(d, lo, hi float64, emissions []emission) bool {
	for _, e := range emissions {
		if t, ok := xrd.TwoTheta(d, e.wavelength); ok && t >= lo && t <= hi {
			return true
		}
	}
	return false
}

func (m *Model) key(p Parameter) Key {
	k := Key{Kind: p.Kind, Pole: p.Pole}
	if p.Phase >= 0 {
		k.ID = m.setup.Phases[p.Phase].ID
	}
	return k
}

// global returns the present value of a parameter that belongs to all phases.
func (m *Model) global(k Kind) float64 { return m.params[m.globals[k]].Value }

// slotOf returns the place of a global parameter among the free ones, -1 when it is held.
func (m *Model) slotOf(k Kind) int { return m.slot[m.globals[k]] }

// Parameters returns the parameters with their present values; the slice is a copy.
func (m *Model) Parameters() []Parameter { return append([]Parameter(nil), m.params...) }

// release frees the parameters that the test accepts and holds the others.
func (m *Model) release(accept func(Parameter) bool) {
	for i := range m.params {
		m.params[i].Free = accept(m.params[i])
	}
	m.prepare()
}

// prepare fixes what must not change while a fit runs, so that its sum of squares is smooth: which parameters are
// free, which points each line reaches and how many nodes its axial tail needs.
func (m *Model) prepare() {
	m.free = m.free[:0]
	m.slot = make([]int, len(m.params))
	for i, p := range m.params {
		m.slot[i] = -1
		if p.Free {
			m.slot[i] = len(m.free)
			m.free = append(m.free, i)
		}
	}
	m.terms = m.terms[:0]
	for p := range m.phases {
		v := m.view(p)
		for l := range m.phases[p].lines {
			for e := range m.emissions {
				if m.emissions[e].share < 0 {
					k := m.params[m.globals[m.emissions[e].param]]
					if !k.Free && k.Value == 0 || m.phases[p].lines[l].Intensity*math.Max(k.Value, 3*k.Prior.Sigma) < mattersLeast {
						continue
					}
				}
				if t, ok := m.newTerm(p, l, e); ok {
					m.addTerm(v, t)
				}
			}
		}
	}
	sort.SliceStable(m.terms, func(i, j int) bool { return m.terms[i].first < m.terms[j].first })
}

// newTerm describes a line for one wavelength; it reports false when that wavelength is not diffracted.
func (m *Model) newTerm(p, l, e int) (term, bool) {
	pm := &m.phases[p]
	line := &pm.lines[l]
	wl := m.emissions[e].wavelength
	angle, ok := xrd.TwoTheta(line.D, wl)
	if !ok || angle > maxTwoTheta {
		return term{}, false
	}
	t := term{phase: p, line: l, emission: e, d: line.D, excess: 1, thermal: 1 / (2 * line.D * line.D)}
	if pm.phase.Cell != nil && len(line.Families) > 0 {
		f := line.Families[0]
		t.hkl = [3]float64{float64(f.H), float64(f.K), float64(f.L)}
		t.excess = 1 / (line.D * line.D * pm.reciprocal.Norm2(t.hkl[0], t.hkl[1], t.hkl[2]))
	}
	t.sin, t.cos = math.Sincos(xrd.Radians(angle) / 2)
	t.tan = t.sin / t.cos
	t.cot = (t.cos*t.cos - t.sin*t.sin) / (2 * t.sin * t.cos)
	t.toDisplacement = m.setup.Instrument.Shift(angle, 1)
	t.base = line.Intensity / 100 * m.setup.Instrument.IntensityFactor(angle, m.setup.Specimen.Length)
	if e == 0 {
		return t, true
	}
	if main, ok := xrd.TwoTheta(line.D, m.setup.Radiation.KAlpha1); ok && main <= maxTwoTheta {
		a := pm.phase.Beam.Monochromator.PolarizationRatio()
		t.base *= xrd.LorentzPolarization(angle, a) / xrd.LorentzPolarization(main, a)
	}
	return t, true
}

// maxTwoTheta keeps lines away from 180°, where the Lorentz factor has no bound.
const maxTwoTheta = 175

func (m *Model) addTerm(v phaseView, t term) {
	s, ok := m.shape(v, &t, nil)
	if !ok {
		return
	}
	most := m.phases[t.phase].lines[t.line].Intensity
	if e := m.emissions[t.emission]; e.share < 0 {
		most *= m.params[m.globals[e.param]].Upper
	}
	reach := s.fwhm * (6 + 3.4*math.Sqrt(most))
	span := math.Abs(s.tail)
	if m.params[m.globals[Axial]].Free {
		span = math.Max(span, math.Abs(0.03*t.cot))
	}
	x := m.setup.TwoTheta
	t.first = sort.SearchFloat64s(x, s.centre-reach-span)
	t.last = sort.SearchFloat64s(x, s.centre+reach+span)
	if t.first < t.last {
		t.nodes = xrd.AxialNodes(span / s.fwhm)
		m.terms = append(m.terms, t)
	}
}
