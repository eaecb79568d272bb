package listfile_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/listfile"
)

// copperList is copper with the I/Ic that is given. Angles and intensities with Cu Kα, and I/Ic = 8.9, as powder files have them (from
// memory).
func copperList(ratio float64, formula string) string {
	return fmt.Sprintf(`phase,d,intensity,formula,rir
my copper,2.0880,100,%s,%g
my copper,1.8080,46,,
my copper,1.2780,20,,
my copper,1.0900,17,,
my copper,1.0436,5,,
my copper,0.9038,3,,
my copper,0.8293,9,,
my copper,0.8083,8,,
`, formula, ratio)
}

// A slipped decimal point, the ratio of another phase or a formula of another are refused with the number that would fit; what measured
// lists differ by is not.
func TestRatioAgainstFormulaAndIntensities(t *testing.T) {
	for _, r := range []float64{8.9, 3, 25} {
		_, err := listfile.Read(strings.NewReader(copperList(r, "Cu")), "mine.csv")
		assert.NoError(t, err, r)
	}
	for _, c := range []struct {
		text, says string
	}{
		{copperList(89, "Cu"), "mine.csv:2: rows of one phase contradict each other: rir is 89, and with the intensities of the list Cu has about 8"},
		{copperList(0.89, "Cu"), "rir is 0.89"},
		{copperList(8.9, "BN"), "BN has about"},
		{copperList(1, "PbTe"), "rir is 1"},
	} {
		_, err := listfile.Read(strings.NewReader(c.text), "mine.csv")
		require.ErrorIs(t, err, listfile.ErrConflict, c.text)
		assert.ErrorContains(t, err, c.says)
	}
	few := strings.Join(strings.SplitN(copperList(89, "Cu"), "\n", 6)[:5], "\n")
	_, err := listfile.Read(strings.NewReader(few), "mine.csv")
	assert.NoError(t, err, "four lines say nothing of a mean")
}
