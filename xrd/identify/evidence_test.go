package identify

import (
	"phasetally/xrd/result"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// seen, missing, borrowed and weak are lines as a fit reports them.
func seen() pattern.LineFit {
	return pattern.LineFit{Fitted: 50, Observed: 48, MisfitU: 2, Clear: 1, Covered: true}
}
func missing() pattern.LineFit {
	return pattern.LineFit{Fitted: 50, Observed: 1, MisfitU: 2, Clear: 1, Covered: true}
}
func borrowed() pattern.LineFit {
	return pattern.LineFit{Fitted: 50, Observed: 50, MisfitU: 2, Clear: 0.3, Covered: true}
}
func doubted() pattern.LineFit {
	return pattern.LineFit{Fitted: 14, Observed: 14, MisfitU: 2, Clear: 0.3, Covered: true} // 7 σ
}
func faded() pattern.LineFit {
	return pattern.LineFit{Fitted: 30, Observed: 14, MisfitU: 2, Clear: 0.3, Covered: true}
}
func buried() pattern.LineFit {
	return pattern.LineFit{Fitted: 50, Observed: 50, MisfitU: 2, Clear: 0.1, Covered: true}
}
func weak() pattern.LineFit {
	return pattern.LineFit{Fitted: 2, Observed: 0, MisfitU: 2, Clear: 1, Covered: true}
}

func lines(l ...pattern.LineFit) []pattern.LineFit { return l }

func TestCount(t *testing.T) {
	outside := seen()
	outside.Covered = false
	unknown := seen()
	unknown.MisfitU = 0
	foreign := pattern.LineFit{Fitted: 300, Observed: 60, MisfitU: 2, Clear: 1, Covered: true} // far too weak, but there
	got := count(lines(seen(), seen(), missing(), borrowed(), weak(), outside, unknown, foreign))
	assert.Equal(t, 5, got.own, "two seen, one missing, one weak, one too weak")
	assert.Equal(t, 2, got.seen)
	assert.Equal(t, 2, got.missing)
	assert.InDelta(t, 450, got.expected, 1e-9)
	assert.InDelta(t, 350, got.absent, 1e-9)
	assert.InDelta(t, 24, got.strongestSeen, 1e-9)
}

func TestSupportedByLines(t *testing.T) {
	faint := pattern.LineFit{Fitted: 8, Observed: 8, MisfitU: 2, Clear: 1, Covered: true} // 4 σ
	for _, c := range []struct {
		name  string
		lines []pattern.LineFit
		want  bool
	}{
		{"none", nil, false},
		{"one, far above chance", lines(seen()), true},
		{"one, within chance", lines(faint), false},
		{"two within chance", lines(faint, faint), true},
		{"under a stronger phase, which cannot explain them", lines(borrowed(), borrowed()), true},
		{"one of them only", lines(borrowed()), true},
		{"one of them, not far above what the stronger can be wrong by", lines(doubted()), false},
		{"two of them", lines(doubted(), doubted()), true},
		{"deep under a stronger phase", lines(buried(), buried()), false},
		{"two of them, two far too weak", lines(doubted(), doubted(), faded(), faded()), false},
		{"a third missing", lines(seen(), seen(), seen(), missing()), true},
		{"half missing", lines(seen(), seen(), missing(), missing()), false},
	} {
		assert.Equal(t, c.want, supportedByLines(c.lines, 5), c.name)
	}
}

func TestDistinct(t *testing.T) {
	ins := xrd.DefaultInstrument()
	at := func(l pattern.LineFit, widths float64) pattern.LineFit {
		l.TwoTheta = 40
		l.FWHM = widths * ins.FWHM(40)
		return l
	}
	sharp, wide := at(seen(), 1), at(seen(), 12)
	assert.Len(t, distinct(lines(sharp, sharp), ins), 2)
	assert.Empty(t, distinct(lines(wide, wide), ins), "two bumps are no phase")
	assert.Len(t, distinct(lines(wide, wide, wide), ins), 3, "three at its places are")
	assert.Len(t, distinct(lines(wide, at(missing(), 12), sharp), ins), 1)
	plain, near := at(borrowed(), 12), at(borrowed(), 12)
	near.Observed, near.MisfitU = 5, 1
	assert.Len(t, distinct(lines(wide, plain, plain), ins), 3, "lines under a stronger phase that stand far above it count")
	assert.Empty(t, distinct(lines(wide, near, near), ins), "nearly within chance")
	assert.Empty(t, distinct(lines(plain, plain, plain), ins), "none of its own")
}

func TestWord(t *testing.T) {
	three := tally{own: 4, seen: 3, expected: 150}
	for _, c := range []struct {
		name     string
		t        tally
		rivalled bool
		member   Member
		want     result.Evidence
	}{
		{"three own lines", three, false, Member{Significance: 50}, result.Established},
		{"three own lines, but another explains them", three, true, Member{Significance: 50}, result.Tentative},
		{"two own lines", tally{own: 2, seen: 2, expected: 100}, false, Member{Significance: 50}, result.Probable},
		{"three seen, one of five missing", tally{own: 5, seen: 3, missing: 1, expected: 250, absent: 50}, false, Member{Significance: 50}, result.Probable},
		{"two seen, one of three missing", tally{own: 3, seen: 2, missing: 1, expected: 150, absent: 50}, false, Member{Significance: 50}, result.Tentative},
		{"three own lines, cell of another phase", three, false, Member{Significance: 50, shift: 0.004}, result.Tentative},
		{"the same, solid solutions known", three, false, Member{Significance: 50, shift: 0.004, Phase: refdata.Phase{Soluble: true}}, result.Probable},
		{"the same, cell as published", three, false, Member{Significance: 50, shift: -0.002}, result.Established},
		{"three own lines, a third of all intensity lacking", tally{own: 4, seen: 3, expected: 150, tested: 300, short: 100}, false, Member{Significance: 50}, result.Tentative},
		{"three own lines, all diffuse", tally{own: 4, seen: 3, expected: 150, diffuse: true}, false, Member{Significance: 50}, result.Probable},
		{"one line", tally{own: 1, seen: 1, expected: 50}, false, Member{Significance: 50}, result.Tentative},
		{"named by the user and not seen", tally{}, false, Member{Significance: 1, Required: true}, result.Named},
		{"named by the user and seen", three, false, Member{Significance: 50, Required: true}, result.Established},
	} {
		assert.Equal(t, c.want, word(c.t, c.rivalled, &c.member, 5), c.name)
	}
}

func TestReasons(t *testing.T) {
	m := Member{Significance: 12, shift: -0.0059, Alternatives: []Alternative{{Name: "tantalum", Gain: 0.97}}}
	assert.Contains(t, reasons(tally{own: 3, seen: 3, diffuse: true}, &m)[2].Code, "diffuse-lines")
	codes := map[string]float64{}
	for _, r := range reasons(tally{own: 3, seen: 2, missing: 1}, &m) {
		assert.NotEmpty(t, r.Text)
		codes[r.Code] = r.Value
	}
	assert.Equal(t, map[string]float64{"significance": 12, "own-lines": 2, "missing-lines": 1, "few-lines": 2, "alternative": 0.97, "cell": -0.59}, codes)
}
