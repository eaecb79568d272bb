package quantify

import (
	"strings"

	"phasetally/xrd/pattern"
)

// A Pair is two phases whose scales correlate so strongly that only their sum is known.
type Pair struct {
	Phases [2]int
	Rho    float64
}

// Alike returns the pairs of phases whose patterns a fit hardly separates.
func Alike(f *pattern.Fit) []Pair {
	index := map[string]int{}
	for i, p := range f.Setup.Phases {
		index[p.ID] = i
	}
	var out []Pair
	for _, c := range f.Correlated {
		a, okA := strings.CutPrefix(c.A, scaleOf)
		b, okB := strings.CutPrefix(c.B, scaleOf)
		if okA && okB {
			out = append(out, Pair{[2]int{index[a], index[b]}, c.Rho})
		}
	}
	return out
}

// IsScale reports whether a fit means the scale of a phase by a name.
func IsScale(name, id string) bool { return name == scaleOf+id }

// scaleOf begins the name that a fit gives to a scale.
const scaleOf = "scale of "
