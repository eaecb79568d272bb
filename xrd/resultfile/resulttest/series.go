package resulttest

import (
	"fmt"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Series is an invented series of n scans with a heading for every trouble: a phase that fades below its limit, one
// that only the user named, a scan in the middle that could not be read (when n ≥ 3), and names that a page must not
// take for markup.
func Series(n int) result.Series {
	s := result.Series{Schema: result.SeriesSchema, Conditions: []string{"hours", "section"}, Numeric: []bool{true, false}, Abscissa: "hours",
		Phases:   []result.SeriesPhase{{ID: "corundum", Name: "corundum", Formula: "Al2O3"}, {ID: "fluorite", Name: "fluorite", Formula: "CaF2"}, {ID: "zincite", Name: "zincite", Formula: "ZnO"}},
		Cautions: []xrd.Caution{{Code: "scan-failed", Severity: xrd.SeverityCaution, Text: "1 scan is without an answer: scan-002.xy.", Remedy: "Mend it.", Evidence: map[string]any{"scans": 1}}},
		Provenance: result.Provenance{Version: "0.0.0-test", Command: "phasetally series", Settings: map[string]any{"range": "20:100"},
			ReferenceData: []result.ReferenceFile{}}}
	for i := range n {
		hours := float64(10 * i * i)
		e := result.SeriesEntry{File: fmt.Sprintf("scan-%03d.xy", i+1), Fingerprint: fmt.Sprintf("%064x", i), Sample: fmt.Sprintf("bar %d (invented)", i+1), SHA256: fmt.Sprintf("%064x", 7*i),
			Folder: fmt.Sprintf("scans/scan-%03d", i+1), HasReport: true, Conditions: []string{fmt.Sprint(hours), "transverse"}, Abscissa: &hours,
			Radiation: "Cu", Wavelength: ptr(wavelength), TwoThetaMin: ptr(5), TwoThetaMax: ptr(150), Step: ptr(0.02), RWP: ptr(0.08), RExp: ptr(0.07), ReducedChiSquare: ptr(1.2),
			Status: "converged", Cautions: []string{}}
		switch {
		case i == 1 && n >= 3:
			e = result.SeriesEntry{File: e.File, Conditions: e.Conditions, Abscissa: e.Abscissa, Error: "scan-002.xy:7: expected angle and intensity; remove the line", Cautions: []string{}, Phases: []result.SeriesShare{}}
		default:
			fading := 30 * math.Exp(-hours/50)
			e.Phases = []result.SeriesShare{seriesShare("corundum", 60-fading/2), seriesShare("fluorite", fading), seriesShare("zincite", 40-fading/2)}
		}
		s.Scans = append(s.Scans, e)
	}
	if n > 0 {
		s.Scans[0].Sample = "<script>alert(\"x\")</script> \u202egnirts\u202c قضيب"
		s.Scans[n-1].Cautions = []string{"series-outlier"}
	}
	return s
}

// seriesShare is a fraction with an interval of a tenth of it, or a limit below 0.5 wt%.
func seriesShare(id string, wt float64) result.SeriesShare {
	if wt < 0.5 {
		return result.SeriesShare{ID: id, Evidence: "not detected", DetectionLimit: ptr(0.5)}
	}
	return result.SeriesShare{ID: id, Origin: "specimen", Evidence: "established", Detected: true, WeightPercent: ptr(wt), WeightPercentLo: ptr(0.9 * wt), WeightPercentHi: ptr(1.1 * wt),
		VolumePercent: ptr(wt), VolumePercentLo: ptr(0.9 * wt), VolumePercentHi: ptr(1.1 * wt), DetectionLimit: ptr(0.5), CellA: ptr(4.759), CellAU: ptr(0.0001)}
}
