package analysis

import (
	"cmp"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// document writes everything but the cautions, and returns the watched phases that seem to be there.
func document(m measured) (result.Document, []diagnose.WatchedSeen) {
	doc := m.described()
	var watched []diagnose.WatchedSeen
	if m.identified != nil {
		doc.Explanation, doc.Procedure = m.explained(), m.procedure()
		for _, u := range m.left {
			doc.UnexplainedPeaks = append(doc.UnexplainedPeaks, result.Unexplained{
				TwoTheta: u.peak.TwoTheta, D: u.peak.D, Significance: u.significance, CouldBe: couldBe(m.job, u.peak)})
		}
	}
	if m.identified != nil && m.identified.Fit != nil {
		m.fractions(&doc)
		doc.Fit = fitOf(m.identified.Fit)
		doc.NotDetected, watched = m.limits()
		m.aloneWithin(&doc)
	}
	for _, p := range m.found.Peaks {
		doc.Peaks = append(doc.Peaks, peakOf(p, m.found.Peaks, doc.Phases))
	}
	doc.References = result.References(doc)
	return doc, watched
}

// explained says how far the phases account for the scan.
func (m measured) explained() *result.Explanation {
	x := &result.Explanation{Verdict: m.cover.Verdict, ExplainedShare: result.Number(m.cover.Share), LeftOverPeaks: []result.LeftOverPeak{}, DoubtedPhases: append([]string{}, m.cover.Doubted...)}
	for _, l := range m.left {
		x.LeftOverPeaks = append(x.LeftOverPeaks, result.LeftOverPeak{TwoTheta: l.peak.TwoTheta, Share: l.share, Significance: l.significance})
	}
	x.OneSpacing = m.oneSpacing()
	x.SearchStoppedAfter = m.identified.Stopped
	if t := m.decided.Tube; t != nil {
		x.Radiation, x.SingleWavelength = t.Name, t.Halved
	}
	if r := m.identified.Rest; r != nil && x.Verdict != result.Complete {
		x.Rest = &result.Rest{ID: r.ID, Name: r.Name, Peaks: r.Peaks, Of: r.Of, Elements: append([]string{}, r.NotAllowed...)}
	}
	if r := m.identified.RestElement; r != nil && x.Verdict != result.Complete {
		x.RestElement = &result.RestElement{Symbol: r.Symbol, Phases: r.Phases, Peaks: r.Peaks, Of: r.Of}
	}
	return x
}

// procedure is the record of what was done.
func (m measured) procedure() *result.Procedure {
	p := &result.Procedure{Phases: result.Searched, Fractions: result.NoFractions, Scans: 1, Grains: m.Grain != nil, Blank: m.job.Blank != nil,
		Calibrated: m.job.Instrument.Calibrated}
	switch {
	case m.job.Searched:
		p.Phases = result.SearchedInSeries
	case len(m.job.Phases) > 0:
		p.Phases = result.NamedByUser
	}
	if m.same != nil {
		p.Scans = len(m.same.Scans)
	}
	if s := m.decided.Slit; s != nil {
		p.Slit = "overspill"
		if s.Automatic {
			p.Slit = "automatic"
		}
	}
	for _, match := range m.identified.Matches {
		if match.Evidence != result.Named && match.Phase.ID == m.identified.Fit.Setup.Anchor {
			p.Anchor = match.Phase.ID
		}
	}
	switch a := m.absolute(); {
	case a != nil:
		p.Fractions = result.FractionSource(a.Method)
	case slices.ContainsFunc(m.Answer.Fractions, func(f quantify.Fraction) bool { return f.Weight.Percent >= 0 }):
		p.Fractions = result.Normalised
	}
	return p
}

// described returns a document with what is known of the scan.
func (m measured) described() result.Document {
	lo, hi := m.whole.Range()
	about := m.job.Scan.About
	slit := m.job.Instrument.Slit
	doc := result.Document{
		Schema: result.Schema,
		Scan: result.Scan{
			File: m.job.File, SHA256: m.job.SHA256, Sample: about.Sample, Points: m.scan.Len(),
			TwoThetaMin: lo, TwoThetaMax: hi, Step: math.Round(m.whole.Step()*1e6) / 1e6,
			Radiation: m.job.Radiation.Name, Wavelength: m.job.Radiation.KAlpha1, RadiationAssumed: m.job.RadiationAssumed,
			Slit: slit.String(), Geometry: m.job.Instrument.Geometry.String(), RadiusMM: result.Positive(m.job.Instrument.Radius), SpecimenLengthMM: result.Positive(m.job.Specimen.Length),
			Section: m.job.Specimen.Section, Mount: m.job.Specimen.Mount, Intercepts: m.job.lengths(), InterceptCV2: m.job.spread(), CountingTimeS: result.Positive(about.CountingTime),
			Simulated: about.Simulated, NoiseModel: string(m.found.Noise.Kind),
		},
		Phases: []result.Phase{}, FractionCovariance: [][]float64{}, NotDetected: []result.NotDetected{}, UnexplainedPeaks: []result.Unexplained{},
		Cautions: []xrd.Caution{}, Peaks: []result.Peak{}, Provenance: m.job.Provenance,
	}
	if m.job.Specimen.Name != "" {
		doc.Scan.Sample = m.job.Specimen.Name
	}
	return doc
}

// fractions fills in the phases with their amounts.
func (m measured) fractions(doc *result.Document) {
	for _, i := range m.order {
		doc.Phases = append(doc.Phases, m.phase(i))
		row := make([]float64, 0, len(m.order))
		for _, j := range m.order {
			row = append(row, m.Answer.Covariance[i][j])
		}
		doc.FractionCovariance = append(doc.FractionCovariance, row)
	}
	doc.Micrograph, doc.Factors = m.micrograph(), m.factorsUsed()
	doc.Absorption = result.Absorption(m.Answer.Absorption)
	doc.Absolute, doc.SameSpecimen = m.absolute(), m.same
}

// orderOf orders the phases for the reader: the specimen's own by falling fraction, then the standard, then artefacts.
func orderOf(roles []quantify.Role, answer quantify.Answer, scales []float64) []int {
	var order []int
	for i, role := range roles {
		if role != quantify.Absent {
			order = append(order, i)
		}
	}
	rank := map[quantify.Role]int{quantify.Specimen: 0, quantify.Standard: 1, quantify.Preparation: 2}
	slices.SortStableFunc(order, func(a, b int) int {
		wa, wb := answer.Fractions[a].Weight.Percent, answer.Fractions[b].Weight.Percent
		if math.IsNaN(wa + wb) {
			wa, wb = scales[a], scales[b]
		}
		return cmp.Or(rank[roles[a]]-rank[roles[b]], cmp.Compare(wb, wa))
	})
	return order
}

var roleNames = map[quantify.Role]string{quantify.Specimen: "specimen", quantify.Preparation: "preparation", quantify.Standard: "standard"}

func (m measured) phase(i int) result.Phase {
	match := m.identified.Matches[i]
	fit, p, f := m.identified.Fit, match.Phase, m.Answer.Fractions[i]
	out := result.Phase{
		ID: p.ID, Name: p.Name, Formula: p.Formula, Source: p.Source, Origin: roleNames[m.Roles[i]], Evidence: match.Evidence, Reasons: []result.Reason{},
		WeightPercent: result.Number(f.Weight.Percent), WeightPercentLo: result.Number(f.Weight.Lo), WeightPercentHi: result.Number(f.Weight.Hi),
		VolumePercent: result.Number(f.Volume.Percent), VolumePercentLo: result.Number(f.Volume.Lo), VolumePercentHi: result.Number(f.Volume.Hi),
		OriginalWeightPercent: result.Number(f.Original.Percent), OriginalWeightPercentLo: result.Number(f.Original.Lo), OriginalWeightPercentHi: result.Number(f.Original.Hi),
		FineLimitWeightPercent: result.Number(f.Fine.Percent), FineLimitLo: result.Number(f.Fine.Lo), FineLimitHi: result.Number(f.Fine.Hi),
		Depth95: result.Positive(f.Depth), Hazards: []result.Hazard{},
		CoarseLimitWeightPercent: result.Number(f.Coarse.Percent), CoarseLimitLo: result.Number(f.Coarse.Lo), CoarseLimitHi: result.Number(f.Coarse.Hi), DetectionLimit: result.Number(f.Limit),
		RIR: result.Positive(p.RIR.Value), RIROrigin: p.RIR.Origin, RIRBasis: p.RIR.Basis, RIRRadiation: p.RIR.Radiation,
		Density: result.Positive(p.Density), DensityOrigin: p.DensityOrigin,
		LineRIR: m.lineRIR(i), Sections: m.sections(i), Scale: fit.Scales[i], ScaleU: math.Sqrt(fit.ScaleCov[i][i]) * fit.Agreement.BerarLelann,
		Texture: []result.Texture{}, Lines: []result.PhaseLine{}, Alternatives: []result.Alternative{}, SameAs: append([]string{}, match.Same...), Budget: []result.BudgetItem{},
	}
	if m.Roles[i] == quantify.Preparation && m.Belonging != nil {
		w := m.Belonging[i].Weight
		out.IfOwnWeightPercent, out.IfOwnLo, out.IfOwnHi = result.Number(w.Percent), result.Number(w.Lo), result.Number(w.Hi)
	}
	for _, h := range refdata.Hazards(p) {
		out.Hazards = append(out.Hazards, result.Hazard{Code: h.Code, Text: h.Text})
	}
	for _, x := range match.Reasons {
		out.Reasons = append(out.Reasons, result.Reason{Code: x.Code, Text: x.Text, Value: result.Number(x.Value)})
	}
	out.Reasons = append(out.Reasons, m.merit(match)...)
	for _, a := range match.Alternatives {
		out.Alternatives = append(out.Alternatives, result.Alternative{ID: a.ID, Name: a.Name, Gain: a.Gain, Decide: a.Decide})
	}
	for _, t := range m.decided.Twins {
		if t.Of == p.ID {
			out.Alternatives = append(out.Alternatives, result.Alternative{ID: t.Phase.ID, Name: t.Phase.Name, Gain: 1, Decide: "elemental analysis, a wider scan or another tube"})
		}
	}
	for _, b := range f.Budget {
		out.Budget = append(out.Budget, result.BudgetItem{Source: b.Name, UWeightPercent: b.U})
	}
	if cell, u, ok := fit.Cell(i); ok {
		out.Cell, out.CellU = &cell, &u
		if fit.CellAtBound(i) {
			out.CellU = nil // where the cell lies is not known
		}
	}
	m.shape(&out, i)
	for _, l := range match.Lines {
		out.Lines = append(out.Lines, lineOf(l, m.job.Radiation))
	}
	return out
}
