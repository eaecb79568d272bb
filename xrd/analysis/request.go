package analysis

import (
	"context"
	"fmt"
	"math"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// wantedLimit is the detection limit, wt%, that is expected when none is stated (PRACTICE.md 2, row 14).
const wantedLimit = 2.0

// requestCaution names phases that were asked for and whose detection limit is above what is wanted, with the counting
// time that would do: a limit falls as the root of the time.
func (r *run) requestCaution() []xrd.Caution {
	want := r.job.WantedLimit
	if !(want > 0) {
		want = wantedLimit
	}
	var names []string
	worst := 0.0
	for _, n := range r.doc.NotDetected {
		if n.Asked && n.DetectionLimit != nil && *n.DetectionLimit > want {
			names = append(names, fmt.Sprintf("%s (%.1f wt%%)", n.Name, *n.DetectionLimit))
			worst = math.Max(worst, *n.DetectionLimit)
		}
	}
	if len(names) == 0 {
		return nil
	}
	times := math.Ceil(worst * worst / (want * want))
	return []xrd.Caution{{Code: "limit-above-request", Severity: xrd.Warn,
		Text:     fmt.Sprintf("The detection limit is above the wanted %.2g wt%% for %s: not seen does not mean not there.", want, strings.Join(names, ", ")),
		Remedy:   fmt.Sprintf("Count about %.0f times as long, or over the strong lines of the phase alone.", times),
		Evidence: map[string]any{"wanted_weight_percent": want, "worst_weight_percent": worst, "times_as_long": times}}}
}

// strongestCaution names phases whose strongest line, to which their ratio refers, the scan does not hold. For lines that
// were computed the others stand in for it; measured lists are less sure of them.
func (r *run) strongestCaution() []xrd.Caution {
	var out []xrd.Caution
	lo, hi := r.scan.Range()
	for i, m := range r.outcome.Members {
		k := m.Phase.Strongest()
		if r.roles[i] == quantify.Absent || k < 0 {
			continue
		}
		at, ok := xrd.TwoTheta(m.Phase.Lines[k].D, r.job.Radiation.KAlpha1)
		if ok && at >= lo && at <= hi && !r.isMasked(at) {
			continue
		}
		severity := xrd.Warn
		if m.Phase.RIR.Origin == "computed" {
			severity = xrd.Note
		}
		out = append(out, xrd.Caution{Code: "reference-strongest-out-of-range", Severity: severity,
			Text:     fmt.Sprintf("The strongest line of %s (%.2f°), to which its reference intensity ratio refers, is not in the scan: its amount rests on relative intensities of weaker lines.", m.Phase.Name, at),
			Remedy:   "Scan a range that holds it.",
			Evidence: map[string]any{"phase": m.Phase.ID, "two_theta": at}})
	}
	return out
}

// isMasked reports whether an angle was left out.
func (r *run) isMasked(twoTheta float64) bool {
	for _, m := range r.job.Masks {
		if twoTheta >= m[0] && twoTheta <= m[1] {
			return true
		}
	}
	return false
}

// watchedSeen is a phase whose limit was asked for although its pattern is seen beside the named ones.
type watchedSeen struct {
	phase        refdata.Phase
	significance float64
}

// beside returns the significance that the pattern of a phase of its reference cell has beside those of the fit.
func (r *run) beside(p refdata.Phase) float64 {
	fit := r.outcome.Fit
	set := fit.Setup
	set.Start.Values = fit.Values()
	d, _ := fit.Get(pattern.Displacement, -1)
	z, err := fit.Beside(context.Background(), pattern.Sketch(set, p, 1, d.Value, 0), fit.Variance) // too short to be stopped
	if err != nil {
		return 0
	}
	return z
}

// watchedCaution says of watched phases that they seem to be there.
func (r *run) watchedCaution() []xrd.Caution {
	var out []xrd.Caution
	for _, w := range r.watchedSeen {
		out = append(out, xrd.Caution{Code: "watched-seen", Severity: xrd.Warn,
			Text:     fmt.Sprintf("%s, whose limit was asked for, seems to be there: its pattern stands %.0f standard uncertainties above nothing beside the named phases.", w.phase.Name, w.significance),
			Remedy:   "Name it with --phase; a limit is for what is not there.",
			Evidence: map[string]any{"phase": w.phase.ID, "significance": w.significance}})
	}
	return out
}
