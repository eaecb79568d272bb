package quantify_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// wireLines are lines of a phase in a cut of a piece whose fibres take shares.
func wireLines(t *testing.T, id string, poles [][3]int, shares []float64, r float64, along bool) []pattern.LineFit {
	t.Helper()
	lines := randomLines(t, id, 6)
	factors := make([]float64, len(lines))
	for k, pole := range poles {
		f, ok := quantify.FibreOf(starter(t, id), lines, pole, r, false)
		require.True(t, ok)
		for i, l := range f.Lines {
			if along {
				factors[i] += shares[k] * l.Longitudinal
			} else {
				factors[i] += shares[k] * l.Transverse
			}
		}
	}
	for i := range lines {
		lines[i].Observed *= factors[i]
	}
	return lines
}

// The lines that go up and down in each cut, as PRACTICE 1.1 has them, and that such pieces are named, others not.
func TestDrawnWire(t *testing.T) {
	fcc, bcc, hcp := [][3]int{{1, 1, 1}, {1, 0, 0}}, [][3]int{{1, 1, 0}}, [][3]int{{1, 0, 0}}
	ratio := func(lines []pattern.LineFit) map[string]float64 {
		out := map[string]float64{}
		for _, l := range lines {
			f := l.Line.Families[0]
			out[fmt.Sprint(f.H*f.H+f.K*f.K+f.L*f.L)] = l.Observed / l.Expected
		}
		return out
	}
	across := ratio(wireLines(t, "copper", fcc, []float64{0.6, 0.4}, 0.4, false))
	along := ratio(wireLines(t, "copper", fcc, []float64{0.6, 0.4}, 0.4, true))
	assert.True(t, across["3"] > 1.2 && across["4"] > 1.2 && across["8"] < 0.8 && across["11"] < 0.9, "111 and 200 up, 220 and 311 down: %v", across)
	assert.True(t, along["8"] > 1.1 && along["3"] < 0.9, "220 up, 111 down: %v", along)
	iron := ratio(wireLines(t, "iron-alpha", bcc, []float64{1}, 0.4, false))
	lies := ratio(wireLines(t, "iron-alpha", bcc, []float64{1}, 0.4, true))
	assert.True(t, iron["2"] > 1.2 && iron["4"] < 0.8 && iron["6"] < 0.9, "110 up, 200 and 211 down: %v", iron)
	assert.True(t, lies["2"] > 0.5 && lies["4"] > 0.5 && lies["6"] > 0.5, "all there: %v", lies)

	for _, c := range []struct {
		id     string
		poles  [][3]int
		shares []float64
		r      float64
		want   string
	}{
		{"copper", fcc, []float64{0.75, 0.25}, 0.5, "face-centred cubic"},
		{"nickel", fcc, []float64{0.4, 0.6}, 0.5, "face-centred cubic"},
		{"iron-alpha", bcc, []float64{1}, 0.35, "body-centred cubic"},
		{"tungsten", bcc, []float64{1}, 0.35, "body-centred cubic"},
		{"titanium-alpha", hcp, []float64{1}, 0.5, "hexagonal close-packed"},
		{"copper", bcc, []float64{1}, 0.5, ""}, // pressed, not drawn
		{"copper", fcc[:1], []float64{1}, 1, ""},
		{"iron-alpha", fcc[:1], []float64{1}, 0.5, ""},
		{"corundum", [][3]int{{1, 1, 1}}, []float64{1}, 0.5, ""},
	} {
		for _, along := range []bool{false, true} {
			w, ok := quantify.DrawnWire(starter(t, c.id), wireLines(t, c.id, c.poles, c.shares, c.r, along), along)
			assert.Equal(t, c.want != "", ok, "%s %v, r = %g, along %v", c.id, c.poles, c.r, along)
			if ok {
				assert.Equal(t, c.want, w.Lattice)
				if len(c.poles) == 2 {
					assert.InDelta(t, c.shares[0], w.Share, 0.13)
				}
			}
		}
	}
}
