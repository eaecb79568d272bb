package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/analysis"
)

func TestParseGrains(t *testing.T) {
	got, err := parseGrains([]string{"5", "2.5:corundum"})
	require.NoError(t, err)
	assert.Equal(t, []analysis.Grain{{Diameter: 5}, {ID: "corundum", Diameter: 2.5}}, got)
	for _, bad := range []string{"", "0", "-3", "NaN", "Inf", "2000", "fine", ":corundum"} {
		_, err := parseGrains([]string{bad})
		assert.ErrorContains(t, err, "--grain", bad)
	}
}
