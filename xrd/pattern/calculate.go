package pattern

import (
	"maps"
	"phasetally/refdata"
)

// Calculate returns the pattern of one phase alone at the widths of the setup's instrument, for a scale, a displacement
// (mm) and a stretch of all edges: what a candidate is expected to add. Points are those of the setup.
func Calculate(s Setup, p refdata.Phase, scale, displacement, stretch float64) []float64 {
	s.Phases, s.Poles, s.Blank, s.BlankVar, s.ExtraVariance = []refdata.Phase{p}, nil, nil, nil, nil
	s.Start.Displacement = displacement
	values := make(map[Key]float64, len(s.Start.Values)+3)
	maps.Copy(values, s.Start.Values)
	for _, k := range []Kind{CellA, CellB, CellC} {
		values[Key{Kind: k, ID: p.ID}] = stretch
	}
	s.Start.Values = values
	return draw(s, scale)
}

// draw returns the pattern of the first phase of a setup at its starting values.
func draw(s Setup, scale float64) []float64 {
	out := make([]float64, len(s.TwoTheta))
	m, err := newLines(s)
	if err != nil {
		return out
	}
	v := m.view(0)
	for i := range m.terms {
		t := &m.terms[i]
		if sh, ok := m.shape(v, t, nil); ok && sh.area != 0 {
			sh.area *= scale
			addProfile(s.TwoTheta[t.first:t.last], out[t.first:t.last], sh, t.nodes)
		}
	}
	return out
}
