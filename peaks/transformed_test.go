package peaks

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
)

// Square roots and logarithms of counts are told, with the digits of a file; counts, scaled counts, smoothed ones and what is no
// function of whole numbers are not.
func TestTransformed(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	counts := make([]float64, 4000)
	for i := range counts {
		counts[i] = math.Round(120 + 15*rng.NormFloat64() + 3000*math.Exp(-math.Pow(float64(i%400-200)/8, 2)))
	}
	for _, c := range []struct {
		name string
		f    func(int, float64) float64
		want string
	}{
		{"counts", func(_ int, v float64) float64 { return v }, ""},
		{"square roots", func(_ int, v float64) float64 { return math.Sqrt(v) }, "square roots"},
		{"decimal logarithms", func(_ int, v float64) float64 { return math.Log10(v) }, "decimal logarithms"},
		{"with one added", func(_ int, v float64) float64 { return math.Log10(v + 1) }, "decimal logarithms"},
		{"natural logarithms", func(_ int, v float64) float64 { return math.Log(v) }, "natural logarithms"},
		{"counts a second", func(_ int, v float64) float64 { return v / 7.3 }, ""},
		{"halves", func(_ int, v float64) float64 { return v / 2 }, ""},
		{"tenths", func(_ int, v float64) float64 { return v / 10 }, ""},
		{"scaled to 100", func(_ int, v float64) float64 { return v / 31.2 }, ""},
		{"mean of three", func(i int, v float64) float64 { return (v + counts[max(0, i-1)] + counts[min(len(counts)-1, i+1)]) / 3 }, ""},
		{"square roots, two digits after the point", func(i int, v float64) float64 {
			return math.Round(100*math.Sqrt(math.Round(v*(0.25+0.5*float64(i)/4000)))) / 100
		}, "square roots"},
		{"roots of no counts, two digits after the point", func(i int, v float64) float64 {
			return math.Round(100*math.Sqrt(1.37*math.Round(v*(0.25+0.5*float64(i)/4000)))) / 100
		}, ""},
		{"counts a second, two digits after the point", func(_ int, v float64) float64 { return math.Round(100*v/73) / 100 }, ""},
		{"roots of no counts", func(_ int, v float64) float64 { return math.Sqrt(v * 1.37) }, ""},
	} {
		y := make([]float64, len(counts))
		for i, v := range counts {
			y[i], _ = strconv.ParseFloat(strconv.FormatFloat(c.f(i, v), 'g', 6, 64), 64)
		}
		got, ok := transformed(y)
		assert.Equal(t, c.want != "", ok, c.name)
		if ok {
			assert.Equal(t, c.want, got.Evidence["function"], c.name)
			assert.Equal(t, xrd.SeverityStop, got.Severity)
		}
	}
	_, ok := transformed(nil)
	assert.False(t, ok)
}
