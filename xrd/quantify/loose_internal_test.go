package quantify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// An interval that reaches out to one side stays within what its value can be, and keeps its other end.
func TestReaching(t *testing.T) {
	v := Value{Percent: 26, Lo: 25, Hi: 28}
	assert.Equal(t, Value{Percent: 26, Lo: 0, Hi: 28}, v.reaching(-40, 0, 100))
	assert.Equal(t, Value{Percent: 26, Lo: 25, Hi: 100}, v.reaching(90, 0, 100))
	assert.InDelta(t, 26-math.Hypot(1, 40), v.reaching(-40, math.Inf(-1), 100).Lo, 1e-12)
	assert.Equal(t, v, v.reaching(0, 0, 100))
}
