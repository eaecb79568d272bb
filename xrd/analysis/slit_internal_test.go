package analysis

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/identify"
)

// TestSlitStaysWhenExplainedAnew: an analysis that is begun again, without a false anchor or a twin, keeps the slit that it
// has decided for.
func TestSlitStaysWhenExplainedAnew(t *testing.T) {
	decided := &fittedSlit{automatic: true}
	r := &run{optics: decided}
	first := &identify.Outcome{Members: make([]identify.Member, 1)}
	out, err := r.identifyCorrected(t.Context(), identify.Job{}, first)
	require.NoError(t, err)
	assert.Same(t, first, out)
	assert.Same(t, decided, r.optics)
}
