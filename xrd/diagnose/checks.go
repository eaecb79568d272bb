package diagnose

import (
	"slices"

	"phasetally/xrd"
)

// A Check looks for one kind of doubt.
type Check struct {
	Codes []string // of the cautions that it may raise
	Needs Stage    // how far an analysis must have come
	// Of looks at the whole, OfPhase at one match of the explanation; one of them is nil.
	Of      func(Evidence) []xrd.Caution
	OfPhase func(e Evidence, match int) []xrd.Caution // see Of
}

// A Stage is how far an analysis has come; each includes those before it.
type Stage int

// The stages.
const (
	Measured  Stage = iota // peaks were looked for
	Explained              // phases were looked for
	Fitted                 // there is a fit, perhaps of a background alone
	Shared                 // there are phases
)

// stage returns how far an analysis has come.
func (e Evidence) stage() Stage {
	switch {
	case e.fitted():
		return Shared
	case e.Explanation != nil && e.Explanation.Fit != nil:
		return Fitted
	case e.Explanation != nil:
		return Explained
	}
	return Measured
}

// Checks are all checks, in the order in which cautions of one severity are told. Neighbours that look at single phases are
// run phase by phase.
var Checks = []Check{
	{Codes: nil, Needs: Measured, Of: ofPeaks}, // those that the search for peaks has raised
	{Codes: []string{"radiation-assumed"}, Needs: Measured, Of: radiationAssumed},
	{Codes: []string{"radiation-doubtful"}, Needs: Measured, Of: radiationContradicted},
	{Codes: []string{"blank-doubtful"}, Needs: Explained, Of: blankOfSpecimen},
	{Codes: []string{"instrument-differs"}, Needs: Measured, Of: otherTube},
	{Codes: []string{"instrument-differs"}, Needs: Measured, Of: narrowLines},
	{Codes: []string{"header-key"}, Needs: Measured, Of: keySlips},
	{Codes: []string{"beam-overspill"}, Needs: Measured, Of: statedOverspill},
	{Codes: []string{"transmission"}, Needs: Measured, Of: transmission},
	{Codes: []string{"no-candidates"}, Needs: Explained, Of: noCandidates},
	{Codes: []string{"many-named"}, Needs: Explained, Of: manyNamed},
	{Codes: []string{"search-stopped"}, Needs: Explained, Of: searchStopped},
	{Codes: []string{"axis-doubtful"}, Needs: Explained, Of: otherAxis},
	{Codes: []string{"radiation-doubtful"}, Needs: Explained, Of: tubeContradicted},
	{Codes: []string{"not-explained", "partly-explained"}, Needs: Explained, Of: explained},
	{Codes: []string{"one-spacing"}, Needs: Explained, Of: oneSpacing},
	{Codes: []string{"k-beta", "tungsten-line"}, Needs: Measured, Of: images},
	{Codes: []string{"fit-not-converged"}, Needs: Shared, Of: notConverged},
	{Codes: []string{"displaced"}, Needs: Shared, Of: displaced},
	{Codes: []string{"zero-displacement-correlated"}, Needs: Fitted, Of: correlated},
	{Codes: []string{"unexplained-peaks"}, Needs: Fitted, Of: unexplained},
	{Codes: []string{"amorphous-halo"}, Needs: Shared, Of: halo},
	{Codes: []string{"anchor-doubtful", "angle-anchor"}, Needs: Shared, Of: anchor},
	{Codes: []string{"beam-overspill", "slit-mode", "layered"}, Needs: Shared, Of: trends},
	{Codes: []string{"angle-trend"}, Needs: Shared, Of: angleTrend},
	{Codes: []string{"epitaxial"}, Needs: Shared, Of: epitaxial},
	{Codes: []string{"fluorescence"}, Needs: Shared, Of: fluorescence},
	{Codes: []string{"edge-step"}, Needs: Shared, Of: edgeStep},
	{Codes: []string{"not-infinite"}, Needs: Shared, Of: thin},
	{Codes: []string{"surface-deformed"}, Needs: Shared, Of: deformed},
	{Codes: []string{"limit-above-request"}, Needs: Shared, Of: limitAboveRequest},
	{Codes: []string{"watched-seen"}, Needs: Shared, Of: watchedSeen},
	{Codes: []string{"reference-strongest-out-of-range"}, Needs: Shared, Of: strongestOutOfRange},
	{Codes: []string{"undetermined"}, Needs: Shared, Of: undetermined},
	{Codes: []string{"same-lines"}, Needs: Shared, Of: twins},
	{Codes: []string{"same-lines"}, Needs: Shared, Of: alike},
	{Codes: []string{"same-lines"}, Needs: Shared, Of: eitherOrBoth},
	{Codes: nil, Needs: Shared, OfPhase: ofReference}, // those that the reference data have raised
	{Codes: []string{"texture"}, Needs: Shared, OfPhase: textured},
	{Codes: []string{"texture"}, Needs: Shared, OfPhase: fibre},
	{Codes: []string{"coarse-grain"}, Needs: Shared, OfPhase: coarseGrain},
	{Codes: []string{"broad-feet"}, Needs: Shared, OfPhase: broadFeet},
	{Codes: []string{"reference-doubtful"}, Needs: Shared, OfPhase: referenceDoubtful},
	{Codes: []string{"few-lines"}, Needs: Shared, OfPhase: fewLines},
	{Codes: []string{"solid-solution"}, Needs: Shared, OfPhase: cellChanged},
	{Codes: []string{"rir-missing"}, Needs: Shared, Of: withheld},
	{Codes: []string{"mixed-rir"}, Needs: Fitted, Of: mixedRIR},
	{Codes: []string{"factors-elsewhere"}, Needs: Shared, Of: factorsElsewhere},
	{Codes: []string{"factors-partial"}, Needs: Shared, Of: factorsPartial},
	{Codes: []string{"methods-disagree"}, Needs: Shared, Of: linesDisagree},
	{Codes: []string{"scans-disagree"}, Needs: Shared, Of: scansDisagree},
	{Codes: []string{"standard-missing"}, Needs: Fitted, Of: standardMissing},
	{Codes: []string{"standard-contradicted"}, Needs: Shared, Of: standardContradicted},
	{Codes: []string{"halo-missing"}, Needs: Shared, Of: haloMissing},
	{Codes: []string{"external-standard"}, Needs: Fitted, Of: externalStandard},
	{Codes: []string{"chemistry-mismatch"}, Needs: Shared, Of: chemistry},
	{Codes: []string{"microabsorption"}, Needs: Shared, Of: hugeGrains},
	{Codes: []string{"microabsorption"}, Needs: Shared, Of: contrast},
	{Codes: []string{"micrograph-disagrees"}, Needs: Shared, Of: micrographDisagrees},
	{Codes: []string{"preparation-artefact"}, Needs: Shared, Of: artefacts},
	{Codes: []string{"preparation-artefact"}, Needs: Shared, Of: suspected},
	{Codes: []string{"sum-assumption"}, Needs: Shared, Of: sumAssumption},
}

// Cautions runs every check and returns what they raise, the gravest first.
func Cautions(e Evidence) []xrd.Caution {
	out := []xrd.Caution{}
	stage := e.stage()
	for k := 0; k < len(Checks); k++ {
		if stage < Checks[k].Needs {
			continue
		}
		if Checks[k].Of != nil {
			out = append(out, Checks[k].Of(e)...)
			continue
		}
		last := k
		for last+1 < len(Checks) && Checks[last+1].OfPhase != nil {
			last++
		}
		for _, i := range e.Order {
			for _, c := range Checks[k : last+1] {
				out = append(out, c.OfPhase(e, i)...)
			}
		}
		k = last
	}
	out = consequences(e, out)
	Sort(out)
	return out
}

// Sort puts the gravest first and keeps the order of those of one severity.
func Sort(list []xrd.Caution) {
	rank := map[xrd.Severity]int{xrd.SeverityStop: 0, xrd.SeverityCaution: 1, xrd.SeverityNote: 2}
	slices.SortStableFunc(list, func(a, b xrd.Caution) int { return rank[a.Severity] - rank[b.Severity] })
}
