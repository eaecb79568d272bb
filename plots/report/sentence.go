package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// spanWords says from what to what intervals run that hold two limits.
func spanWords(doc result.Document) string {
	if doc.Absorption == result.AbsorptionEither {
		return "from a fine powder to a coarse section, since neither is stated; --section says which"
	}
	return "from fine to coarse regions, whose size is not stated"
}

// notExplained says that the phases do not account for a scan, and what would be needed; they are candidates.
func notExplained(sample string, x result.Explanation, candidates []result.Phase, cautions []xrd.Caution) string {
	s := fmt.Sprintf("The scan of %s is not explained: ", sample)
	if x.SingleWavelength {
		s = fmt.Sprintf("No fractions are given for %s: one wavelength was stated, but the scan shows Kα1 and Kα2 apart. ", sample)
	} else if len(candidates) == 0 {
		s += "no phase was found that accounts for its peaks. "
	} else if x.ExplainedShare != nil {
		s += "phases account for " + result.ShareText(*x.ExplainedShare) + " of its peak area. "
	}
	if o := x.OneSpacing; o != nil {
		s += fmt.Sprintf("%d of its %d peaks are orders of one spacing, %s Å, as of a film, a plate or a single crystal", o.Peaks, o.Of, plots.Fixed(o.Spacing, 2))
		if len(o.Candidates) > 0 {
			s += "; such planes has, among others, " + plain(o.Candidates[0].Name)
		}
		s += ", but one set of planes establishes no name. Needed: a scan of a powder of it, or of other planes."
	} else {
		s += "Needed: " + needed(x, cautions) + "."
	}
	var names []string
	for _, p := range candidates {
		names = append(names, plain(p.Name)+" ("+string(p.Evidence)+")")
	}
	if len(names) > 0 {
		s += " Candidates: " + list(names) + "."
	}
	return s
}

// betterScan is what a scan needs before anything else, by the caution that says so.
var betterScan = map[string]string{
	"range-too-short": "a scan over a wider range; ",
	"step-too-coarse": "a scan in finer steps; ",
	"axis-doubtful":   "degrees 2θ in the first column; ",
	"transformed":     "counts as they were measured; ",
}

// needed says what would explain more of a scan.
func needed(x result.Explanation, cautions []xrd.Caution) string {
	if x.SingleWavelength {
		return "both wavelengths (--radiation " + plain(x.Radiation) + ")"
	}
	if x.Radiation != "" {
		return "the tube (--radiation " + plain(x.Radiation) + " explains far more)"
	}
	better := ""
	for _, c := range cautions {
		better += betterScan[c.Code]
	}
	return better + "the tube (--radiation), the elements of the specimen (--elements), or reference data that hold its phases (--library)"
}

// bySize separates the specimen's own phases, largest first, from what preparation or a standard brought.
func bySize(doc result.Document) (own, others []result.Phase) {
	for _, p := range doc.Phases {
		if p.Origin == "specimen" || p.Origin == "" {
			own = append(own, p)
		} else {
			others = append(others, p)
		}
	}
	slices.SortStableFunc(own, func(a, b result.Phase) int { return cmp.Compare(b.Standing(), a.Standing()) })
	return own, others
}

// phrase names a phase with its amount, or between which amounts it lies, and its evidence where that is less than established.
func phrase(p result.Phase, spanned bool) string {
	amount := spanOrValue(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi, spanned)
	if amount == "" {
		return plain(p.Name) + " (amount unknown)" + doubt(p)
	}
	return plain(p.Name) + " " + amount + " wt%" + doubt(p)
}

// basis says what the percentages are of; without any there is nothing to say.
func basis(doc result.Document) string {
	for _, p := range doc.Phases {
		if p.WeightPercent != nil {
			return " (95 % intervals, of " + Base(doc) + ")"
		}
	}
	return ""
}

// Base is what the percentages of a document are of.
func Base(doc result.Document) string {
	x := doc.Explanation
	if x == nil || x.Verdict != result.Partial || x.ExplainedShare == nil {
		return "the crystalline part"
	}
	return "what was recognised, " + result.ShareText(*x.ExplainedShare) + " of the peak area"
}

func besides(others []result.Phase) string {
	var parts []string
	for _, p := range others {
		kind := plain(p.Origin)
		if p.Evidence == result.Probable || p.Evidence == result.Tentative {
			kind += ", " + string(p.Evidence)
		}
		if amount := plots.PlusMinus(p.IfOwnWeightPercent, p.IfOwnLo, p.IfOwnHi); amount != "" {
			kind += "; counted, it would be " + amount + " wt%"
		}
		parts = append(parts, plain(p.Name)+" ("+kind+")")
	}
	if len(parts) == 0 {
		return ""
	}
	return "; besides, not counted, " + list(parts)
}

// list joins words as English does.
func list(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

// plain keeps a text from a file on one line and from steering a terminal or the direction of what follows it.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0x200e || r == 0x200f:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// severityWord names a severity for people.
func severityWord(s xrd.Severity) string {
	switch s {
	case xrd.SeverityStop:
		return "Stop"
	case xrd.SeverityCaution:
		return "Caution"
	}
	return "Note"
}

// worstFirst orders cautions by severity and keeps their order otherwise.
func worstFirst(cs []xrd.Caution) []xrd.Caution {
	rank := map[xrd.Severity]int{xrd.SeverityStop: 0, xrd.SeverityCaution: 1, xrd.SeverityNote: 2}
	out := slices.Clone(cs)
	slices.SortStableFunc(out, func(a, b xrd.Caution) int { return cmp.Compare(rank[a.Severity], rank[b.Severity]) })
	return out
}

func absoluteSentence(a *result.Absolute) string {
	if a == nil {
		return ""
	}
	with := ""
	if a.Standard != "" {
		with = " with " + plain(a.Standard)
	}
	if a.StandardWeightPercent != nil {
		with += " (" + plots.Fixed(*a.StandardWeightPercent, 2) + " wt% added)"
	}
	return fmt.Sprintf("By the %s method%s, the original specimen holds %s.", plain(a.Method), with, amorphousPart(a, false))
}
