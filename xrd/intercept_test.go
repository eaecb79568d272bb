package xrd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

func TestParseIntercepts(t *testing.T) {
	for text, want := range map[string][]xrd.Intercept{
		"12±3":              {{Micron: 12, U: 3}},
		" 12 +- 3 ":         {{Micron: 12, U: 3}},
		"12+/-3":            {{Micron: 12, U: 3}},
		"12/3":              {{Micron: 12, U: 3}},
		"10":                {{Micron: 10, U: 3}}, // 30 %
		"4±1:lead":          {{ID: "lead", Micron: 4, U: 1}},
		"12±3; 0.5/0.1:cu2": {{Micron: 12, U: 3}, {ID: "cu2", Micron: 0.5, U: 0.1}},
		"12±3,4±1:lead":     {{Micron: 12, U: 3}, {ID: "lead", Micron: 4, U: 1}},
	} {
		got, err := xrd.ParseIntercepts(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
		again, err := xrd.ParseIntercepts(xrd.FormatIntercepts(got))
		require.NoError(t, err, text)
		assert.Equal(t, want, again, text)
	}
	for _, text := range []string{"", "0", "-3", "0±1", "NaN", "Inf", "12±-1", "12±NaN", "twelve", "12:", "1e9", "12±", "12±3:a,4:A", "12±3,5", "±3", ",;"} {
		got, err := xrd.ParseIntercepts(text)
		require.ErrorIs(t, err, xrd.ErrIntercept, "%q gave %v", text, got)
	}
}

func TestParseInterceptSpread(t *testing.T) {
	for text, want := range map[string]xrd.InterceptSpread{"0.6±0.2": {CV2: 0.6, U: 0.2}, " 1 +- 0.1 ": {CV2: 1, U: 0.1}, "0.5": {CV2: 0.5, U: 0.15}, "9/3": {CV2: 9, U: 3}} {
		got, err := xrd.ParseInterceptSpread(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want.U, got.U, 1e-12)
		assert.InDelta(t, want.CV2, got.CV2, 0)
		again, err := xrd.ParseInterceptSpread(got.String())
		require.NoError(t, err, text)
		assert.Equal(t, got, again, text)
	}
	for _, text := range []string{"", "0", "-1", "9.1", "NaN", "Inf", "0.5±-1", "0.5±NaN", "half", "±1"} {
		_, err := xrd.ParseInterceptSpread(text)
		require.ErrorIs(t, err, xrd.ErrInterceptSpread, text)
	}
	assert.Empty(t, xrd.InterceptSpread{}.String())
}

func FuzzParseIntercepts(f *testing.F) {
	for _, s := range []string{"12±3", "12/3:lead;4", "1e-300", "±:"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		list, err := xrd.ParseIntercepts(s)
		if err != nil {
			return
		}
		again, err := xrd.ParseIntercepts(xrd.FormatIntercepts(list))
		require.NoError(t, err)
		require.Equal(t, list, again)
	})
}
