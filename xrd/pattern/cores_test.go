package pattern_test

import (
	"context"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
)

// TestCoresDoNotMatter: a fit is the same to the last bit on any number of cores.
func TestCoresDoNotMatter(t *testing.T) {
	_, s := mixture(t)
	run := func(cores int) *pattern.Fit {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		f, err := pattern.Run(context.Background(), s, pattern.Full)
		require.NoError(t, err)
		return f
	}
	one := run(1)
	for _, cores := range []int{2, 5} {
		f := run(cores)
		assert.Equal(t, one.Parameters, f.Parameters, "%d cores", cores)
		assert.Equal(t, one.Scales, f.Scales)
		assert.Equal(t, one.FreeCov, f.FreeCov)
		assert.Equal(t, one.Fitted, f.Fitted)
		assert.Equal(t, one.Curves, f.Curves)
	}
}
