package peaks

import (
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
)

// Intensities that are a function of counts turn back into whole numbers by its inverse, and by nothing else.
// Transformed is the code of the caution of intensities that are no counts but a function of them.
const Transformed = "transformed"

const (
	wholeWithin = 0.1  // of a whole number; a fifth of numbers that are none lie so near to one
	wholeShare  = 0.95 // of the values that must
	wholeLeast  = 50   // values of different size that are asked
	wholeFrom   = 5.0  // counts; so few are near whole numbers for other reasons, such as zeros
	wholeTo     = 2e4  // counts; five digits of a value do not tell whole numbers beyond
)

// inverses are what is done to counts before they are plotted, with what undoes it.
var inverses = []struct {
	name, undo string
	of         func(float64) float64
}{
	{"square roots", "square the intensities", func(y float64) float64 { return y * y }},
	{"decimal logarithms", "raise 10 to their power", func(y float64) float64 { return math.Pow(10, y) }},
	{"natural logarithms", "raise e to their power", math.Exp},
}

// How many digits after the point are told apart (doubles hold more, files of scans do not), and how near to one a value lies.
const (
	mostDigits  = 7
	ofLastDigit = 1e-3 // of its unit; what doubles make of a decimal number is far less
)

// lastDigit returns what one unit of the last digit after the point is worth that any of the values has.
func lastDigit(y []float64) float64 {
	unit := 1.0
	for range mostDigits {
		if !slices.ContainsFunc(y, func(v float64) bool { return math.Abs(v/unit-math.Round(v/unit)) > ofLastDigit }) {
			break
		}
		unit /= 10
	}
	return unit
}

// transformed is the caution of intensities that are a function of counts; false for none.
func transformed(y []float64) (xrd.Caution, bool) {
	half := lastDigit(y) / 2
	for _, inverse := range inverses {
		seen := map[float64]bool{}
		whole := 0
		for _, v := range y {
			counts := inverse.of(v)
			if seen[v] || !(counts >= wholeFrom && counts <= wholeTo) || v == math.Round(v) || inverse.of(v+half)-counts > wholeWithin {
				continue // the last of them: a rounded value that does not tell whole numbers
			}
			seen[v] = true
			if math.Abs(counts-math.Round(counts)) <= wholeWithin {
				whole++
			}
		}
		if len(seen) >= wholeLeast && float64(whole) >= wholeShare*float64(len(seen)) {
			return xrd.Caution{Code: Transformed, Severity: xrd.SeverityStop,
				Text:     fmt.Sprintf("The intensities are %s of counts: they turn back into whole numbers. Strong lines are then far too weak, and every fraction would be wrong: none is given.", inverse.name),
				Remedy:   fmt.Sprintf("Export the counts themselves, or %s before they are read.", inverse.undo),
				Evidence: map[string]any{"function": inverse.name}}, true
		}
	}
	return xrd.Caution{}, false
}
