package report

import (
	"fmt"
	"slices"

	"phasetally/plots"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Sentence answers in one sentence, largest phase first: "In bushing 4 we found copper 81 ± 2 wt% and … (95 %
// intervals, of the crystalline part)."
func Sentence(doc result.Document) string {
	sample := "the scanned specimen"
	if s := plots.SampleName(doc.Scan); s != "" {
		sample = plain(s)
	}
	if doc.Scan.Simulated != "" {
		sample += " (SIMULATED, not measured)"
	}
	own, others := bySize(doc)
	if x := doc.Explanation; x != nil && len(doc.Peaks) > 0 && (x.Verdict == result.None || x.Radiation != "") {
		return notExplained(sample, *x, own, doc.Cautions)
	}
	if len(own) == 0 {
		return fmt.Sprintf("In %s we found no phase that this scan establishes%s.", sample, besides(others))
	}
	for _, tell := range []func(string, result.Document, []result.Phase, []result.Phase) string{original, alone, found} {
		if s := tell(sample, doc, own, others); s != "" {
			return s + contradicted(doc)
		}
	}
	return ""
}

// found tells the phases with their shares.
func found(sample string, doc result.Document, own, others []result.Phase) string {
	var parts []string
	for _, p := range own {
		if len(own) == 1 && doc.PartOnly() && p.WeightPercentLo != nil { // 100 % of what was recognised is no finding
			parts = append(parts, fmt.Sprintf("%s, at least %s wt%%%s", plain(p.Name), plots.Fixed(*p.WeightPercentLo, plots.Decimals(p.WeightPercentLo, p.WeightPercentHi)), doubt(p)))
			continue
		}
		parts = append(parts, phrase(p, doc.Spanned()))
	}
	if doc.Spanned() {
		return fmt.Sprintf("In %s %s %s (95 %%, of %s; %s)%s.", sample, weFound(own), list(parts), Base(doc), spanWords(doc), besides(others))
	}
	return fmt.Sprintf("In %s %s %s%s%s.", sample, weFound(own), list(parts), basis(doc), besides(others))
}

// weFound begins what was found, or says that no name is more than a candidate.
func weFound(own []result.Phase) string {
	if slices.ContainsFunc(own, func(p result.Phase) bool { return p.Evidence != result.Tentative }) {
		return "we found"
	}
	if len(own) == 1 {
		return "no phase is sure; the candidate is"
	}
	return "no phase is sure; the candidates are"
}

// original tells what a standard makes absolute: the original specimen with its amorphous part first, then the crystalline part; ""
// when that is not known.
func original(sample string, doc result.Document, own, others []result.Phase) string {
	a := doc.Absolute
	if a == nil || a.AmorphousWeightPercent == nil {
		return ""
	}
	var whole, crystalline []string
	for _, p := range own {
		amount := spanOrValue(p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi, doc.Spanned())
		if amount == "" {
			return ""
		}
		whole = append(whole, plain(p.Name)+" "+amount+" wt%"+doubt(p))
		crystalline = append(crystalline, phrase(p, doc.Spanned()))
	}
	whole = append(whole, amorphousPart(a, doc.Spanned()))
	span := ""
	if doc.Spanned() {
		span = "; " + spanWords(doc)
	}
	s := fmt.Sprintf("The original specimen of %s holds %s (95 %% intervals, of everything that was scanned%s%s)", sample, list(whole), without(a), span)
	if len(own) > 1 {
		s += fmt.Sprintf(". Of %s alone: %s", Base(doc), list(crystalline))
	}
	return s + besides(others) + "."
}

// amorphousPart tells what a standard leaves for material without sharp lines: at most so much where the value is none at all.
func amorphousPart(a *result.Absolute, spanned bool) string {
	const what = "amorphous or unidentified material"
	switch {
	case a.AmorphousWeightPercent == nil:
		return "an unknown amount of " + what
	case *a.AmorphousWeightPercent > 0:
		return spanOrValue(a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi, spanned) + " wt% " + what
	case a.AmorphousHi != nil && *a.AmorphousHi > 0:
		return "no " + what + " that could be told (at most " + plots.Limit(*a.AmorphousHi) + " wt%)"
	}
	return "no " + what
}

// beyondHeadline is what a standard tells, "" where the headline has it.
func beyondHeadline(doc result.Document) string {
	if own, others := bySize(doc); original("", doc, own, others) != "" {
		return ""
	}
	return absoluteSentence(doc.Absolute)
}

// without says what is not counted in the original specimen.
func without(a *result.Absolute) string {
	if a.StandardWeightPercent == nil {
		return ""
	}
	return " but the added " + plain(a.Standard)
}

// alone tells a phase that nothing was found beside: 100 % by definition, and what could hide beside it; "" when other phases were found
// or nothing is known of what could hide.
func alone(sample string, doc result.Document, own, others []result.Phase) string {
	if len(own) != 1 || own[0].WeightPercent == nil || own[0].WeightPercentLo == nil || doc.HiddenLimit == nil || doc.PartOnly() {
		return ""
	}
	p := own[0]
	n := plots.Decimals(p.WeightPercentLo, p.WeightPercent)
	only, of := " and nothing else", Base(doc)
	if len(others) > 0 {
		only, of = "", of+", if preparation left what is not counted"
	}
	return fmt.Sprintf("In %s %s %s%s%s: at least %s wt%% of %s (95 %%; a phase that scatters like corundum would be seen from %s wt%% on, an amorphous part not at all)%s.",
		sample, weFound(own), plain(p.Name), doubt(p), only, plots.Fixed(*p.WeightPercentLo, n), of, plots.Limit(*doc.HiddenLimit), besides(others))
}

// contradicted says what stands against the numbers of a headline as a whole; "" for nothing.
func contradicted(doc result.Document) string {
	if slices.ContainsFunc(doc.Cautions, func(c xrd.Caution) bool { return c.Code == "halo-missing" }) {
		return " The scan shows no hump of the amorphous part that the standard tells of: no absolute amounts."
	}
	if m := doc.Micrograph; m != nil && !m.Agree && m.P != nil {
		return fmt.Sprintf(" The micrograph contradicts these numbers (p = %.1g).", *m.P)
	}
	return ""
}
