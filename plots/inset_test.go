package plots

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// faint is a mixture in which the phase at an index gives only a share of what it gave.
func faint(t testing.TB, k int, left float64) result.Analysis {
	t.Helper()
	r := resulttest.Mixture(1)
	c := &r.Curves
	for i, v := range c.Phases[k] {
		was, noise := c.Calculated[i], c.Observed[i]-c.Calculated[i]
		c.Phases[k][i] *= left
		c.Calculated[i] -= (1 - left) * v
		c.Observed[i] = c.Calculated[i] + noise*math.Sqrt(c.Calculated[i]/was)
		c.Sigma[i] = math.Sqrt(math.Max(1, c.Calculated[i]))
	}
	return r
}

func insetPlot(t testing.TB, r result.Analysis, s Style, o PatternOptions) *patternPlot {
	t.Helper()
	p, err := newPatternPlot(r, s, o)
	require.NoError(t, err)
	p.layout()
	require.NoError(t, p.planInsets())
	return p
}

// An inset stands where nothing is: inside the panel, above everything that is drawn, apart from other insets, wide and
// high enough for its own numbers.
func TestInsetsStandFree(t *testing.T) {
	for sn, s := range styles() {
		for rn, r := range map[string]result.Analysis{"mixture": resulttest.Mixture(1), "wild": wild(), "many": resulttest.Many(40)} {
			for _, o := range []PatternOptions{{Insets: [][2]float64{{30, 34}}}, {Linear: true, Insets: [][2]float64{{100, 104}, {20, 23}, {60, 62}}}} {
				p := insetPlot(t, r, s, o)
				where := sn + " " + rn
				require.Len(t, p.insets, len(o.Insets), where)
				for k, in := range p.insets {
					b := in.frame
					assert.True(t, b.left >= p.main.left && b.right <= p.main.right && b.top >= p.main.top && b.bottom <= p.main.bottom, where)
					for x := b.left; x <= b.right; x++ {
						require.Greater(t, p.skyline[int(x)], b.bottom, "%s: a curve under the inset at %g", where, x)
					}
					for _, other := range p.insets[:k] {
						assert.False(t, b.meets(other.frame), where)
					}
					q := p.enlarged(in)
					assert.Greater(t, q.main.right-q.main.left, 4*p.m.small, where)
					assert.Greater(t, q.main.bottom-q.main.top, 2*p.m.small, where)
				}
			}
		}
	}
}

// What is in the range is drawn higher than in the panel, on the axis that the ticks tell.
func TestInsetsEnlarge(t *testing.T) {
	r := faint(t, 2, 0.01)
	p := insetPlot(t, r, Style{}, PatternOptions{Insets: [][2]float64{{35.5, 37.5}}})
	q := p.enlarged(p.insets[0])
	i, _ := p.clearLinesAt(2, 36.25)
	require.GreaterOrEqual(t, i, 0, "zincite 101, 36.25° (a, c from memory)")
	k := -1
	for j, x := range q.c.TwoTheta {
		if x == p.c.TwoTheta[i] {
			k = j
		}
	}
	require.GreaterOrEqual(t, k, 0)
	share := p.c.Phases[2][i]
	assert.Greater(t, q.rise(k, share), 1.8*p.rise(i, share))
	assert.Equal(t, p.y.Scale, q.y.Scale)
	for _, v := range q.insetTicks() {
		assert.True(t, q.y.holds(v.Value))
	}
	assert.GreaterOrEqual(t, len(q.insetTicks()), 2)
}

// clearLinesAt finds a line of a group near an angle.
func (p *patternPlot) clearLinesAt(g int, angle float64) (int, bool) {
	for _, i := range p.clearLines(g) {
		if math.Abs(p.c.TwoTheta[i]-angle) < 0.15 {
			return i, true
		}
	}
	return -1, false
}

// The automatic choice enlarges the phase that is hard to see, and nothing when none is.
func TestMinorPhasesAreFound(t *testing.T) {
	p := insetPlot(t, resulttest.Mixture(1), Style{}, PatternOptions{MinorInsets: true})
	assert.Empty(t, p.insets, "three phases in equal parts")
	for k, left := range []float64{0.04, 0.02, 0.02} {
		p = insetPlot(t, faint(t, k, left), Style{}, PatternOptions{MinorInsets: true})
		require.NotEmpty(t, p.insets, k)
		some := false
		for _, in := range p.insets {
			q := p.enlarged(in)
			for i := range q.c.TwoTheta {
				some = some || q.dominant(i) == k && q.rise(i, q.c.Phases[k][i]) > 0.25*(q.main.bottom-q.main.top)
			}
		}
		assert.True(t, some, "phase %d stands out in its inset", k)
	}
	p = insetPlot(t, faint(t, 2, 0.01), Style{}, PatternOptions{MinorInsets: true, Insets: [][2]float64{{20, 22}, {100, 104}}})
	assert.Len(t, p.insets, 2, "asked for ranges come first")
}

func TestInsetsThatCannotBe(t *testing.T) {
	for why, o := range map[string]PatternOptions{
		"beyond the scan":  {Insets: [][2]float64{{160, 170}}},
		"beyond the range": {Lo: 20, Hi: 40, Insets: [][2]float64{{50, 60}}},
		"a gap":            {Insets: [][2]float64{{30.001, 30.01}}},
		"too many":         {Insets: [][2]float64{{20, 22}, {30, 32}, {40, 42}, {50, 52}}},
		"not a number":     {Insets: [][2]float64{{math.NaN(), math.NaN()}}},
	} {
		_, err := Pattern(resulttest.Mixture(1), Style{}, o)
		require.ErrorIs(t, err, ErrInsets, why)
	}
	_, err := Pattern(resulttest.Empty(), Style{}, PatternOptions{MinorInsets: true})
	require.NoError(t, err, "no phase, nothing to enlarge")
}
