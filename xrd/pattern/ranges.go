package pattern

import (
	"sync"

	"gonum.org/v1/gonum/floats"

	"phasetally/xrd/leastsq"
)

// Size implements leastsq.Separable. The linear parameters are the scales.
func (m *Model) Size() (points, linear, nonlinear int) {
	return len(m.setup.TwoTheta), len(m.phases), len(m.free)
}

// Fixed returns what else the pattern is linear in and no parameter moves: the blank if there is one, the background.
func (m *Model) Fixed() []leastsq.Strip {
	if m.setup.Blank != nil {
		return append([]leastsq.Strip{{Values: m.setup.Blank}}, m.background...)
	}
	return m.background
}

// firstBackground returns the number of linear parameters before those of the background.
func (m *Model) firstBackground() int { return len(m.phases) + len(m.Fixed()) - len(m.background) }

// linear returns the number of linear parameters: scales, blank and background.
func (m *Model) linear() int { return len(m.phases) + len(m.Fixed()) }

// set stores the free parameters.
func (m *Model) set(theta []float64) {
	for i, k := range m.free {
		m.params[k].Value = theta[i]
	}
}

// At implements leastsq.Ranged: it stores the free parameters and makes the profiles of all terms.
func (m *Model) At(theta []float64) {
	m.set(theta)
	m.views = m.views[:0]
	for p := range m.phases {
		m.views = append(m.views, m.view(p))
	}
	m.shapes = m.shapes[:0]
	for i := range m.terms {
		t := &m.terms[i]
		s, ok := m.shape(m.views[t.phase], t, nil)
		if !ok {
			s = shape{}
		}
		m.shapes = append(m.shapes, s)
	}
}

// Columns implements leastsq.Separable.
func (m *Model) Columns(theta []float64, phi [][]float64) {
	m.At(theta)
	m.ColumnsIn(0, len(m.setup.TwoTheta), phi)
}

// Derivatives implements leastsq.Separable.
func (m *Model) Derivatives(theta, c []float64, jac [][]float64) {
	m.At(theta)
	m.DerivativesIn(0, len(m.setup.TwoTheta), c, jac)
}

// ColumnsIn implements leastsq.Ranged.
func (m *Model) ColumnsIn(lo, hi int, phi [][]float64) {
	for _, row := range phi {
		clear(row[lo:hi])
	}
	for i := range m.terms {
		t, s := &m.terms[i], m.shapes[i]
		if first, last := max(lo, t.first), min(hi, t.last); first < last && s.fwhm > 0 {
			addProfile(m.setup.TwoTheta[first:last], phi[t.phase][first:last], s, t.nodes)
		}
	}
}

// A workspace is where the derivatives of one line are formed.
type workspace struct {
	basis basis
	moves slopes
}

// workspaces are those nobody works at. Their number does not depend on the garbage collector, as that of a sync.Pool does.
type workspaces struct {
	mu   sync.Mutex
	free []*workspace
}

// take returns a workspace for one caller alone.
func (ds *workspaces) take() *workspace {
	ds.mu.Lock()
	defer ds.mu.Unlock()
	if n := len(ds.free); n > 0 {
		d := ds.free[n-1]
		ds.free = ds.free[:n-1]
		return d
	}
	return new(workspace)
}

// giveBack takes a workspace back.
func (ds *workspaces) giveBack(d *workspace) {
	ds.mu.Lock()
	defer ds.mu.Unlock()
	ds.free = append(ds.free, d)
}

// DerivativesIn implements leastsq.Ranged.
func (m *Model) DerivativesIn(lo, hi int, c []float64, jac [][]float64) {
	for _, row := range jac {
		clear(row[lo:hi])
	}
	if len(jac) == 0 {
		return
	}
	d := m.workspaces.take()
	defer m.workspaces.giveBack(d)
	for i := range m.terms {
		t := &m.terms[i]
		first, last := max(lo, t.first), min(hi, t.last)
		if first >= last || c[t.phase] == 0 {
			continue
		}
		s, ok := m.shape(m.views[t.phase], t, &d.moves)
		if !ok {
			continue
		}
		d.basis.differentiate(m.setup.TwoTheta[first:last], s, t.nodes)
		for _, v := range d.moves {
			floats.AddScaled(jac[v.slot][first:last], c[t.phase]*v.factor, d.basis[v.quantity])
		}
	}
}
