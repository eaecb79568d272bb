package identify

import (
	"fmt"
	"math"
	"phasetally/xrd/result"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// A Reason is one piece of evidence.
type Reason struct {
	Code  string
	Text  string
	Value float64
}

const (
	clearShare = 0.6 // share of a line's own phase above which the line counts as its own
	// sharedShare is the share above which a line may still speak for its phase, when it stands so far above what stronger
	// phases can be wrong by there that those cannot explain it.
	sharedShare = 0.2
	seenSigma   = 3.0
	ownTested   = 4.0 // expected intensity, in standard uncertainties, from which a line must be there
)

// tally counts the evidence of a phase's lines.
type tally struct {
	own, seen, missing int
	expected, absent   float64   // intensity of own lines that can be tested, and of those missing
	strongestSeen      float64   // significance of the clearest own line
	short              float64   // intensity that own and shared lines lack beyond chance
	tested             float64   // intensity of own and shared lines that can be tested
	diffuse            bool      // no line of its own is sharp
	shared             []float64 // significances of the lines under a stronger phase that are seen
}

func count(lines []pattern.LineFit) tally {
	var t tally
	for _, l := range lines {
		if !l.Covered || l.Clear < sharedShare || !(l.MisfitU > 0) {
			continue
		}
		z := l.Observed / l.MisfitU
		there := z >= seenSigma && l.Observed > 0.3*l.Fitted
		testable := l.Fitted >= ownTested*l.MisfitU
		if testable {
			t.tested += l.Fitted
			t.short += math.Max(0, l.Fitted-l.Observed-seenSigma*l.MisfitU)
		}
		if l.Clear < clearShare {
			if there {
				t.shared = append(t.shared, z)
			}
			continue
		}
		t.own++
		if there {
			t.seen++
			t.strongestSeen = math.Max(t.strongestSeen, z)
		}
		if !testable {
			continue
		}
		t.expected += l.Fitted
		if l.Observed < 0.25*l.Fitted && l.Fitted-l.Observed > seenSigma*l.MisfitU {
			t.missing++
			t.absent += l.Fitted
		}
	}
	return t
}

const (
	// diffuseWidths is how many widths of the instrument a line may be wide before it is as likely a step of a filter's edge, a
	// halo or a bend of the background (common practice).
	diffuseWidths = 5.0
	diffuseLeast  = 3 // lines that a phase of such lines must show, at least one of its own
	// plainSigma is the significance from which a line under a stronger phase counts for a phase of diffuse lines, too.
	plainSigma = 2 * seenSigma
)

// evidence returns the lines of phase number p that can speak for it: those too diffuse are left out unless there are several.
func evidence(f *pattern.Fit, p int) []pattern.LineFit { return distinct(f.Lines(p), f.Instrument()) }

func distinct(lines []pattern.LineFit, ins xrd.Instrument) []pattern.LineFit {
	clean := sharp(lines, ins)
	if len(clean) == len(lines) {
		return lines
	}
	t := count(lines)
	plain := t.seen
	for _, z := range t.shared {
		if z >= plainSigma {
			plain++
		}
	}
	if t.seen > 0 && plain >= diffuseLeast {
		return lines
	}
	return clean
}

// sharp returns the lines that are not diffuse.
func sharp(lines []pattern.LineFit, ins xrd.Instrument) []pattern.LineFit {
	out := make([]pattern.LineFit, 0, len(lines))
	for _, l := range lines {
		if l.FWHM <= diffuseWidths*ins.FWHM(l.TwoTheta) {
			out = append(out, l)
		}
	}
	return out
}

// supportedByLines reports whether a phase has lines beyond chance, at least one of its own or several under stronger phases
// that those cannot explain, and is not contradicted by missing ones.
func supportedByLines(lines []pattern.LineFit, threshold float64) bool {
	t := count(lines)
	if t.absent > 0.35*t.expected {
		return false
	}
	if t.seen >= 2 || t.seen == 1 && t.strongestSeen >= threshold {
		return true
	}
	strong, strongest := t.seen, 0.0
	for _, z := range t.shared {
		if z >= threshold {
			strong++
		}
		strongest = math.Max(strongest, z)
	}
	return (strong >= 2 || strongest >= 2*threshold) && t.short <= mostShort*t.tested
}

// mostShort is the share of the intensity that may lack in a phase that is more than tentative.
const mostShort = 0.2

// judge finds a word and reasons for every member.
func (s *search) judge() {
	for p := range s.members {
		m := &s.members[p]
		m.Lines = s.fit.Lines(p)
		m.Significance = significance(s.fit, p)
		m.shift = cellShift(s.fit, p)
		ins := s.fit.Instrument()
		t := count(distinct(m.Lines, ins))
		t.diffuse = count(sharp(m.Lines, ins)).seen == 0
		m.Evidence = word(t, len(m.Alternatives) > 0, m, s.threshold)
		m.Reasons = reasons(t, m)
	}
}

func word(t tally, rivalled bool, m *Member, threshold float64) result.Evidence {
	switch {
	case m.Required && m.Significance < threshold:
		return result.Named
	case rivalled || m.shifted() && !m.Phase.Soluble || t.short > mostShort*t.tested:
		return result.Tentative
	case t.seen >= 3 && t.missing == 0 && !t.diffuse && !m.shifted() && m.Chance+m.hidden < establishedChance:
		return result.Established
	case t.seen >= 2 && t.absent <= 0.2*t.expected:
		return result.Probable
	}
	return result.Tentative
}

// sameCell is the relative change of cell that published values and strained specimens of one phase may differ by (common
// practice). Beyond it, the phase may be another one of the same type.
const sameCell = 0.0025

func (m *Member) shifted() bool { return !(math.Abs(m.shift) <= sameCell) }

// farthestCell is the relative change of cell beyond which a phase that forms no solid solutions is another one.
const farthestCell = 0.0075

// cellAllowed reports whether phase number p has a cell that it can have.
func cellAllowed(f *pattern.Fit, p int) bool {
	return f.Setup.Phases[p].Soluble || math.Abs(cellShift(f, p)) <= farthestCell
}

// cellShift returns the mean relative change of the edges of phase number p.
func cellShift(f *pattern.Fit, p int) float64 {
	var sum, n float64
	for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
		if q, ok := f.Get(k, p); ok {
			sum += q.Value
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

func reasons(t tally, m *Member) []Reason {
	out := []Reason{
		{"significance", fmt.Sprintf("its pattern stands %.0f standard uncertainties above nothing", m.Significance), m.Significance},
		{"own-lines", fmt.Sprintf("%d of %d lines that no other phase covers are seen", t.seen, t.own), float64(t.seen)},
	}
	if t.missing > 0 {
		out = append(out, Reason{"missing-lines", fmt.Sprintf("%d lines that should be seen are missing", t.missing), float64(t.missing)})
	}
	if t.seen < 3 {
		out = append(out, Reason{"few-lines", "fewer than three lines of its own", float64(t.seen)})
	}
	if t.diffuse && t.seen > 0 {
		out = append(out, Reason{"diffuse-lines", "its lines are so wide that steps and bends of the background may be taken for them", float64(t.seen)})
	}
	if m.shifted() {
		out = append(out, Reason{"cell", fmt.Sprintf("its cell differs by %.2f %% from the reference: it may be another phase of the same type, or a solid solution", 100*m.shift), 100 * m.shift})
	}
	if m.Chance >= establishedChance {
		out = append(out, Reason{"chance", fmt.Sprintf("%.2g phases of the collection would meet its lines as well by chance: give the elements", m.Chance), m.Chance})
	}
	for _, a := range m.Alternatives {
		out = append(out, Reason{"alternative", a.Name + " explains the same lines about as well; what would decide: " + a.Decide, a.Gain})
	}
	return out
}
