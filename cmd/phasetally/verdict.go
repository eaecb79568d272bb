package main

import (
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// verdict says whether the answer needs a human.
func verdict(doc result.Document, steps analysis.Steps) error {
	stop := slices.IndexFunc(doc.Cautions, func(c xrd.Caution) bool { return c.Severity == xrd.SeverityStop })
	switch {
	case steps == analysis.PeaksOnly && len(doc.Peaks) == 0:
		return needsHuman{"no peak found"}
	case steps != analysis.PeaksOnly && len(doc.Phases) == 0:
		return needsHuman{"no phase found; see the cautions"}
	case stop >= 0:
		return needsHuman{"the answer must not be used as it is: " + doc.Cautions[stop].Code + "; see the cautions"}
	case slices.ContainsFunc(doc.Cautions, func(c xrd.Caution) bool { return c.Code == "radiation-doubtful" }):
		return needsHuman{"little is explained with this radiation; see the cautions"}
	case doc.Explanation != nil && doc.Explanation.Verdict != result.Complete:
		return needsHuman{"the scan is explained only in part; see the cautions"}
	case mainPhase(doc).Evidence == result.Tentative:
		return needsHuman{"the name of the main phase is only tentative; see its doubts"}
	case doc.Fit != nil && doc.Fit.Status != result.Converged:
		return needsHuman{"the fit did not converge; see the cautions"}
	}
	return nil
}

// mainPhase is the phase of the specimen that most of it consists of; the zero Phase where no amount is known.
func mainPhase(doc result.Document) (most result.Phase) {
	for _, p := range doc.Phases {
		if p.WeightPercent != nil && (most.WeightPercent == nil || *p.WeightPercent > *most.WeightPercent) {
			most = p
		}
	}
	return most
}

// seriesVerdict says whether the answer of a series needs a human.
func seriesVerdict(s result.Series) error {
	for _, e := range s.Scans {
		switch {
		case e.Error != "":
			return needsHuman{"a scan has no answer; see its error"}
		case e.Stop:
			return needsHuman{"the answer of " + e.File + " must not be used as it is; see its cautions"}
		case e.Verdict != "" && e.Verdict != result.Complete:
			return needsHuman{e.File + " is explained only in part; see its cautions"}
		}
	}
	return nil
}
