package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestByChanceInWords: 1 − exp(−0.14) = 13.1 %, by hand.
func TestByChanceInWords(t *testing.T) {
	assert.Equal(t, "with a probability of 13 %, some phase of the collection would meet its lines as well by chance", byChance(0.14))
	assert.Equal(t, "about 3.2 phases of the collection would meet its lines as well by chance", byChance(3.2))
}
