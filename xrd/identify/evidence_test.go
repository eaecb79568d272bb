package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
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

// lines gives lines that have none a place of its own.
func lines(l ...pattern.LineFit) []pattern.LineFit {
	for i := range l {
		if l[i].FWHM == 0 {
			l[i].TwoTheta, l[i].FWHM = 20+float64(i), 0.1
		}
	}
	return l
}

func TestCount(t *testing.T) {
	outside := seen()
	outside.Covered = false
	unknown := seen()
	unknown.MisfitU = 0
	foreign := pattern.LineFit{Fitted: 300, Observed: 60, MisfitU: 2, Clear: 1, Covered: true} // far too weak, but there
	got := count(lines(seen(), seen(), missing(), borrowed(), weak(), outside, unknown, foreign), nil)
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
		assert.Equal(t, c.want, supportedByLines(c.lines, nil, 5), c.name)
	}
}

func TestDistinct(t *testing.T) {
	ins := xrd.DefaultInstrument()
	place := 20.0
	at := func(l pattern.LineFit, widths float64) pattern.LineFit {
		place += 2
		l.TwoTheta = place
		l.FWHM = widths * ins.FWHM(40)
		return l
	}
	sharp, wide := at(seen(), 1), at(seen(), 12)
	second, third := at(seen(), 12), at(seen(), 12)
	assert.Len(t, distinct(lines(sharp, sharp), ins, nil), 2)
	assert.Empty(t, distinct(lines(wide, wide), ins, nil), "two bumps are no phase")
	assert.Len(t, distinct(lines(wide, second, third), ins, nil), 3, "three at its places are")
	assert.Len(t, distinct(lines(wide, at(missing(), 12), sharp), ins, nil), 1)
	plain, near := at(borrowed(), 12), at(borrowed(), 12)
	near.Observed, near.MisfitU = 5, 1
	assert.Len(t, distinct(lines(wide, plain, plain), ins, nil), 3, "lines under a stronger phase that stand far above it count")
	assert.Empty(t, distinct(lines(wide, near, near), ins, nil), "nearly within chance")
	assert.Empty(t, distinct(lines(plain, plain, plain), ins, nil), "none of its own")
}

func TestEvidenceLevel(t *testing.T) {
	three := tally{own: 4, seen: 3, pieces: 3, expected: 150}
	manyShort := tally{own: 14, seen: 13, pieces: 13, missing: 1, expected: 150, tested: 300, short: 100}
	for _, c := range []struct {
		name     string
		t        tally
		rivalled bool
		match    Match
		want     result.Evidence
	}{
		{"three own lines", three, false, Match{Significance: 50}, result.Established},
		{"three own lines, but another explains them", three, true, Match{Significance: 50}, result.Tentative},
		{"two own lines", tally{own: 2, seen: 2, pieces: 2, expected: 100}, false, Match{Significance: 50}, result.Probable},
		{"three seen, one of five missing", tally{own: 5, seen: 3, pieces: 3, missing: 1, expected: 250, absent: 50}, false, Match{Significance: 50}, result.Probable},
		{"two seen, one of three missing", tally{own: 3, seen: 2, pieces: 2, missing: 1, expected: 150, absent: 50}, false, Match{Significance: 50}, result.Tentative},
		{"three own lines, cell of another phase", three, false, Match{Significance: 50, shift: 0.004}, result.Tentative},
		{"the same, solid solutions known", three, false, Match{Significance: 50, shift: 0.004, Phase: refdata.Phase{SolidSolution: true}}, result.Tentative},
		{"the same, solid solutions known, elements stated", three, false, Match{Significance: 50, shift: 0.004, stated: true, Phase: refdata.Phase{SolidSolution: true}}, result.Probable},
		{"two numbers of a solid solution, many peaks", tally{own: 9, seen: 9, pieces: 9, expected: 150}, false, Match{Significance: 50, shift: 0.004, cellNumbers: 2, scatter: 0.06, Phase: refdata.Phase{SolidSolution: true}}, result.Probable},
		{"the same, other intensities", tally{own: 9, seen: 9, pieces: 9, expected: 150}, false, Match{Significance: 50, shift: 0.004, cellNumbers: 2, scatter: 0.16, Phase: refdata.Phase{SolidSolution: true}}, result.Tentative},
		{"the same, elements stated", tally{own: 9, seen: 9, pieces: 9, expected: 150}, false, Match{Significance: 50, shift: 0.004, cellNumbers: 2, scatter: 0.16, stated: true, Phase: refdata.Phase{SolidSolution: true}}, result.Probable},
		{"other intensities, cell as published", tally{own: 9, seen: 9, pieces: 9, expected: 150}, false, Match{Significance: 50, shift: 0.001, cellNumbers: 2, scatter: 0.16}, result.Established},
		{"the same, cell as published", three, false, Match{Significance: 50, shift: -0.0014}, result.Established},
		{"the same, cell as published within its uncertainty", three, false, Match{Significance: 50, shift: -0.003, shiftU: 0.001}, result.Established},
		{"the same, cell at its bound", three, false, Match{Significance: 50, shift: -0.008}, result.Tentative},
		{"three own lines, a cell of two numbers", three, false, Match{Significance: 50, cellNumbers: 2}, result.Probable},
		{"three own lines, a cell of three numbers", three, false, Match{Significance: 50, cellNumbers: 3}, result.Tentative},
		{"two doubts", tally{own: 2, seen: 2, pieces: 2, expected: 100}, false, Match{Significance: 50, Chance: 0.03}, result.Tentative},
		{"three own lines, a third of all intensity lacking", tally{own: 4, seen: 3, pieces: 3, expected: 150, tested: 300, short: 100}, false, Match{Significance: 50}, result.Tentative},
		{"many places of two numbers, a third of all intensity lacking", manyShort, false, Match{Significance: 50, cellNumbers: 2}, result.Probable},
		{"the same, a cell of one number", manyShort, false, Match{Significance: 50, cellNumbers: 1}, result.Probable},
		{"the same, and that number is not its own", manyShort, false, Match{Significance: 50, cellNumbers: 1, shift: 0.004, stated: true, Phase: refdata.Phase{SolidSolution: true}}, result.Tentative},
		{"the same, a cell of many numbers", manyShort, false, Match{Significance: 50, cellNumbers: 5}, result.Tentative},
		{"three own lines, all diffuse", tally{own: 4, seen: 3, pieces: 3, expected: 150, diffuse: true}, false, Match{Significance: 50}, result.Probable},
		{"three own lines, a peak where its structure forbids one", three, false, Match{Significance: 50, dark: 1}, result.Tentative},
		{"one line", tally{own: 1, seen: 1, pieces: 1, expected: 50}, false, Match{Significance: 50}, result.Tentative},
		{"named by the user and not seen", tally{}, false, Match{Significance: 1, Required: true}, result.Named},
		{"named by the user and seen", three, false, Match{Significance: 50, Required: true}, result.Established},
	} {
		m := c.match
		m.Merit.M = 50
		if c.rivalled {
			m.Alternatives = []Alternative{{ID: "another"}}
		}
		w := whole{threshold: 5, coverage: Coverage{Share: 0.95, Verdict: result.Complete}}
		assert.Equal(t, c.want, w.evidenceLevel(c.t, &m), c.name)
	}
}

// What the explanation as a whole, and the places of lines, have to say about the level of evidence.
func TestEvidenceLevelNeedsAnExplanation(t *testing.T) {
	good := tally{own: 4, seen: 4, pieces: 4, expected: 150}
	for _, c := range []struct {
		name     string
		t        tally
		merit    float64
		coverage Coverage
		want     result.Evidence
	}{
		{"everything is explained", good, 50, Coverage{Share: 0.95, Verdict: result.Complete}, result.Established},
		{"most is", good, 50, Coverage{Share: 0.75, Verdict: result.Partial}, result.Established},
		{"little more than half is", good, 50, Coverage{Share: 0.6, Verdict: result.Partial}, result.Probable},
		{"nothing is", good, 50, Coverage{Share: 0.4, Verdict: result.None}, result.Tentative},
		{"a peak of its strength is left", good, 50, Coverage{Share: 0.8, Verdict: result.Partial, Left: leftPeaks(1)}, result.Probable},
		{"as many peaks of its strength are left as it has", good, 50, Coverage{Share: 0.8, Verdict: result.Partial, Left: leftPeaks(4)}, result.Tentative},
		{"places that chance gives", good, 3, Coverage{Share: 0.95, Verdict: result.Complete}, result.Probable},
		{"14 lines, but they make two peaks", tally{own: 24, seen: 14, pieces: 2, expected: 150}, 50, Coverage{Share: 0.95, Verdict: result.Complete}, result.Probable},
		{"many lines, a weak one missing", tally{own: 163, seen: 104, pieces: 60, missing: 1, expected: 3000, absent: 20}, 103, Coverage{Share: 0.95, Verdict: result.Complete}, result.Established},
		{"many lines, a strong one missing", tally{own: 20, seen: 10, pieces: 10, missing: 1, expected: 3000, absent: 400}, 103, Coverage{Share: 0.95, Verdict: result.Complete}, result.Probable},
	} {
		w := whole{threshold: 5, coverage: c.coverage}
		assert.Equal(t, c.want, w.evidenceLevel(c.t, &Match{Significance: 50, Merit: Merit{M: c.merit}}), c.name)
	}
}

func leftPeaks(n int) []LeftPeak {
	out := make([]LeftPeak, n)
	for i := range out {
		out[i].Area = 10
	}
	return out
}

// Lines that make one observed peak together are one piece of evidence, those on the flank of another peak are none.
func TestPieces(t *testing.T) {
	line := func(at float64) pattern.LineFit { return pattern.LineFit{TwoTheta: at, FWHM: 0.1, Observed: 10} }
	peak := func(at, area, fwhm float64) peaks.Peak {
		return peaks.Peak{TwoTheta: at, Area: area, FWHM: fwhm, Eta: 0.5, Kind: peaks.KAlpha}
	}
	broad := []peaks.Peak{peak(30, 100, 0.8), peak(40, 100, 0.8)}
	for _, c := range []struct {
		name  string
		lines []pattern.LineFit
		found []peaks.Peak
		want  int
	}{
		{"none", nil, broad, 0},
		{"too weak to be peaks, apart", []pattern.LineFit{line(30), line(31), line(32)}, nil, 3},
		{"too weak to be peaks, two on top of each other", []pattern.LineFit{line(30), line(30.03), line(32)}, nil, 2},
		{"six lines in two broad peaks", []pattern.LineFit{line(29.7), line(29.9), line(30.2), line(39.8), line(40), line(40.3)}, broad, 2},
		{"on the flank of a peak of something else", []pattern.LineFit{{TwoTheta: 30.6, FWHM: 0.1, Observed: 3}}, []peaks.Peak{peak(30, 100, 0.8)}, 0},
		{"on the far tail of a weak one", []pattern.LineFit{line(32)}, []peaks.Peak{peak(30, 10, 0.1)}, 1},
		{"an image is no peak of the phase", []pattern.LineFit{line(30)}, []peaks.Peak{{TwoTheta: 30, Area: 10, FWHM: 0.1, Kind: peaks.WLine}}, 0},
	} {
		assert.Equal(t, c.want, pieces(c.lines, c.found), c.name)
	}
}

func TestReasons(t *testing.T) {
	m := Match{Significance: 12, shift: -0.0059, Alternatives: []Alternative{{Name: "tantalum", Gain: 0.97}}}
	assert.Contains(t, whole{coverage: Coverage{Share: 1}}.reasons(tally{own: 3, seen: 3, pieces: 3, diffuse: true}, &m)[3].Code, "diffuse-lines")
	partly, codes := whole{coverage: Coverage{Share: 0.6}}, map[string]float64{}
	for _, r := range partly.reasons(tally{own: 3, seen: 2, pieces: 2, missing: 1}, &m) {
		assert.NotEmpty(t, r.Text)
		codes[r.Code] = r.Value
	}
	assert.Equal(t, map[string]float64{"significance": 12, "own-lines": 2, "missing-lines": 1, "few-lines": 2, "explained": 0.6, "alternative": 0.97, "cell": -0.59}, codes)
}
