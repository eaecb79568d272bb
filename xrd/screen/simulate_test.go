package screen

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// A part is a phase of a simulated specimen.
type part struct {
	id      string
	scale   float64 // integrated intensity of the strongest line, Kα doublet, counts × degrees
	stretch float64 // relative growth of all edges
}

// A specimen is what a simulated scan shows, on a background of 30 counts in steps of 0.02°.
type specimen struct {
	parts        []part
	radiation    string
	lo, hi       float64
	displacement float64 // mm
	seed         uint64
}

// bushing is a specimen of three phases.
var bushing = specimen{parts: []part{{"copper", 400, 0.0004}, {"cu3sn-epsilon", 60, 0}, {"cuprite", 25, -0.0003}}, radiation: "Cu", lo: 5, hi: 150, displacement: 0.08, seed: 7}

// A simulated scan, with what is known of it.
type simulated struct {
	scan      Scan
	ins       xrd.Instrument
	beam      refdata.Beam
	counts    []float64
	parts     [][]float64 // what each part of the specimen was expected to give
	displaced float64
}

func phaseOf(t testing.TB, id string, beam refdata.Beam) refdata.Phase {
	t.Helper()
	lib := library.Starter()
	i, ok := lib.Find(id)
	require.True(t, ok, id)
	p, err := lib.Phase(i, beam)
	require.NoError(t, err)
	return p
}

func simulate(t testing.TB, s specimen) simulated {
	t.Helper()
	r, err := xrd.ParseRadiation(s.radiation)
	require.NoError(t, err)
	out := simulated{ins: xrd.DefaultInstrument(), beam: refdata.Beam{Radiation: r, MaxTwoTheta: math.Min(175, s.hi+3)}, displaced: s.displacement}
	all := xrdtest.Pattern{Lo: s.lo, Hi: s.hi, Step: 0.02, Radiation: r, Background: func(float64) float64 { return 30 }}
	x := all.Angles()
	out.scan = Scan{TwoTheta: x, Radiation: r, Workers: 2}
	for _, q := range s.parts {
		one := all
		one.Background = func(float64) float64 { return 0 }
		for _, l := range phaseOf(t, q.id, out.beam).Lines {
			at, ok := xrd.TwoTheta(l.D*(1+q.stretch), r.KAlpha1)
			if !ok {
				continue
			}
			fwhm, eta := xrd.ThompsonCoxHastings(out.ins.GaussianFWHM(at), out.ins.LorentzianFWHM(at))
			one.Lines = append(one.Lines, xrdtest.Line{TwoTheta: at + xrd.DisplacementShift(at, s.displacement, out.ins.Radius),
				Area: q.scale * l.Intensity / 100, FWHM: fwhm, Eta: eta})
		}
		out.parts = append(out.parts, one.Expected(x))
		all.Lines = append(all.Lines, one.Lines...)
	}
	out.counts = xrdtest.Count(t, x, all.Expected(x), s.seed).Intensity
	return out
}

// residual returns what is left once some parts are explained, but for a misfit of 3 %.
func (s simulated) residual(explained ...int) Residual {
	r := Residual{Intensity: make([]float64, len(s.counts)), Variance: make([]float64, len(s.counts)), Instrument: s.ins}
	if len(explained) > 0 {
		r.Displacement, r.Known = s.displaced, true
	}
	for i, c := range s.counts {
		r.Intensity[i], r.Variance[i] = c-30, math.Max(1, c)
		for _, p := range explained {
			e := s.parts[p][i]
			r.Intensity[i] -= e
			r.Variance[i] += 0.03 * 0.03 * e * e
		}
	}
	return r
}

// none skips no entry.
func none(int) bool { return false }

// starter returns the entries of the starter collection.
func starter() []Entry {
	lib := library.Starter()
	out := make([]Entry, lib.Len())
	for i := range out {
		e := lib.Entry(i)
		out[i] = Entry{i, e.SolidSolution, e.Strong}
	}
	return out
}

// crowd returns invented entries, their lines side by side as a built library has them, followed by those of the starter collection;
// those numbered from first on.
func crowd(n int) (entries []Entry, first int) {
	var lines []refdata.StrongLine
	for r := range xrdtest.Synthetic(11, n) {
		entries = append(entries, Entry{len(entries), r.SolidSolution, r.Strong})
		lines = append(lines, r.Strong...)
	}
	for i := range entries {
		k := len(entries[i].Strong)
		entries[i].Strong, lines = lines[:k:k], lines[k:]
	}
	for _, e := range starter() {
		e.Index += n
		entries = append(entries, e)
	}
	return entries, n
}
