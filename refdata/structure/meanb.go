package structure

import (
	"fmt"

	"phasetally/xrd"
)

// Mean displacement parameters, Å², that no crystal has at room temperature: diamond has 0.14, lead 2.1, caesium 13 (Peng et al. 1996, Butt et
// al. 1988, from memory). A value of B that is given as U is 79 times too large, U that is given as B 79 times too small.
const (
	leastB = 0.05
	mostB  = 15.0
)

// checkB warns of displacement parameters that are no crystal's: intensities fall too fast with the angle, or too slowly, and so does I/Ic.
func (s *Structure) checkB() {
	b, _, assumed := s.meanB()
	var likely string
	switch {
	case assumed || b >= leastB && b <= mostB:
		return
	case b > mostB:
		likely = "more than any crystal has at room temperature, as when B is given as U"
	case b > 0:
		likely = "less than any crystal has at room temperature, as when U is given as B"
	default:
		likely = "as if atoms stood still"
	}
	s.caution("structure-b-doubtful", xrd.SeverityCaution,
		fmt.Sprintf("The mean displacement parameter is B = %.3g Å², %s; relative intensities and I/Ic follow from it.", b, likely),
		"Correct it: B = 8π²U, 0.2 to 3 Å² for most crystals.", map[string]any{"b": b})
}
