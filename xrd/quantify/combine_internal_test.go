package quantify

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What scans differ by is taken from the scatter that is wrong in all of them: 4² − 3² = 7 of 10⁻⁴, and none where they differ by
// more than the lines scatter. The whole of one scan stays what it was: common part and difference add up.
func TestScatterCommonToScans(t *testing.T) {
	o := observed{scatters: [][]float64{{16e-4, 2e-4}, {2e-4, 4e-4}}}
	o.common(9e-4)
	assert.InDelta(t, 7e-4, o.scatters[0][0], 1e-12)
	assert.InDelta(t, 16e-4, o.scatters[0][0]+9e-4, 1e-12)
	assert.Zero(t, o.scatters[1][1])
	assert.Zero(t, o.scatters[0][1])
	o = observed{scatters: [][]float64{{16e-4, 2e-4}, {2e-4, 4e-4}}}
	o.common(0)
	assert.Equal(t, [][]float64{{16e-4, 2e-4}, {2e-4, 4e-4}}, o.scatters, "scans that agree have it all in common")
}
