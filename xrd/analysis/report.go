package analysis

import (
	"cmp"
	"fmt"
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// number returns nil for a quantity that is not known.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// positive returns nil unless v is above 0.
func positive(v float64) *float64 {
	if !(v > 0) {
		return nil
	}
	return number(v)
}

// describe fills in what is known of the scan.
func (r *run) describe() {
	lo, hi := r.inRange.Range()
	about := r.job.Scan.About
	slit := r.job.Instrument.Slit
	r.doc = result.Document{
		Schema: result.Schema,
		Scan: result.Scan{
			File: r.job.File, SHA256: r.job.SHA256, Sample: about.Sample, Points: r.scan.Len(),
			TwoThetaMin: lo, TwoThetaMax: hi, Step: math.Round(r.inRange.Step()*1e6) / 1e6,
			Radiation: r.job.Radiation.Name, Wavelength: r.job.Radiation.KAlpha1, RadiationAssumed: r.job.RadiationAssumed,
			Slit: slit.String(), RadiusMM: positive(r.job.Instrument.Radius), SpecimenLengthMM: positive(r.job.Specimen.Length),
			Section: r.job.Specimen.Section, Mount: r.job.Specimen.Mount, CountingTimeS: positive(about.CountingTime),
			NoiseModel: string(r.found.Noise.Kind),
		},
		Phases: []result.Phase{}, FractionCovariance: [][]float64{}, NotDetected: []result.NotDetected{}, UnexplainedPeaks: []result.Unexplained{},
		Cautions: []xrd.Caution{}, Peaks: []result.Peak{}, Provenance: r.job.Provenance,
	}
	if r.job.Specimen.Name != "" {
		r.doc.Scan.Sample = r.job.Specimen.Name
	}
}

// report fills in phases, fit, unexplained peaks and limits.
func (r *run) report() {
	fit := r.outcome.Fit
	if fit == nil {
		return
	}
	r.sort()
	r.compareLines()
	for _, i := range r.order {
		r.doc.Phases = append(r.doc.Phases, r.phase(i, r.outcome.Members[i]))
		row := make([]float64, 0, len(r.order))
		for _, j := range r.order {
			row = append(row, r.answer.Covariance[i][j])
		}
		r.doc.FractionCovariance = append(r.doc.FractionCovariance, row)
	}
	r.doc.Absolute, r.doc.SameSpecimen = r.absolute(), r.same
	r.doc.Fit = fitOf(fit)
	for _, u := range r.leftovers() {
		r.doc.UnexplainedPeaks = append(r.doc.UnexplainedPeaks, result.Unexplained{
			TwoTheta: u.peak.TwoTheta, D: u.peak.D, Significance: u.significance, CouldBe: r.couldBe(u.peak)})
	}
	r.limits()
}

// sort orders the phases for the reader: the specimen's own by falling fraction, then the standard, then artefacts.
func (r *run) sort() {
	r.order = nil
	for i, role := range r.roles {
		if role != quantify.Absent {
			r.order = append(r.order, i)
		}
	}
	rank := map[quantify.Role]int{quantify.Specimen: 0, quantify.Standard: 1, quantify.Preparation: 2}
	slices.SortStableFunc(r.order, func(a, b int) int {
		wa, wb := r.answer.Fractions[a].Weight.Percent, r.answer.Fractions[b].Weight.Percent
		if math.IsNaN(wa + wb) {
			wa, wb = r.outcome.Fit.Scales[a], r.outcome.Fit.Scales[b]
		}
		return cmp.Or(rank[r.roles[a]]-rank[r.roles[b]], cmp.Compare(wb, wa))
	})
}

// place returns where member i stands in the document, -1 for one that is not there.
func (r *run) place(i int) int { return slices.Index(r.order, i) }

var roleNames = map[quantify.Role]string{quantify.Specimen: "specimen", quantify.Preparation: "preparation", quantify.Standard: "standard"}

func (r *run) phase(i int, m identify.Member) result.Phase {
	fit, p := r.outcome.Fit, m.Phase
	f := r.answer.Fractions[i]
	out := result.Phase{
		ID: p.ID, Name: p.Name, Formula: p.Formula, Origin: roleNames[r.roles[i]], Evidence: m.Evidence, Reasons: []result.Reason{},
		WeightPercent: number(f.Weight.Percent), WeightPercentLo: number(f.Weight.Lo), WeightPercentHi: number(f.Weight.Hi),
		VolumePercent: number(f.Volume.Percent), VolumePercentLo: number(f.Volume.Lo), VolumePercentHi: number(f.Volume.Hi),
		OriginalWeightPercent: number(f.Original.Percent), OriginalWeightPercentLo: number(f.Original.Lo), OriginalWeightPercentHi: number(f.Original.Hi),
		CoarseLimitWeightPercent: number(f.Coarse.Percent), CoarseLimitLo: number(f.Coarse.Lo), CoarseLimitHi: number(f.Coarse.Hi), DetectionLimit: number(f.Limit),
		RIR: positive(p.RIR.Value), RIROrigin: p.RIR.Origin, RIRBasis: p.RIR.Basis, RIRRadiation: p.RIR.Radiation,
		Density: positive(p.Density), DensityOrigin: p.DensityOrigin,
		LineRIR: r.lineRIR(i), Sections: r.sections(i), Scale: fit.Scales[i], ScaleU: math.Sqrt(fit.ScaleCov[i][i]) * fit.Agreement.Serial,
		Texture: []result.Texture{}, Lines: []result.PhaseLine{}, Alternatives: []result.Alternative{}, Budget: []result.BudgetItem{},
	}
	for _, x := range m.Reasons {
		out.Reasons = append(out.Reasons, result.Reason{Code: x.Code, Text: x.Text, Value: number(x.Value)})
	}
	out.Reasons = append(out.Reasons, r.merit(m)...)
	for _, a := range m.Alternatives {
		out.Alternatives = append(out.Alternatives, result.Alternative{ID: a.ID, Name: a.Name, Gain: a.Gain, Decide: a.Decide})
	}
	for _, t := range r.twins {
		if t.of == p.ID {
			out.Alternatives = append(out.Alternatives, result.Alternative{ID: t.phase.ID, Name: t.phase.Name, Gain: 1, Decide: "elemental analysis, a wider scan or another tube"})
		}
	}
	for _, b := range f.Budget {
		out.Budget = append(out.Budget, result.BudgetItem{Source: b.Name, UWeightPercent: b.U})
	}
	if cell, u, ok := fit.Cell(i); ok {
		out.Cell, out.CellU = &cell, &u
	}
	r.shape(&out, i)
	for _, l := range m.Lines {
		out.Lines = append(out.Lines, lineOf(l, r.job.Radiation))
	}
	return out
}

// shape fills in size, strain and texture where they are beyond their uncertainty.
func (r *run) shape(out *result.Phase, i int) {
	for _, q := range r.outcome.Fit.Parameters {
		if q.Phase != i || !q.Free {
			continue
		}
		switch q.Kind {
		case pattern.Size:
			if r.job.Instrument.Calibrated && q.Value > 2*q.U {
				out.SizeNM = number(pattern.SizeNM(q.Value, r.job.Radiation.KAlpha1))
			}
		case pattern.Strain:
			if r.job.Instrument.Calibrated && q.Value > 2*q.U {
				out.Strain = number(pattern.StrainOf(q.Value))
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

// ownClear is the share of a line's own phase above which it counts as the phase's own.
const ownClear = 0.6

func lineOf(l pattern.LineFit, rad xrd.Radiation) result.PhaseLine {
	out := result.PhaseLine{D: l.Line.D, TwoTheta: l.TwoTheta, Expected: l.Expected, Observed: number(l.Observed),
		ObservedU: number(l.MisfitU), Own: l.Covered && l.Clear >= ownClear}
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
		DurbinWatson: a.DurbinWatson, Iterations: f.Iterations, Background: f.Knots, Status: statusNames[f.Status],
		Undetermined: append([]string{}, f.Undetermined...), Correlated: correlations(f)}
	if z, ok := f.Get(pattern.Zero, -1); ok {
		out.ZeroShift = z.Value
	}
	if d, ok := f.Get(pattern.Displacement, -1); ok {
		out.DisplacementMM = number(d.Value)
	}
	return out
}

var statusNames = map[leastsq.Status]string{
	leastsq.NotRun: "not run", leastsq.Converged: result.Converged, leastsq.IterationLimit: "iteration limit",
	leastsq.EvaluationLimit: "evaluation limit", leastsq.Cancelled: "cancelled", leastsq.Stuck: "stuck",
}

// leftover is a peak that no phase explains.
type leftover struct {
	peak               peaks.Peak
	area, significance float64
}

// leftovers returns the peaks that stand out of the residual of the last fit and that neither a phase nor another wavelength
// explains.
func (r *run) leftovers() []leftover {
	if r.outcome == nil || r.outcome.Fit == nil {
		return nil
	}
	if r.left == nil {
		r.left = r.findLeftovers()
	}
	return r.left
}

// findLeftovers never returns nil.
func (r *run) findLeftovers() []leftover {
	left := identify.NewLeftover(r.outcome.Fit)
	step, stepped := r.edge()
	out := []leftover{}
	for _, p := range r.found.Peaks {
		if p.Kind != peaks.KAlpha || stepped && step.onFoot(p.TwoTheta) {
			continue
		}
		area, u, ok := left.At(p.TwoTheta)
		if ok && area > leftoverSigma*u && area > 0.3*p.Area {
			out = append(out, leftover{p, area, area / u})
		}
	}
	return out
}

// leftoverSigma is the significance from which a left-over peak is reported (common practice: 4 to 4.5 σ for less than
// one false peak in a hundred scans; the misfit of neighbours asks for a little more).
const leftoverSigma = 5.0

// couldBe names up to five phases of the collection, whatever their elements, that have a strong line at a peak.
func (r *run) couldBe(p peaks.Peak) []string {
	out := []string{}
	const (
		near   = 0.004 // relative difference of spacing: cell and displacement
		strong = 50.0
		most   = 5
	)
	for i := range r.job.Collection.Len() {
		e := r.job.Collection.Entry(i)
		for _, l := range e.Strong {
			if float64(l.Intensity) >= strong && math.Abs(float64(l.D)/p.D-1) < near {
				out = append(out, e.ID)
				break
			}
		}
		if len(out) == most {
			break
		}
	}
	return out
}

// limits lists the watched phases that were not found, with what would have been found.
func (r *run) limits() {
	if len(r.roles) == 0 {
		return
	}
	in := quantify.Input{Fit: r.outcome.Fit, Roles: r.roles, Threshold: r.outcome.Threshold}
	present := map[string]bool{}
	for _, m := range r.outcome.Members {
		present[m.Phase.ID] = true
	}
	for i, m := range r.outcome.Members {
		if r.roles[i] == quantify.Absent {
			r.doc.NotDetected = append(r.doc.NotDetected, result.NotDetected{ID: m.Phase.ID, Name: m.Phase.Name, DetectionLimit: number(r.answer.Fractions[i].Limit), Asked: true})
		}
	}
	if len(r.answer.Withheld) > 0 {
		return
	}
	for i := range r.job.Collection.Len() {
		e := r.job.Collection.Entry(i)
		watched := slices.ContainsFunc(r.job.Watch, func(id string) bool { return strings.EqualFold(id, e.ID) })
		if present[e.ID] || !watched && (e.Preparation == "" || len(r.job.Phases) > 0) {
			continue
		}
		p, err := r.job.Collection.Phase(i, r.beam)
		if err != nil {
			continue
		}
		if watched && len(r.job.Phases) > 0 { // a search would have found it
			if z := r.beside(p); z >= r.outcome.Threshold {
				r.watchedSeen = append(r.watchedSeen, watchedSeen{p, z})
				continue
			}
		}
		r.doc.NotDetected = append(r.doc.NotDetected, result.NotDetected{ID: e.ID, Name: e.Name, DetectionLimit: number(quantify.DetectionLimit(in, p)), Asked: watched})
	}
}

// listPeaks fills in the found peaks with the phases that explain them.
func (r *run) listPeaks() {
	for _, p := range r.found.Peaks {
		q := result.Peak{TwoTheta: p.TwoTheta, TwoThetaU: p.TwoThetaU, D: p.D, Height: p.Height, HeightU: p.HeightU, Area: p.Area, AreaU: p.AreaU,
			FWHM: p.FWHM, FWHMU: p.FWHMU, IntegralBreadth: p.IntegralBreadth, IntegralBreadthU: p.IntegralBreadthU,
			AreaFWHM: p.AreaFWHM, Overlap: p.Overlap, Significance: p.Significance, PhaseIDs: []string{}, HKL: []string{}, Kind: kindOf(p, r.found.Peaks)}
		for _, ph := range r.doc.Phases {
			if l, ok := lineAt(ph, p); ok {
				q.PhaseIDs = append(q.PhaseIDs, ph.ID)
				q.HKL = append(q.HKL, indices(l))
			}
		}
		r.doc.Peaks = append(r.doc.Peaks, q)
	}
}

// lineAt returns the strongest line of a phase that may explain a peak: near enough, and strong enough to matter there.
func lineAt(ph result.Phase, p peaks.Peak) (best result.PhaseLine, ok bool) {
	for _, l := range ph.Lines {
		if math.Abs(l.TwoTheta-p.TwoTheta) > math.Max(0.6*p.FWHM, 0.02) || l.Expected < 0.1*p.Area {
			continue
		}
		if !ok || l.Expected > best.Expected {
			best, ok = l, true
		}
	}
	return best, ok
}

// curves returns the columns of fit.csv for the points that were used.
func (r *run) curves() result.Curves {
	c := result.Curves{TwoTheta: r.scan.TwoTheta, Observed: r.scan.Intensity, Sigma: r.found.Sigma, Background: r.found.Background}
	if r.outcome == nil || r.outcome.Fit == nil {
		c.Calculated = r.found.Fitted
		return c
	}
	fit := r.outcome.Fit
	c.Calculated, c.Background = fit.Fitted, fit.Background
	for _, i := range r.order {
		c.Phases = append(c.Phases, fit.Curves[i])
	}
	c.Sigma = make([]float64, len(fit.Noise))
	for i, v := range fit.Noise {
		if fit.Setup.Doubt != nil {
			v -= fit.Setup.Doubt[i]
		}
		c.Sigma[i] = math.Sqrt(math.Max(v, 1e-12))
	}
	return c
}

// indices returns "h k l" of a line, empty when they are not known.
func indices(l result.PhaseLine) string {
	if l.H == nil || l.K == nil || l.L == nil {
		return ""
	}
	return fmt.Sprintf("%d %d %d", *l.H, *l.K, *l.L)
}
