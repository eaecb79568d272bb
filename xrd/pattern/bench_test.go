package pattern_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// mixture is a scan of three phases, 5° to 150° at 0.02°.
func mixture(t testing.TB) (truth, pattern.Setup) {
	t.Helper()
	r := copper(t)
	s := truth{phases: starters(t, r, "corundum", "fluorite", "zincite"), scales: []float64{500, 900, 1200},
		stretch: []float64{0.0005, -0.001, 0.0008}, displacement: 0.08, background: 60}
	x := angles(5, 150, 0.02)
	return s, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 1), r, s.phases)
}

func benchmarkRun(b *testing.B, effort pattern.Effort) {
	_, s := mixture(b)
	var f *pattern.Fit
	var err error
	b.ReportAllocs()
	for b.Loop() {
		f, err = pattern.Run(context.Background(), s, effort)
	}
	require.NoError(b, err)
	b.ReportMetric(b.Elapsed().Seconds()*1e3/float64(b.N*max(1, f.Iterations)), "ms/iteration")
	b.ReportMetric(f.Agreement.ReducedChiSquare, "χ²") // a fast fit of poor quality is no gain
}

func BenchmarkRunQuick(b *testing.B) { benchmarkRun(b, pattern.Quick) }
func BenchmarkRunFull(b *testing.B)  { benchmarkRun(b, pattern.Full) }

// benchmarkModel is the model of the mixture with all that Run releases.
func benchmarkModel(b *testing.B) (m *pattern.Model, theta, c []float64, phi, jac [][]float64) {
	_, s := mixture(b)
	m, err := pattern.NewModel(s)
	require.NoError(b, err)
	pattern.Release(m, func(p pattern.Parameter) bool { return p.Kind != pattern.Footprint && p.Kind != pattern.Zero })
	n, linear, nonlinear := m.Size()
	c = make([]float64, linear)
	for i := range c {
		c[i] = 100
	}
	return m, values(m), c, rows(linear, n), rows(nonlinear, n)
}

func BenchmarkColumns(b *testing.B) {
	m, theta, _, phi, _ := benchmarkModel(b)
	b.ReportAllocs()
	for b.Loop() {
		m.Columns(theta, phi)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*len(phi[0])), "ns/point")
}

func BenchmarkDerivatives(b *testing.B) {
	m, theta, c, _, jac := benchmarkModel(b)
	b.ReportAllocs()
	for b.Loop() {
		m.Derivatives(theta, c, jac)
	}
	b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*len(jac[0])*len(jac)), "ns/element")
}
