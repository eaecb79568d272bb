package cif_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/cif"
)

// The notation is that of Int. Tables G 2.2.7.4.8: the uncertainty counts in units of the last digit.
func TestNumber(t *testing.T) {
	for _, c := range []struct {
		text      string
		value, su float64
	}{
		{"0.3521(2)", 0.3521, 0.0002}, {"12.34(15)", 12.34, 0.15}, {"1530(20)", 1530, 20}, {"-.5", -0.5, 0}, {"+3", 3, 0}, {"1.", 1, 0},
		{"1.5e-3", 1.5e-3, 0}, {"1.54(2)E-3", 1.54e-3, 0.02e-3}, {"4.759(1.2)", 4.759, 1.2}, {"0.5()", 0.5, 0}, {" 7 ", 7, 0}, {"90", 90, 0},
	} {
		v, su, err := cif.Value{Text: c.text}.Number()
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.value, v, 1e-12, c.text)
		assert.InDelta(t, c.su, su, 1e-12, c.text)
	}
	for _, text := range []string{"", "?", ".", "abc", "0.35(2", "0.35)", "1(2)(3)", "0x10", "Inf", "NaN", "1_000", "1,5", "1 2", "1e999", "(2)", "1(a)", "1(2)x"} {
		_, _, err := cif.Value{Text: text}.Number()
		assert.ErrorIs(t, err, cif.ErrNotANumber, text)
	}
}

func TestMeasured(t *testing.T) {
	for _, c := range []struct {
		value, su float64
		want      string
	}{
		{0.35214, 0.00021, "0.3521(2)"}, {12.3412, 0.151, "12.34(15)"}, {1534, 21, "1530(20)"}, {5.4311946, 0.0000092, "5.431195(9)"},
		{3, 0, "3"}, {3, math.NaN(), "3"}, {math.NaN(), 1, "?"}, {-0.5, 0.019, "-0.500(19)"}, {-0.5, 0.0197, "-0.50(2)"},
	} {
		assert.Equal(t, c.want, cif.Measured(c.value, c.su).Text)
	}
	assert.Equal(t, cif.Unknown, cif.Number(math.Inf(1)))
	assert.Equal(t, cif.Unknown, cif.Rounded(math.NaN(), 2))
	assert.Equal(t, "1.50", cif.Rounded(1.5, 2).Text)
}

// What Measured writes, Number reads back to the digits shown.
func TestMeasuredIsReadBack(t *testing.T) {
	for e := -8; e <= 6; e++ {
		for m := 1.0; m < 10; m += 0.37 {
			su := m * math.Pow(10, float64(e))
			v, u, err := cif.Measured(123.456, su).Number()
			require.NoError(t, err)
			assert.InDelta(t, 123.456, v, su*0.51)
			assert.InEpsilon(t, su, u, 0.26, "%g", su)
		}
	}
}

func ExampleValue_Number() {
	value, su, err := cif.Value{Text: "0.3521(2)"}.Number()
	fmt.Println(value, su, err)
	_, _, err = cif.Value{Text: "?"}.Number()
	fmt.Println(err)
	// Output:
	// 0.3521 0.0002 <nil>
	// not a number: "?"
}
