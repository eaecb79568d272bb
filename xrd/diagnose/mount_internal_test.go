package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
)

// TestHaloOfMount: epoxy has its halo at 12 to 25° with Cu Kα (Miller & Hill 1964, read in PRACTICE.md 1.1) and, with cobalt, at the
// same spacing; glass at 22 to 25°; without a stated mount no hump is expected.
func TestHaloOfMount(t *testing.T) {
	for _, c := range []struct {
		mount, radiation string
		at               float64
		want             string
	}{{"epoxy", "Cu", 19, "epoxy"}, {"cold resin", "Cu", 19, ""}, {"resin", "Cu", 18, "epoxy"}, {"epoxy", "Cu", 28, ""}, {"epoxy", "Co", 21.7, "epoxy"},
		{"glass slide", "Cu", 23, "glass slide"}, {"glass slide", "Cu", 13, ""}, {"", "Cu", 19, ""}} {
		r, err := xrd.ParseRadiation(c.radiation)
		require.NoError(t, err)
		m, ok := ofMount(Facts{Radiation: r, Specimen: xrd.Specimen{Mount: c.mount}, Preparations: refdata.Preparations()}, c.at)
		assert.Equal(t, c.want != "", ok, "%+v", c)
		assert.Equal(t, c.want, m.Material, "%+v", c)
	}
}
