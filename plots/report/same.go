package report

import (
	"fmt"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// SameSpecimen says what each scan of a specimen gives alone and how they agree; empty for a single scan.
func SameSpecimen(doc result.Document) string {
	s := doc.SameSpecimen
	if s == nil {
		return ""
	}
	names := map[string]string{}
	for _, p := range doc.Phases {
		names[p.ID] = p.Name
	}
	var b strings.Builder
	fmt.Fprintf(&b, "\n%s\n", agreement(*s))
	for _, scan := range s.Scans {
		var parts []string
		for _, p := range scan.Phases {
			if amount := plots.PlusMinus(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi); amount != "" {
				parts = append(parts, plain(names[p.ID])+" "+amount+" wt%"+textures(p.Texture))
			}
		}
		section := ""
		if scan.Section != "" {
			section = " (" + plain(scan.Section) + ")"
		}
		fmt.Fprintf(&b, "  %s%s alone: %s\n", plain(scan.File), section, list(parts))
	}
	return b.String()
}

// agreement says in words how the scans agree.
func agreement(s result.SameSpecimen) string {
	text := fmt.Sprintf("One specimen, %d scans, one set of fractions.", len(s.Scans))
	if s.P == nil || s.ChiSquare == nil || s.Between == nil || s.Freedom == 0 {
		return text
	}
	word := "agree within their uncertainties"
	if *s.P < 0.01 {
		word = "differ by more than their uncertainties"
	}
	return fmt.Sprintf("%s The scans %s (χ² %.1f for %d, p = %.2g); beyond counting, amounts vary by %.1f %% between them.",
		text, word, *s.ChiSquare, s.Freedom, *s.P, 100**s.Between)
}

func textures(list []result.Texture) string {
	var b strings.Builder
	for _, t := range list {
		fmt.Fprintf(&b, ", r(%d %d %d) = %.2f", t.Pole[0], t.Pole[1], t.Pole[2], t.R)
	}
	return b.String()
}
