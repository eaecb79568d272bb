package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// withheld names phases of the specimen without a reference intensity ratio.
func withheld(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, i := range e.Amounts.Answer.Withheld {
		p := e.Explanation.Fit.Setup.Phases[i]
		if p.RIR.Value > 0 {
			continue // refused for another reason, which is told
		}
		out = append(out, xrd.Caution{Code: "rir-missing", Severity: xrd.SeverityStop, Text: p.Name + " has no reference intensity ratio, so that no fraction can be given.",
			Remedy: "Add a column rir to the list, or use a crystal structure (CIF), from which it is computed.", Evidence: map[string]any{"phase": p.ID}})
	}
	return out
}

// muchOfIt is the share, wt%, from which nobody would take a phase for something that preparation has left.
const muchOfIt = 20.0

// counted says that a phase which preparation often leaves was counted as the specimen's own.
func (e Evidence) counted(i int) (xrd.Caution, bool) {
	if e.Amounts.Counted == nil || !e.Amounts.Counted[i] || !(e.Amounts.Answer.Fractions[i].Weight.Percent < muchOfIt) {
		return xrd.Caution{}, false
	}
	p := e.Explanation.Fit.Setup.Phases[i]
	return xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityNote,
		Text:     p.Name + " is counted as the specimen's own, but may come from preparation: " + from(p),
		Remedy:   "If it does, leave it out of the 100 % with --aside " + p.ID + "; if it does not, name it with --require " + p.ID + ", or give the elements of the specimen (--elements).",
		Evidence: map[string]any{"phase": p.ID, "counted": true}}, true
}

// ifOwn says how much a phase that is left out would be if it belonged to the specimen; "" where nothing tells.
func (e Evidence) ifOwn(i int) string {
	if e.Amounts.Belonging == nil || math.IsNaN(e.Amounts.Belonging[i].Weight.Percent) {
		return ""
	}
	w := e.Amounts.Belonging[i].Weight
	return fmt.Sprintf("; counted, it would be %.2g wt%% (%.2g–%.2g)", w.Percent, w.Lo, w.Hi)
}

// artefacts names phases that preparation has probably left.
func artefacts(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for i, role := range e.Amounts.Roles {
		if c, ok := e.counted(i); ok {
			out = append(out, c)
		}
		if p := e.Explanation.Fit.Setup.Phases[i]; role == quantify.Preparation {
			if slices.ContainsFunc(e.Facts.Aside, func(id string) bool { return strings.EqualFold(id, p.ID) }) {
				out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityNote,
					Text:   p.Name + " is left out of the specimen's 100 %, as stated (--aside).",
					Remedy: "If it belongs to the specimen, do not set it aside.", Evidence: map[string]any{"phase": p.ID, "stated": true}})
				continue
			}
			if m := slices.IndexFunc(refdata.MountOf(e.Facts.Preparations, e.Facts.Specimen.Mount), func(m refdata.Preparation) bool { return strings.EqualFold(m.Phase, p.ID) }); m >= 0 {
				out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityNote,
					Text:   p.Name + " belongs to the stated mount (" + e.Facts.Specimen.Mount + "), as expected. It is left out of the specimen's 100 %.",
					Remedy: "If it belongs to the specimen, name it with --require " + p.ID + ".", Evidence: map[string]any{"phase": p.ID, "mount": e.Facts.Specimen.Mount}})
				continue
			}
			out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityCaution,
				Text:   p.Name + " may come from preparation: " + from(p) + " It is left out of the specimen's 100 %" + e.ifOwn(i) + ".",
				Remedy: "Clean or re-polish and scan again. If it belongs to the specimen, name it with --require " + p.ID + ".", Evidence: map[string]any{"phase": p.ID}})
		}
	}
	return out
}

// sumAssumption says what the fractions add up to.
func sumAssumption(e Evidence) []xrd.Caution {
	a := e.Amounts.Answer.Amorphous
	if a == nil && slices.ContainsFunc(e.Document.Phases, func(p result.Phase) bool { return p.WeightPercent != nil }) {
		return []xrd.Caution{{Code: "sum-assumption", Severity: xrd.SeverityNote, Text: "Fractions are of what diffracts sharply and was found; an amorphous part is not seen.",
			Remedy: "Add a weighed standard (--spike) to a powder to make them absolute.", Evidence: map[string]any{}}}
	}
	return nil
}

// mixedRIR reports ratios of different origin, basis or radiation in one analysis.
func mixedRIR(e Evidence) []xrd.Caution {
	seen := map[string]string{}
	var keys []string
	for _, p := range e.Explanation.Fit.Setup.Phases {
		k := strings.Trim(p.RIR.Origin+" "+p.RIR.Basis+" "+p.RIR.Radiation, " ")
		if _, ok := seen[k]; !ok && p.RIR.Value > 0 && p.RIR.Origin != quantify.CorrectedOrigin {
			seen[k] = p.Name
			keys = append(keys, k+" ("+p.Name+")")
		}
	}
	if len(keys) < 2 {
		return nil
	}
	return []xrd.Caution{{Code: "mixed-rir", Severity: xrd.SeverityCaution, Text: "Reference intensity ratios of different kinds are mixed: " + strings.Join(keys, "; ") + ". They differ by 5 to 10 %, more for heavy phases.",
		Remedy: "Compute all of them from structures.", Evidence: map[string]any{"kinds": len(keys)}}}
}

// from says in a clause of its own, ended by a full stop, where preparation gets a phase from.
func from(p refdata.Phase) string { return strings.TrimSuffix(lowerFirst(p.Preparation), ".") + "." }

// lowerFirst begins a text in lower case, unless it begins with a formula.
func lowerFirst(s string) string {
	if len(s) > 2 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' && s[1] <= 'z' && s[2] >= 'a' && s[2] <= 'z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}
