package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// wantedLimit is the detection limit, wt%, that is expected when none is stated (PRACTICE.md 2, row 14).
const wantedLimit = 2.0

// limitAboveRequest names phases that were asked for and whose detection limit is above what is wanted, with the counting
// time that would do: a limit falls as the root of the time.
func limitAboveRequest(e Evidence) []xrd.Caution {
	want := e.Facts.WantedLimit
	if !(want > 0) {
		want = wantedLimit
	}
	var names []string
	worst := 0.0
	for _, n := range e.Document.NotDetected {
		if n.Asked && n.DetectionLimit != nil && *n.DetectionLimit > want {
			names = append(names, fmt.Sprintf("%s (%.1f wt%%)", n.Name, *n.DetectionLimit))
			worst = math.Max(worst, *n.DetectionLimit)
		}
	}
	if len(names) == 0 {
		return nil
	}
	times := math.Ceil(worst * worst / (want * want))
	return []xrd.Caution{{Code: "limit-above-request", Severity: xrd.SeverityCaution,
		Text:     fmt.Sprintf("The detection limit is above the wanted %.2g wt%% for %s: not seen does not mean not there.", want, strings.Join(names, ", ")),
		Remedy:   fmt.Sprintf("Count about %.0f times as long, or over the strong lines of the phase alone.", times),
		Evidence: map[string]any{"wanted_weight_percent": want, "worst_weight_percent": worst, "times_as_long": times}}}
}

// strongestOutOfRange names phases whose strongest line, to which their ratio refers, the scan does not hold. For lines that
// were computed the others stand in for it; measured lists are less sure of them.
func strongestOutOfRange(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	lo, hi := e.Scan.Range()
	for i, m := range e.Explanation.Matches {
		k := m.Phase.Strongest()
		if e.Amounts.Roles[i] == quantify.Absent || k < 0 {
			continue
		}
		at, ok := xrd.TwoTheta(m.Phase.Lines[k].D, e.Facts.Radiation.KAlpha1)
		if ok && at >= lo && at <= hi && !e.Facts.isMasked(at) {
			continue
		}
		severity := xrd.SeverityCaution
		if m.Phase.RIR.Origin == "computed" {
			severity = xrd.SeverityNote
		}
		out = append(out, xrd.Caution{Code: "reference-strongest-out-of-range", Severity: severity,
			Text:     fmt.Sprintf("The strongest line of %s (%.2f°), to which its reference intensity ratio refers, is not in the scan: its amount rests on relative intensities of weaker lines.", m.Phase.Name, at),
			Remedy:   "Scan a range that holds it.",
			Evidence: map[string]any{"phase": m.Phase.ID, "two_theta": at}})
	}
	return out
}

// watchedSeen says of watched phases that they seem to be there.
func watchedSeen(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, w := range e.Decided.Watched {
		out = append(out, xrd.Caution{Code: "watched-seen", Severity: xrd.SeverityCaution,
			Text:     fmt.Sprintf("%s, whose limit was asked for, seems to be there: beside the named phases its intensity is %.0f times its standard uncertainty.", w.Phase.Name, w.Significance),
			Remedy:   "Name it with --phase; a limit is for what is not there.",
			Evidence: map[string]any{"phase": w.Phase.ID, "significance": w.Significance}})
	}
	return out
}

// manyNamed says that of many named phases only those were fitted that a search among them found.
func manyNamed(e Evidence) []xrd.Caution {
	if e.Facts.AskedFor == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "many-named", Severity: xrd.SeverityNote,
		Text:     fmt.Sprintf("%d phases were named, too many for one fit: a search among them chose those that the scan shows, the others were looked for beside them.", e.Facts.AskedFor),
		Remedy:   "Name only what may be in the specimen, or let a search choose (analyse, identify).",
		Evidence: map[string]any{"named": e.Facts.AskedFor}}}
}
