package resultfile

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Significant digits of the tables: angles to 1e-5 degrees and better, intensities to 1e-7 of their value.
const (
	angleDigits     = 8
	intensityDigits = 7
)

// text guards a cell that came from a file: spreadsheets run a cell that begins with = + - @ (or hides one behind a
// tab or carriage return) as a formula, so an apostrophe goes before it.
func text(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// number prints a value with so many significant digits; what is not finite is an empty cell, never 0.
func number(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', digits, 64)
}

func optional(v *float64) string {
	if v == nil {
		return ""
	}
	return number(*v, intensityDigits)
}

// table writes rows under a header as UTF-8 CSV with line feeds.
func table(header []string, rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(header) // a bytes.Buffer does not fail
	_ = w.WriteAll(rows)
	return b.Bytes()
}

// FractionsCSV returns fractions.csv: one row a phase, beside a standard one of what is amorphous or not identified, then one a phase that was looked for and not found (evidence
// "not detected", fractions empty, the detection limit filled).
func FractionsCSV(doc result.Document) []byte {
	header := []string{"phase_id", "phase", "formula", "origin", "evidence",
		"weight_percent", "weight_percent_lo95", "weight_percent_hi95",
		"volume_percent", "volume_percent_lo95", "volume_percent_hi95",
		"original_weight_percent", "original_weight_percent_lo95", "original_weight_percent_hi95",
		"coarse_limit_weight_percent", "detection_limit_weight_percent", "rir", "rir_origin", "density_g_per_cm3",
		"fine_limit_weight_percent", "depth95_um", "area_percent", "area_percent_u", "combined_volume_percent", "combined_volume_percent_lo95", "combined_volume_percent_hi95",
		"combined_weight_percent", "combined_weight_percent_lo95", "combined_weight_percent_hi95", "percent_of", "reference_cautions"}
	rows := make([][]string, 0, len(doc.Phases)+len(doc.NotDetected))
	for _, p := range doc.Phases {
		row := []string{text(p.ID), text(p.Name), text(p.Formula), text(p.Origin), text(string(p.Evidence))}
		for _, v := range []*float64{p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi,
			p.VolumePercent, p.VolumePercentLo, p.VolumePercentHi,
			p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi,
			p.CoarseLimitWeightPercent, p.DetectionLimit, p.RIR} {
			row = append(row, optional(v))
		}
		row = append(row, text(p.RIROrigin), optional(p.Density), optional(p.FineLimitWeightPercent), optional(p.Depth95))
		a := doc.Micrograph.Of(p.ID)
		for _, v := range []*float64{a.AreaPercent, a.AreaU, a.CombinedVolume, a.CombinedVolumeLo, a.CombinedVolumeHi, a.CombinedWeight, a.CombinedWeightLo, a.CombinedWeightHi} {
			row = append(row, optional(v))
		}
		rows = append(rows, append(row, percentOf(doc, p), text(referenceCautions(doc, p.ID))))
	}
	if a := doc.Absolute; a != nil && a.AmorphousWeightPercent != nil {
		row := make([]string, len(header))
		row[1], row[3], row[4] = "amorphous or unidentified", "specimen", "by the "+text(a.Method)
		row[11], row[12], row[13] = optional(a.AmorphousWeightPercent), optional(a.AmorphousLo), optional(a.AmorphousHi)
		rows = append(rows, row)
	}
	unseen := result.Unseen
	if !doc.Judged() {
		unseen = result.NotJudged
	}
	for _, n := range doc.NotDetected {
		row := make([]string, len(header))
		row[0], row[1], row[4], row[15] = text(n.ID), text(n.Name), string(unseen), optional(n.DetectionLimit)
		rows = append(rows, row)
	}
	return table(header, rows)
}

// percentOf says what the percentages of a phase are of; "" where it has none.
func percentOf(doc result.Document, p result.Phase) string {
	switch {
	case p.WeightPercent == nil:
		return ""
	case doc.PartOnly():
		return "what was recognised"
	}
	return "crystalline part"
}

// referenceCautions gives the codes of what is wrong with the structure or list of a phase.
func referenceCautions(doc result.Document, id string) string {
	var codes []string
	for _, c := range doc.Cautions {
		if c.Evidence["phase"] == id && strings.HasPrefix(c.Code, "structure-") && c.Severity != xrd.SeverityNote && !slices.Contains(codes, c.Code) {
			codes = append(codes, c.Code)
		}
	}
	return strings.Join(codes, "; ")
}

// PeaksCSV returns peaks.csv: one row a found peak; heights are in the intensity unit of the scan, areas in that unit
// times degrees; the phases and reflections that share a peak are separated by semicolons. The kind tells the
// images of stronger peaks in other wavelengths.
func PeaksCSV(doc result.Document) []byte {
	header := []string{"two_theta_deg", "two_theta_u_deg", "d_angstrom", "height_intensity", "height_u_intensity", "area_intensity_deg",
		"area_u_intensity_deg", "fwhm_deg", "fwhm_u_deg", "integral_breadth_deg", "integral_breadth_u_deg", "area_fwhm_correlation",
		"overlap_correlation", "significance_sigma", "phase_ids", "hkl", "kind"}
	rows := make([][]string, 0, len(doc.Peaks))
	for _, p := range doc.Peaks {
		row := []string{number(p.TwoTheta, angleDigits)}
		for _, v := range []float64{p.TwoThetaU, p.D, p.Height, p.HeightU, p.Area, p.AreaU, p.FWHM, p.FWHMU, p.IntegralBreadth,
			p.IntegralBreadthU, p.AreaFWHM, p.Overlap, p.Significance} {
			row = append(row, number(v, intensityDigits))
		}
		rows = append(rows, append(row, text(strings.Join(p.PhaseIDs, "; ")), text(strings.Join(p.HKL, "; ")), text(p.Kind)))
	}
	return table(header, rows)
}
