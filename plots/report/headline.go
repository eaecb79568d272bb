package report

import (
	"fmt"

	"phasetally/plots"
	"phasetally/xrd/result"
)

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
	whole = append(whole, "amorphous or unidentified material "+spanOrValue(a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi, doc.Spanned())+" wt%")
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
	return fmt.Sprintf("In %s we found %s%s and nothing else: at least %s wt%% of %s (95 %%; a phase that scatters like corundum would be seen from %s wt%% on, an amorphous part not at all)%s.",
		sample, plain(p.Name), doubt(p), plots.Fixed(*p.WeightPercentLo, n), Base(doc), plots.Limit(*doc.HiddenLimit), besides(others))
}

// contradicted says what stands against the numbers of a headline as a whole; "" for nothing.
func contradicted(doc result.Document) string {
	if m := doc.Micrograph; m != nil && !m.Agree && m.P != nil {
		return fmt.Sprintf(" The micrograph contradicts these numbers (p = %.1g).", *m.P)
	}
	return ""
}

// spanOrValue is an amount with its interval, or the interval alone where it runs from one limit to another; "" when it is not known.
func spanOrValue(v, lo, hi *float64, spanned bool) string {
	if spanned && lo != nil && hi != nil {
		n := plots.Decimals(lo, hi)
		return "between " + plots.Fixed(*lo, n) + " and " + plots.Fixed(*hi, n)
	}
	return plots.PlusMinus(v, lo, hi)
}

// doubt is the evidence of a phase in brackets where it is less than established.
func doubt(p result.Phase) string {
	if p.Evidence == result.Probable || p.Evidence == result.Tentative {
		return " (" + string(p.Evidence) + ")"
	}
	return ""
}
