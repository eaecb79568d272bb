package quantify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// randomLines are the first n lines of a phase as a random powder shows them.
func randomLines(t *testing.T, id string, n int) []pattern.LineFit {
	t.Helper()
	var out []pattern.LineFit
	for _, l := range starter(t, id).Lines[:n] {
		out = append(out, pattern.LineFit{Line: l, TwoTheta: l.TwoTheta, Expected: 10 * l.Intensity, Fitted: 10 * l.Intensity, Observed: 10 * l.Intensity, ObservedU: 1, Clear: 1, Covered: true})
	}
	return out
}

// One line says nothing of texture: what is open is what is so beforehand, here drawn at random, with the angles between planes of
// cubic crystals from their formula.
func TestHiddenTextureOfOneLine(t *testing.T) {
	got := quantify.HiddenTexture(starter(t, "copper"), [][]pattern.LineFit{randomLines(t, "copper", 1)}, []bool{false}) // 111
	rng := rand.New(rand.NewPCG(8, 8))
	poles := [][][3]float64{{{1, 1, 1}, {-1, 1, 1}, {1, -1, 1}, {1, 1, -1}}, {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, {{1, 1, 0}, {1, -1, 0}, {1, 0, 1}, {1, 0, -1}, {0, 1, 1}, {0, 1, -1}}}
	const n = 60000
	var square float64
	for range n {
		r := math.Exp(0.35 * rng.NormFloat64())
		set := poles[rng.IntN(3)]
		var f float64
		for _, p := range set { // planes of one set about 111 are as those of the set of 111 about one of them
			c := (p[0] + p[1] + p[2]) * (p[0] + p[1] + p[2]) / (3 * (p[0]*p[0] + p[1]*p[1] + p[2]*p[2]))
			f += math.Pow(r*r*c+(1-c)/r, -1.5) / float64(len(set))
		}
		square += math.Log(f) * math.Log(f)
	}
	assert.InEpsilon(t, math.Sqrt(square/n), got, 0.05)
	t.Logf("one line: %.3f", got)
}

// Many lines leave little open, a second cut leaves less than the first alone, and what is left covers what a fibre really did:
// pieces with a fibre beforehand as likely as the model says, of which two lines are seen in one cut or in both.
func TestHiddenTextureNarrows(t *testing.T) {
	copper := starter(t, "copper")
	lines := func(n int) []pattern.LineFit { return randomLines(t, "copper", n) }
	one := quantify.HiddenTexture(copper, [][]pattern.LineFit{lines(1)}, []bool{false})
	many := quantify.HiddenTexture(copper, [][]pattern.LineFit{lines(6)}, []bool{false})
	assert.Less(t, many, 0.35*one)

	rng := rand.New(rand.NewPCG(9, 9))
	choices := pattern.PoleChoices(copper)
	const n = 1500
	var off, width [2]float64 // mean squares of what happened and of what is stated
	for range n {
		pole, r := choices[rng.IntN(len(choices))], math.Exp(0.35*rng.NormFloat64())
		cuts := [][]pattern.LineFit{lines(2), lines(2)}
		var shift [2]float64
		for c := range cuts {
			f, ok := quantify.FibreOf(copper, cuts[c], pole, r, false)
			require.True(t, ok)
			var oe, ee float64
			for i, l := range f.Lines {
				x := l.Transverse
				if c == 1 {
					x = l.Longitudinal
				}
				line := &cuts[c][i]
				line.Observed *= x * math.Exp(0.03*rng.NormFloat64())
				w := 1 / (math.Max(line.Observed, line.Expected) * math.Max(line.Observed, line.Expected))
				oe, ee = oe+w*line.Observed*line.Expected, ee+w*line.Expected*line.Expected
			}
			shift[c] = math.Log(oe / ee) // of the amount that a fit without texture finds
			for i := range cuts[c] {
				cuts[c][i].Fitted *= oe / ee
			}
		}
		single := quantify.HiddenTexture(copper, cuts[:1], []bool{false})
		both := quantify.HiddenTexture(copper, cuts, []bool{false, true})
		const noise = 0.03 * 0.03 / 2 // of the lines themselves, which other parts of the budget hold
		width[0], width[1] = width[0]+(single*single+noise)/n, width[1]+(both*both+noise/2)/n
		mean := (shift[0] + shift[1]) / 2
		off[0], off[1] = off[0]+shift[0]*shift[0]/n, off[1]+mean*mean/n
	}
	for c, name := range []string{"one cut", "two cuts"} {
		t.Logf("two lines, %s: off by %.3f, stated %.3f", name, math.Sqrt(off[c]), math.Sqrt(width[c]))
		assert.InEpsilon(t, math.Sqrt(off[c]), math.Sqrt(width[c]), 0.25, name)
	}
	assert.Less(t, width[1], 0.5*width[0])
}
