package refdata_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func TestFormulaLike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"Fe3O4", "Fe6O8", true}, // the same fractions
		{"Cu5Zn8", "CuZn", false},
		{"FeO", "Fe0.95O", true}, // 0.500 and 0.487 of iron
		{"FeO", "Fe2O3", false},
		{"FeO", "NiO", false},
	} {
		f, err := refdata.ParseFormula(c.a)
		require.NoError(t, err)
		g, err := refdata.ParseFormula(c.b)
		require.NoError(t, err)
		assert.Equal(t, c.want, f.Like(g, 0.03), "%s %s", c.a, c.b)
		assert.Equal(t, c.want, g.Like(f, 0.03), "%s %s", c.b, c.a)
	}
}
