package series_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/series"
)

// Every scan is in exactly one share, whatever their number, and shares differ by one scan at most.
func TestSharesPartTheSeries(t *testing.T) {
	for of := 1; of <= 9; of++ {
		times := make([]int, 23)
		for k := 1; k <= of; k++ {
			size := 0
			for i := range times {
				if (series.Share{K: k, Of: of}).Holds(i) {
					times[i]++
					size++
				}
			}
			assert.InDelta(t, float64(len(times))/float64(of), size, 1)
		}
		for i, n := range times {
			assert.Equal(t, 1, n, "scan %d of %d shares", i, of)
		}
	}
	assert.True(t, series.Share{}.Holds(7), "no share is all")
}
