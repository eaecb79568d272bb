package identify

import (
	"fmt"
	"math"

	"phasetally/xrd/pattern"
)

// A Word says how well a phase is established.
type Word string

// The words, from the strongest. Named is for phases that the user named and the scan does not show beyond doubt.
const (
	Established Word = "established"
	Probable    Word = "probable"
	Tentative   Word = "tentative"
	Named       Word = "named"
)

// A Reason is one piece of evidence.
type Reason struct {
	Code  string
	Text  string
	Value float64
}

const (
	clearShare = 0.6 // share of a line's own phase above which the line counts as its own
	seenSigma  = 3.0
	ownTested  = 4.0 // expected intensity, in standard uncertainties, from which a line must be there
)

// tally counts the evidence of a phase's lines.
type tally struct {
	own, seen, missing int
	expected, absent   float64 // intensity of own lines that can be tested, and of those missing
	strongestSeen      float64 // significance of the clearest own line
}

func count(lines []pattern.LineFit) tally {
	var t tally
	for _, l := range lines {
		if !l.Covered || l.Clear < clearShare || !(l.MisfitU > 0) {
			continue
		}
		t.own++
		if z := l.Observed / l.MisfitU; z >= seenSigma && l.Observed > 0.3*l.Fitted {
			t.seen++
			t.strongestSeen = math.Max(t.strongestSeen, z)
		}
		if l.Fitted < ownTested*l.MisfitU {
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

// supportedByLines reports whether a phase has at least one own line beyond chance and is not contradicted by missing
// ones.
func supportedByLines(lines []pattern.LineFit, threshold float64) bool {
	t := count(lines)
	if t.seen == 0 || t.absent > 0.35*t.expected {
		return false
	}
	return t.seen >= 2 || t.strongestSeen >= threshold
}

// judge finds a word and reasons for every member.
func (s *search) judge() {
	for p := range s.members {
		m := &s.members[p]
		m.Lines = s.fit.Lines(p)
		m.Significance = significance(s.fit, p)
		t := count(m.Lines)
		m.Word = word(t, len(m.Alternatives) > 0, m, s.threshold)
		m.Reasons = reasons(t, m)
	}
}

func word(t tally, rivalled bool, m *Member, threshold float64) Word {
	switch {
	case m.Required && m.Significance < threshold:
		return Named
	case t.seen >= 3 && t.missing == 0 && !rivalled:
		return Established
	case t.seen >= 2 && t.absent <= 0.2*t.expected && !rivalled:
		return Probable
	}
	return Tentative
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
	for _, a := range m.Alternatives {
		out = append(out, Reason{"alternative", a.Name + " explains the same lines about as well; what would decide: " + a.Decide, a.Gain})
	}
	return out
}
