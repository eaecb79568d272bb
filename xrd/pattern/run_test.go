package pattern_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

func run(t testing.TB, s pattern.Setup, effort pattern.Effort) *pattern.Fit {
	t.Helper()
	f, err := pattern.Run(context.Background(), s, effort)
	require.NoError(t, err)
	return f
}

// coarse is a mixture of three phases that is quick to fit.
func coarse(t testing.TB, scale float64) (truth, []float64, []float64) {
	t.Helper()
	r := copper(t)
	s := truth{phases: starters(t, r, "corundum", "fluorite", "zincite"), scales: []float64{5 * scale, 9 * scale, 12 * scale},
		stretch: []float64{0.0005, -0.001, 0.0008}, displacement: 0.08, background: 40}
	x := angles(20, 100, 0.04)
	ins := xrd.DefaultInstrument()
	ins.Axial = 0.02 // away from its bound, where a fit would be biased by half an uncertainty
	return s, x, s.expected(x, r, ins)
}

// pull collects (found − true)/u.
type pull struct{ n, sum, squares float64 }

func (p *pull) add(v float64) { p.n++; p.sum += v; p.squares += v * v }

func (p *pull) mean() float64 { return p.sum / p.n }
func (p *pull) sd() float64   { return math.Sqrt(p.squares / p.n) }

// TestRecovery fits many simulated scans of a known mixture: what is found lies around the truth by what its standard
// uncertainty says. The priors pull displacement and cells by less than a hundredth of their uncertainty here.
func TestRecovery(t *testing.T) {
	s, x, expected := coarse(t, 40)
	var scales, cells, shift pull
	for seed := range uint64(40) {
		f := run(t, setup(x, counted(expected, seed), copper(t), s.phases), pattern.Full)
		require.Equal(t, leastsq.Converged, f.Status)
		for p := range s.phases {
			scales.add((f.Scales[p] - s.scales[p]) / math.Sqrt(f.ScaleCov[p][p]))
			cell, u, ok := f.Cell(p)
			require.True(t, ok)
			cells.add((cell.A/s.phases[p].Cell.A - 1 - s.stretch[p]) * s.phases[p].Cell.A / u.A)
		}
		d, ok := f.Get(pattern.Displacement, -1)
		require.True(t, ok)
		shift.add((d.Value - s.displacement) / d.U)
	}
	for name, p := range map[string]pull{"scales": scales, "cells": cells, "displacement": shift} {
		t.Logf("%s: mean pull %.2f, spread %.2f", name, p.mean(), p.sd())
		// A spread of 1 is estimated from n pulls to 1/√(2n); three scales of one scan are nearly independent.
		least := 4 / math.Sqrt(2*p.n)
		assert.InDelta(t, 1, p.sd(), math.Max(0.25, least), name)
		assert.InDelta(t, 0, p.mean(), 4/math.Sqrt(p.n)*1.2, name)
	}
}

// TestPoorStart: from 0.4 mm and a cell 0.4 % off, the fit ends where it ends from the truth.
func TestPoorStart(t *testing.T) {
	s, x, expected := coarse(t, 40)
	set := setup(x, counted(expected, 99), copper(t), s.phases)
	best := run(t, set, pattern.Full)
	for _, sign := range []float64{-1, 1} {
		poor := set
		poor.Start.Displacement = s.displacement + 0.4*sign
		poor.Start.Values = map[pattern.Key]float64{}
		for p, phase := range s.phases {
			for _, k := range []pattern.Kind{pattern.CellA, pattern.CellC} {
				poor.Start.Values[pattern.Key{Kind: k, ID: phase.ID}] = s.stretch[p] - 0.004*sign
			}
		}
		f := run(t, poor, pattern.Full)
		assert.InEpsilon(t, best.Agreement.ReducedChiSquare, f.Agreement.ReducedChiSquare, 1e-3)
		for p := range s.phases {
			assert.InDelta(t, best.Scales[p], f.Scales[p], 0.1*math.Sqrt(best.ScaleCov[p][p]), s.phases[p].ID)
		}
	}
}

// TestLowCounts: peaks of 20 counts on a background of 2 give scales that are right on average; weights from the counts
// themselves would lose about a tenth.
func TestLowCounts(t *testing.T) {
	r := copper(t)
	s := truth{phases: starters(t, r, "fluorite", "copper"), scales: []float64{3, 3}, stretch: []float64{0, 0}, background: 2}
	x := angles(20, 100, 0.04)
	expected := s.expected(x, r, xrd.DefaultInstrument())
	require.InDelta(t, 20, slices.Max(expected), 8)
	var rel, pulls pull
	for seed := range uint64(40) {
		f := run(t, setup(x, counted(expected, seed), r, s.phases), pattern.Full)
		for p := range s.phases {
			rel.add(f.Scales[p]/s.scales[p] - 1)
			pulls.add((f.Scales[p] - s.scales[p]) / math.Sqrt(f.ScaleCov[p][p]))
		}
	}
	t.Logf("mean error %.2f %% ± %.2f %%, spread of pulls %.2f", 100*rel.mean(), 100*rel.sd()/math.Sqrt(rel.n), pulls.sd())
	assert.InDelta(t, 0, rel.mean(), 4*rel.sd()/math.Sqrt(rel.n))
	assert.InDelta(t, 1, pulls.sd(), 0.3)
}

// TestTwins: two phases with the same lines cannot be told apart; the fit says so and the sum is right.
func TestTwins(t *testing.T) {
	r := copper(t)
	s := truth{phases: starters(t, r, "fluorite"), scales: []float64{200}, stretch: []float64{0}, background: 20}
	x := angles(20, 100, 0.04)
	twin := s.phases[0]
	twin.ID = "twin"
	f := run(t, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 5), r, []refdata.Phase{s.phases[0], twin}), pattern.Full)
	assert.InDelta(t, 200, f.Scales[0]+f.Scales[1], 4*math.Max(f.ZeroU[0], math.Sqrt(f.ScaleCov[0][0])))
	require.NotEmpty(t, f.Correlated)
	told := f.Correlated[0]
	assert.Equal(t, []string{"scale of fluorite", "scale of twin"}, []string{told.A, told.B})
	assert.Less(t, told.Rho, -0.99)
}

// TestNothingToFit: no phase, and a phase without a line in range, are answers rather than errors.
func TestNothingToFit(t *testing.T) {
	r := copper(t)
	x := angles(20, 60, 0.05)
	flat := make([]float64, len(x))
	for i := range flat {
		flat[i] = 30
	}
	counts := counted(flat, 6)
	for _, effort := range []pattern.Effort{pattern.Full, pattern.Quick} {
		f := run(t, setup(x, counts, r, nil), effort)
		assert.Empty(t, f.Scales)
		assert.InDelta(t, 30, f.Background[len(x)/2], 4)

		far := refdata.Phase{ID: "far", Lines: []refdata.Line{{D: 0.8, Intensity: 100}}}
		none := refdata.Phase{ID: "none"}
		f = run(t, setup(x, counts, r, []refdata.Phase{far, none, starter(t, "copper", r)}), effort)
		assert.Equal(t, []float64{0, 0}, f.Scales[:2])
		assert.Less(t, f.Scales[2], 4*f.ZeroU[2]+1e-9, "an absent phase is found absent")
		assert.Empty(t, f.Lines(0))
	}
}

// TestGaps: a scan with a masked range fits as well, and a line inside the gap is told to be uncovered.
func TestGaps(t *testing.T) {
	r := copper(t)
	s := truth{phases: starters(t, r, "fluorite"), scales: []float64{400}, stretch: []float64{0}, background: 20}
	x := append(angles(20, 46.9, 0.04), angles(47.1, 100, 0.04)...) // 220 at 47.0°
	f := run(t, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 5), r, s.phases), pattern.Full)
	assert.InDelta(t, 400, f.Scales[0], 4*math.Sqrt(f.ScaleCov[0][0])*f.Agreement.BerarLelann)
	inGap := 0
	for _, l := range f.Lines(0) {
		hidden := l.TwoTheta > 46.9 && l.TwoTheta < 47.1 || l.TwoTheta > 100
		assert.Equal(t, !hidden, l.Covered, "%.2f°", l.TwoTheta)
		if hidden && l.TwoTheta < 100 {
			inGap++
		}
	}
	assert.Equal(t, 1, inGap)
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	s, x, expected := coarse(t, 5)
	for _, effort := range []pattern.Effort{pattern.Full, pattern.Quick} {
		_, err := pattern.Run(ctx, setup(x, expected, copper(t), s.phases), effort)
		assert.ErrorIs(t, err, context.Canceled)
	}
}
