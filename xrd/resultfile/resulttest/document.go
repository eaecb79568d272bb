package resulttest

import (
	"strconv"
	"time"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// frame is the part of a document that does not depend on the phases.
func frame() result.Document {
	started := time.Date(2025, 3, 14, 9, 26, 53, 0, time.UTC)
	return result.Document{
		Schema:      result.Schema,
		Explanation: &result.Explanation{Verdict: result.Complete, ExplainedShare: result.Number(0.99), LeftOverPeaks: []result.LeftOverPeak{}},
		Procedure:   &result.Procedure{Phases: result.Searched, Fractions: result.Normalised, Scans: 1},
		Scan: result.Scan{File: "mixture-a.xy", SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
			Sample: "mixture A (invented)", Points: Points, TwoThetaMin: 5, TwoThetaMax: 150, Step: 0.02, Radiation: "Cu",
			Wavelength: wavelength, Slit: "fixed:1.00", RadiusMM: ptr(200), SpecimenLengthMM: ptr(20), Section: "powder",
			Mount: "back-loaded", CountingTimeS: ptr(2), NoiseModel: "poisson"},
		Phases: []result.Phase{}, NotDetected: []result.NotDetected{},
		UnexplainedPeaks: []result.Unexplained{}, Cautions: []xrd.Caution{}, Peaks: []result.Peak{},
		Fit: &result.Fit{RWP: 0.081, RWPBackground: 0.104, RExp: 0.074, ReducedChiSquare: 1.19, DurbinWatson: 1.71,
			ZeroShift: 0, DisplacementMM: ptr(0.031), Iterations: 9, Status: "converged"},
		Provenance: result.Provenance{Version: "0.0.0-test", Command: "phasetally analyse mixture-a.xy --radiation Cu",
			Settings:      map[string]any{"radiation": "Cu", "monochromator": "none", "background": "six cosine terms"},
			Given:         map[string]string{"radiation": "Cu", "monochromator": "none"},
			ReferenceData: []result.ReferenceFile{{File: "starter collection", SHA256: "2c26b46b68ffc68ff99b453c1d30413413422d706483bfa0f98a5e886266e7ae", Phases: 64}},
			Started:       &started, ElapsedS: ptr(0.41)},
	}
}

// finish adds what follows once there are phases: peaks, covariance, doubts.
func finish(doc *result.Document) {
	for _, p := range doc.Phases {
		for _, l := range p.Lines {
			if *l.Observed < 25 {
				continue
			}
			doc.Peaks = append(doc.Peaks, result.Peak{TwoTheta: l.TwoTheta, TwoThetaU: 0.0021, D: l.D, Height: *l.Observed / 0.16,
				Area: *l.Observed, AreaU: *l.ObservedU, FWHM: 0.12, Significance: *l.Observed / *l.ObservedU,
				PhaseIDs: []string{p.ID}, HKL: []string{hkl(l)}})
		}
	}
	doc.References = result.References(*doc)
	doc.FractionCovariance = make([][]float64, len(doc.Phases))
	for i := range doc.Phases {
		doc.FractionCovariance[i] = make([]float64, len(doc.Phases))
		doc.FractionCovariance[i][i] = 0.07
	}
	missing := &doc.Phases[0].Lines[0]
	missing.Observed, missing.ObservedU, missing.Own, missing.Verdict = ptr(1.4), ptr(2.2), true, result.LineMissing
	doc.NotDetected = append(doc.NotDetected, result.NotDetected{ID: "quartz", Name: "quartz", DetectionLimit: ptr(0.32), Asked: true},
		result.NotDetected{ID: "magnetite", Name: "magnetite", DetectionLimit: ptr(0.9), Asked: true})
	doc.UnexplainedPeaks = append(doc.UnexplainedPeaks, result.Unexplained{TwoTheta: 20.86, D: 4.255, Significance: 9.3, CouldBe: []string{"quartz 1 0 0"}})
	doc.Cautions = append(doc.Cautions,
		xrd.Caution{Code: "unexplained-peaks", Severity: xrd.SeverityCaution, Text: "One peak, at 20.86°, belongs to no phase that was accepted.",
			Remedy: "Name the elements that may be present, or add the phase to a library.", Evidence: map[string]any{"two_theta": 20.86}},
		xrd.Caution{Code: "sum-assumption", Severity: xrd.SeverityNote, Text: "Fractions are of what diffracts sharply and was found.",
			Remedy: "Spike the powder with a weighed standard to learn the amorphous part.", Evidence: map[string]any{}})
}

func hkl(l result.PhaseLine) string {
	return itoa(*l.H) + " " + itoa(*l.K) + " " + itoa(*l.L)
}

func itoa(v int) string { return strconv.Itoa(v) }
