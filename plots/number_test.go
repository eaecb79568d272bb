package plots_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots"
	"phasetally/xrd/resultfile/resulttest"
)

func of(v float64) *float64 { return &v }

func TestAmountsFollowTheirInterval(t *testing.T) {
	for _, c := range []struct {
		v, lo, hi         *float64
		amount, plusMinus string
	}{
		{of(31.4123), of(30.9), of(31.92), "31.4 (30.9–31.9)", "31.4 ± 0.5"},
		{of(31.4123), of(26), of(37), "31 (26–37)", "31 ± 6"}, // 5.5 rounds up
		{of(31.4123), of(19), of(44), "31 (19–44)", "31 ± 12"},
		{of(34.2123), of(34.09), of(34.33), "34.21 (34.09–34.33)", "34.21 ± 0.12"},
		{of(0.3), of(0.05), of(1.1), "0.3 (0.1–1.1)", "0.3 (0.1–1.1)"},
		{of(12.345), nil, nil, "12.3", "12.3"},
		{nil, of(1), of(2), "", ""},
		{of(math.NaN()), of(1), of(2), "", ""},
		{of(100), of(100), of(100), "100.0 (100.0–100.0)", "100.0 ± 0.0"},
	} {
		assert.Equal(t, c.amount, plots.Amount(c.v, c.lo, c.hi))
		assert.Equal(t, c.plusMinus, plots.PlusMinus(c.v, c.lo, c.hi))
	}
}

// A limit is rounded up, never down, by at most a tenth.
func TestLimitsKeepTheirPromise(t *testing.T) {
	for v, want := range map[float64]string{0.8: "0.8", 0.32: "0.32", 0.321: "0.33", 1.04: "1.1", 3: "3", 12.3: "13", 0.0712: "0.072", 0.995: "1", 99.2: "100"} {
		assert.Equal(t, want, plots.Limit(v))
	}
	for v := 0.0007; v < 90; v *= 1.0371 {
		var got float64
		_, err := fmt.Sscan(plots.Limit(v), &got)
		assert.NoError(t, err)
		assert.GreaterOrEqual(t, got*(1+1e-9), v)
		assert.LessOrEqual(t, got, 1.1*v+1e-12)
	}
	assert.Equal(t, "?", plots.Limit(math.NaN()))
	assert.Equal(t, "?", plots.Limit(0))
}

func TestFixedHasATrueMinusAndNoNegativeZero(t *testing.T) {
	assert.Equal(t, "−1.50", plots.Fixed(-1.5, 2))
	assert.Equal(t, "0.0", plots.Fixed(-0.01, 1))
}

func ExamplePattern() {
	figure, err := plots.Pattern(resulttest.Mixture(1), plots.Style{Medium: plots.OneColumn}, plots.PatternOptions{Lo: 20, Hi: 70})
	if err != nil {
		fmt.Println(err)
		return
	}
	width, height := figure.Size()
	fmt.Printf("%.0f × %.0f pt: %s\n", width, height, figure.Title())
	// Output:
	// 241 × 269 pt: Diffraction pattern: fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6, corundum 31.4 ± 0.5 wt%
}

func ExampleFractions() {
	figure, err := plots.Fractions(resulttest.Mixture(1).Document, plots.Style{})
	if err != nil {
		fmt.Println(err)
		return
	}
	files, err := plots.Render(map[string]*plots.Figure{"fractions": figure})
	fmt.Println(len(files), err)
	// Output: 3 <nil>
}
