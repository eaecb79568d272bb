package quantify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// complete fits named phases as an analysis does.
func complete(t testing.TB, s pattern.Setup) *pattern.Fit {
	t.Helper()
	f, err := quantify.FitKnown(t.Context(), s)
	require.NoError(t, err)
	return f
}

// TestFitKnown: the fit of named phases ends where a full fit does, and points are left to nobody only where a phase is
// missing, whose lines then do not bend the others.
func TestFitKnown(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 3.4), invented(2, 5)}
	scales := []float64{500, 680, 1500}
	s := counts(t, phases, scales, 1)
	full, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	f := complete(t, s)
	assert.Nil(t, f.Setup.ExtraVariance)
	for p := range phases {
		assert.InDelta(t, full.Scales[p], f.Scales[p], 0.1*math.Sqrt(full.ScaleCov[p][p]))
	}
	s.Phases = phases[:2]
	f = complete(t, s)
	require.NotNil(t, f.Setup.ExtraVariance)
	for p := range s.Phases {
		assert.InDelta(t, scales[p], f.Scales[p], 4*math.Sqrt(f.ScaleCov[p][p]))
	}
	for _, l := range phases[2].Lines[:2] {
		at := nearest(s.TwoTheta, 2*math.Asin(s.Radiation.KAlpha1/2/l.D)*180/math.Pi)
		assert.Greater(t, f.Setup.ExtraVariance[at], 0.0, "the line at %.2f Å is nobody's", l.D)
	}
}

func nearest(x []float64, at float64) (best int) {
	for i, v := range x {
		if math.Abs(v-at) < math.Abs(x[best]-at) {
			best = i
		}
	}
	return best
}

// platy draws a scan from 16° on of 1000 units of brucite, a share of whose plates lies along the surface with a March–Dollase
// coefficient r, beside 800 of fluorite, with further intensity of nobody added: Gaussian lines of so many counts at angles 2θ.
func platy(t *testing.T, share, r float64, nobody map[float64]float64) pattern.Setup {
	t.Helper()
	phases := []refdata.Phase{starter(t, "brucite"), starter(t, "fluorite")}
	s := counts(t, phases, []float64{0, 0}, 1)
	s.Hold = nil
	for i := range s.TwoTheta { // with the basal line at 18.6°
		s.TwoTheta[i] -= 6
	}
	curves := func(r float64) [][]float64 {
		drawn := s
		drawn.Poles = [][][3]int{{{0, 0, 1}}, nil}
		drawn.Start.Values = map[pattern.Key]float64{{Kind: pattern.TextureLogR, ID: "brucite", Pole: [3]int{0, 0, 1}}: math.Log(r)}
		m, err := pattern.NewModel(drawn)
		require.NoError(t, err)
		phi := [][]float64{make([]float64, len(s.TwoTheta)), make([]float64, len(s.TwoTheta))}
		m.Columns(nil, phi)
		return phi
	}
	flat, random := curves(r), curves(1)
	source := rand.NewPCG(14, 1)
	for i, x := range s.TwoTheta {
		mean := 30 + 1000*(share*flat[0][i]+(1-share)*random[0][i]) + 800*random[1][i]
		for at, height := range nobody {
			mean += height * math.Exp(-(x-at)*(x-at)/(2*0.05*0.05))
		}
		s.Intensity[i] = distuv.Poisson{Lambda: mean, Src: source}.Rand()
		s.Sigma[i] = math.Sqrt(math.Max(1, s.Intensity[i]))
	}
	return s
}

// TestStrongTexture: a basal line that is up to eight times as strong as in a random powder is texture.
func TestStrongTexture(t *testing.T) {
	for _, r := range []float64{0.5, 0.6, 0.7} {
		f := complete(t, platy(t, 1, r, nil))
		q, ok := f.Get(pattern.TextureLogR, 0)
		require.True(t, ok, "texture of brucite")
		assert.Equal(t, [3]int{0, 0, 1}, q.Pole)
		assert.InDelta(t, r, math.Exp(q.Value), 0.01)
		assert.InEpsilon(t, 1000, f.Scales[0], 0.02)
		assert.InEpsilon(t, 800, f.Scales[1], 0.02)
		assert.Nil(t, f.Setup.ExtraVariance, "nothing is nobody's")
	}
}

// careful fits a scan in which every point that is seen above the pattern of random powders is distrusted, as a search does.
func careful(t *testing.T, s pattern.Setup) *pattern.Fit {
	t.Helper()
	random := s
	random.Intensity = platy(t, 1, 1, nil).Intensity
	f := complete(t, random)
	s.ExtraVariance = make([]float64, len(s.TwoTheta))
	for i, y := range s.Intensity {
		if r := y - f.Fitted[i]; r > 5*s.Sigma[i] {
			s.ExtraVariance[i] = r * r
		}
	}
	g, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	return g
}

// TestTrusting: what a fit distrusts because it is far more than a random powder shows is trusted when texture explains it. It
// stays distrusted when texture of this kind does not, as with plates of which half lie flat, and when it is of a phase that is
// missing, also where its lines lie on those of a named one.
func TestTrusting(t *testing.T) {
	for _, c := range []struct {
		share, r float64
		nobody   map[float64]float64
		trusted  bool
	}{
		{1, 0.6, nil, true},
		{1, 0.7, nil, true},
		{0.5, 0.5, nil, false},
		{0.3, 0.35, nil, false},
		{1, 1, map[float64]float64{61: 2500, 72.02: 3000}, false},
		{1, 1, map[float64]float64{28.27: 20000, 61: 2500}, false},
	} {
		f := careful(t, platy(t, c.share, c.r, c.nobody))
		before, err := quantify.Refine(t.Context(), f)
		require.NoError(t, err)
		g, err := quantify.Trusting(t.Context(), f)
		require.NoError(t, err)
		if c.trusted {
			assert.InEpsilon(t, 1000, g.Scales[0], 0.02, "%v", c)
			assert.Less(t, distrusted(g), 2*distrusted(before)/3, "%v", c)
		} else {
			assert.Equal(t, before.Scales, g.Scales, "%v", c)
		}
		for at := range c.nobody {
			assert.True(t, g.Setup.ExtraVariance[nearest(g.Setup.TwoTheta, at)] > 0, "%g° of %v", at, c)
		}
	}
}

// distrusted counts the points with an extra variance.
func distrusted(f *pattern.Fit) (n int) {
	for _, v := range f.Setup.ExtraVariance {
		if v > 0 {
			n++
		}
	}
	return n
}
