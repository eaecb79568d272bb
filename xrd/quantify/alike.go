package quantify

import "phasetally/xrd/pattern"

// A Pair is two phases whose scales correlate so strongly that only their sum is known.
type Pair struct {
	Phases [2]int  // their numbers in the fit
	Rho    float64 // correlation of their scales, −1 to 1
}

// Alike returns the pairs of phases whose patterns a fit hardly separates.
func Alike(f *pattern.Fit) []Pair {
	var out []Pair
	for _, c := range f.Correlated {
		if c.Scales[0] >= 0 && c.Scales[1] >= 0 {
			out = append(out, Pair{c.Scales, c.Rho})
		}
	}
	return out
}
