package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// shape fills in size, strain and texture where they are beyond their uncertainty.
func (m measured) shape(out *result.Phase, i int) {
	for _, q := range m.identified.Fit.Parameters {
		if q.Phase != i || !q.Free {
			continue
		}
		switch q.Kind {
		case pattern.Size:
			if m.job.Instrument.Calibrated && q.Value > 2*q.U {
				out.SizeNM = result.Number(pattern.SizeNM(q.Value, m.job.Radiation.KAlpha1))
			}
		case pattern.Strain:
			if m.job.Instrument.Calibrated && q.Value > 2*q.U {
				out.Strain = result.Number(pattern.StrainOf(q.Value))
			}
		case pattern.TextureLogR:
			out.Texture = append(out.Texture, textureOf(q))
		}
	}
}

func textureOf(q pattern.Parameter) result.Texture {
	v := math.Exp(q.Value)
	return result.Texture{Pole: q.Pole, R: v, RU: v * q.U}
}

func lineOf(l pattern.LineFit, rad xrd.Radiation) result.PhaseLine {
	out := result.PhaseLine{D: l.Line.D, TwoTheta: l.TwoTheta, Expected: l.Expected, Observed: result.Number(l.Observed),
		ObservedU: result.Number(l.MisfitU), Own: l.Own(), Verdict: l.Verdict()}
	if !l.Covered {
		out.Observed, out.ObservedU = nil, nil
	}
	if len(l.Line.Families) > 0 {
		f := l.Line.Families[0]
		out.H, out.K, out.L = &f.H, &f.K, &f.L
	}
	return out
}

func fitOf(f *pattern.Fit) *result.Fit {
	a := f.Agreement
	out := &result.Fit{RWP: a.RWP, RWPBackground: a.RWPBackground, RExp: a.RExp, ReducedChiSquare: a.ReducedChiSquare,
		DurbinWatson: a.DurbinWatson, Iterations: f.Iterations, Background: f.Knots, Status: diagnose.StatusNames[f.Status],
		Undetermined: append([]string{}, f.Undetermined...), Correlated: correlations(f)}
	if z, ok := f.Get(pattern.Zero, -1); ok {
		out.ZeroShift = z.Value
	}
	if d, ok := f.Get(pattern.Displacement, -1); ok && f.Setup.Instrument.Geometry == xrd.Transmission {
		out.ZeroShift += f.Setup.Instrument.Shift(0, d.Value)
	} else if ok {
		out.DisplacementMM = result.Number(d.Value)
	}
	return out
}

// correlations lists the pairs of parameters that the scan hardly separates.
func correlations(f *pattern.Fit) []result.Correlation {
	out := []result.Correlation{}
	for _, c := range f.Correlated {
		out = append(out, result.Correlation{A: c.A, B: c.B, Rho: c.Rho})
	}
	return out
}

// lineRIR describes the check of match i; nil when there is none.
func (m measured) lineRIR(i int) *result.LineRIR {
	if m.Checks == nil || m.Roles[i] != quantify.Specimen {
		return nil
	}
	c := m.Checks[i]
	out := &result.LineRIR{Lines: c.Lines, MultiWeightPercent: result.Number(c.Multi.Percent), MultiLo: result.Number(c.Multi.Lo), MultiHi: result.Number(c.Multi.Hi), Sigmas: c.Sigmas}
	if c.Lines > 0 {
		out.SingleTwoTheta = result.Number(c.TwoTheta)
		out.SingleWeightPercent, out.SingleLo, out.SingleHi = result.Number(c.Single.Percent), result.Number(c.Single.Lo), result.Number(c.Single.Hi)
	}
	return out
}

// merit adds the figures of merit of a phase's lines to its reasons.
func (m measured) merit(match identify.Match) []result.Reason {
	f := identify.MeritOf(match.Lines, m.found.Peaks, m.job.Radiation.KAlpha1)
	if f.FLines == 0 {
		return nil
	}
	return []result.Reason{
		{Code: "merit-m", Text: fmt.Sprintf("de Wolff's figure of merit M(%d) = %.0f", f.MLines, f.M), Value: result.Number(f.M)},
		{Code: "merit-f", Text: fmt.Sprintf("Smith and Snyder's figure of merit F(%d) = %.0f (%.4f°, %d)", f.FLines, f.F, f.Delta, f.Possible), Value: result.Number(f.F)},
	}
}

const (
	toldLines = 8    // strongest lines of a fibre that are told
	toldLeast = 0.02 // of the strongest
)

// fibreOf works out what other sections of the piece would show of match i: from its fitted texture when the surface lies
// across the axis of the piece, or nothing is said of it, from its lines when it lies along it.
func (m measured) fibreOf(i int) (quantify.Fibre, bool) {
	match := m.identified.Matches[i]
	longitudinal := m.job.Specimen.Section == "longitudinal"
	pole, coefficient := [3]int{}, 1.0
	for _, q := range m.identified.Fit.Parameters {
		if q.Phase == i && q.Free && q.Kind == pattern.TextureLogR && math.Abs(q.Value) > math.Abs(math.Log(coefficient)) {
			pole, coefficient = q.Pole, math.Exp(q.Value)
		}
	}
	if m.job.Specimen.Section == "powder" || !longitudinal && math.Abs(coefficient-1) < diagnose.Textured {
		return quantify.Fibre{}, false
	}
	return quantify.FibreOf(match.Phase, match.Lines, pole, coefficient, longitudinal)
}

// sections describes a fibre for the document; nil for none.
func (m measured) sections(i int) *result.Sections {
	f, ok := m.fibreOf(i)
	if !ok {
		return nil
	}
	slices.SortStableFunc(f.Lines, func(a, b quantify.FibreLine) int { return cmp.Compare(b.Expected, a.Expected) })
	out := &result.Sections{Pole: f.Pole, R: f.R, Lines: []result.SectionLine{}}
	for _, l := range f.Lines[:min(toldLines, len(f.Lines))] {
		if l.Expected > toldLeast*f.Lines[0].Expected {
			out.Lines = append(out.Lines, result.SectionLine{H: l.H, K: l.K, L: l.L, Transverse: l.Transverse, Longitudinal: l.Longitudinal})
		}
	}
	return out
}
