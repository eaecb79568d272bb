package report

import (
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// Names of the columns of the limits of absorption.
const fineColumn, coarseColumn, powderColumn, sectionColumn = "if fine", "if coarse", "if a fine powder", "if a coarse section"

// limitColumns names the limits of absorption of a section where they differ: not of a phase alone, which is all of it in both.
// Coarse tells that of a powder.
func limitColumns(doc result.Document) []string {
	if own, _ := bySize(doc); len(own) < 2 {
		return nil
	}
	if slices.ContainsFunc(doc.Phases, func(p result.Phase) bool { return p.FineLimitWeightPercent != nil && p.CoarseLimitWeightPercent != nil }) {
		if doc.Absorption == result.AbsorptionEither {
			return []string{powderColumn, sectionColumn}
		}
		return []string{fineColumn, coarseColumn}
	}
	return nil
}

func limitCells(p result.Phase, columns []string, digits int) []string {
	var out []string
	for _, c := range columns {
		switch c {
		case fineColumn:
			out = append(out, fixed(p.FineLimitWeightPercent, digits))
		case coarseColumn:
			out = append(out, fixed(p.CoarseLimitWeightPercent, digits))
		case powderColumn:
			out = append(out, withInterval(p.FineLimitWeightPercent, p.FineLimitLo, p.FineLimitHi))
		case sectionColumn:
			out = append(out, withInterval(p.CoarseLimitWeightPercent, p.CoarseLimitLo, p.CoarseLimitHi))
		}
	}
	return out
}

// withInterval is a value with its interval, such as 66.5 (65.5–68.2).
func withInterval(v, lo, hi *float64) string {
	n := plots.Decimals(lo, hi)
	if v == nil {
		return "?"
	}
	return fixed(v, n) + " (" + interval(lo, hi, n) + ")"
}

// micrographRow is one phase of the comparison with a micrograph.
type micrographRow struct{ Name, Area, Volume, Z, CombinedVolume, CombinedWeight string }

func micrographRows(doc result.Document) []micrographRow {
	if doc.Micrograph == nil {
		return nil
	}
	var out []micrographRow
	for _, a := range doc.Micrograph.Phases {
		row := micrographRow{Name: a.ID, Area: "–", Volume: plain2(a.VolumePercent, a.VolumeU), Z: "–",
			CombinedVolume: plots.PlusMinus(a.CombinedVolume, a.CombinedVolumeLo, a.CombinedVolumeHi), CombinedWeight: plots.PlusMinus(a.CombinedWeight, a.CombinedWeightLo, a.CombinedWeightHi)}
		for _, p := range doc.Phases {
			if p.ID == a.ID {
				row.Name = plain(p.Name)
			}
		}
		if a.AreaPercent != nil {
			row.Area, row.Z = plain2(a.AreaPercent, a.AreaU), fixed(a.Z, 1)
		}
		out = append(out, row)
	}
	return out
}

// plain2 is a value with its 95 % half-width from a standard uncertainty.
func plain2(v, u *float64) string {
	if v == nil || u == nil {
		return "?"
	}
	lo, hi := *v-1.96**u, *v+1.96**u
	return plots.PlusMinus(v, &lo, &hi)
}

// Micrograph sets the area fractions of a micrograph beside those of the scan; empty without any.
func Micrograph(doc result.Document) string {
	rows := [][]string{{"micrograph", "area %", "vol% by diffraction", "z", "combined vol%", "combined wt%"}}
	for _, r := range micrographRows(doc) {
		if !doc.Micrograph.Agree {
			r.CombinedVolume, r.CombinedWeight = "–", "–"
		}
		rows = append(rows, []string{r.Name, r.Area, r.Volume, r.Z, r.CombinedVolume, r.CombinedWeight})
	}
	if len(rows) == 1 {
		return ""
	}
	note := "Combined: area and diffraction together, by generalised least squares; 95 %.\n"
	if !doc.Micrograph.Agree {
		note = "Area and diffraction disagree; nothing is combined.\n"
	}
	return "\n" + align(rows) + note
}

// hazardNote is a hazard with the phases that bring it.
type hazardNote struct{ Phases, Text string }

// hazardNotes lists each hazard once.
func hazardNotes(doc result.Document) []hazardNote {
	var order []result.Hazard
	names := map[string][]string{}
	for _, p := range doc.Phases {
		for _, h := range p.Hazards {
			if names[h.Code] == nil {
				order = append(order, h)
			}
			names[h.Code] = append(names[h.Code], plain(p.Name))
		}
	}
	var out []hazardNote
	for _, h := range order {
		out = append(out, hazardNote{list(names[h.Code]), plain(h.Text)})
	}
	return out
}

// HazardNotes warns of what dust and etchants of the phases can do; empty when nothing is known, which does not mean harmless.
func HazardNotes(doc result.Document) string {
	var b strings.Builder
	for i, n := range hazardNotes(doc) {
		if i == 0 {
			b.WriteString("\n")
		}
		b.WriteString("Hazard, " + n.Phases + ": " + n.Text + "\n")
	}
	return b.String()
}
