package result

import "math"

// Number returns a quantity of a document; nil for one that is not known, NaN or infinite.
func Number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// Positive returns a quantity of a document; nil unless it is above 0 and finite.
func Positive(v float64) *float64 {
	if !(v > 0) {
		return nil
	}
	return Number(v)
}
