package pattern_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
)

// TestHotPathAllocates nothing that grows with the scan: after warm-up, a few words for the two workers and the cells.
func TestHotPathAllocates(t *testing.T) {
	_, s := mixture(t)
	m, err := pattern.NewModel(s)
	require.NoError(t, err)
	pattern.Release(m, func(p pattern.Parameter) bool { return p.Kind != pattern.Footprint })
	n, linear, nonlinear := m.Size()
	phi, jac := rows(linear, n), rows(nonlinear, n)
	c, theta := make([]float64, linear), values(m)
	for i := range c {
		c[i] = 1
	}
	step := func() {
		m.Columns(theta, phi)
		m.Derivatives(theta, c, jac)
	}
	step()
	require.LessOrEqual(t, testing.AllocsPerRun(10, step), 12.0)
}

func rows(k, n int) [][]float64 {
	out := make([][]float64, k)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

// values returns the free parameters of a model.
func values(m *pattern.Model) []float64 {
	var theta []float64
	for _, p := range m.Parameters() {
		if p.Free {
			theta = append(theta, p.Value)
		}
	}
	return theta
}
