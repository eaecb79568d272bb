package quantify

import (
	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// Z95 is the 97.5 % quantile of the Gaussian distribution.
const Z95 = z95

// What the tests need of the inside.
var (
	ShareCovariance = shareCovariance
	Shares          = shares
	Coverage95      = coverage95
	SolutionU       = solutionU
	Trusting        = trusting
	SpanQuantile    = spanQuantile
	BrindleyRule    = brindley
)

// Across is the interval of values of which one, nobody knows which, estimates the truth.
func Across(values []Value) Value { return unknown.across(values) }

// ModelU is modelU.
const ModelU = modelU

// HiddenTexture is the relative uncertainty of an amount by a texture that the lines of some cuts do not show.
func HiddenTexture(p refdata.Phase, cuts [][]pattern.LineFit, along []bool) float64 {
	var list []cutLines
	for i, lines := range cuts {
		list = append(list, newCutLines(lines, along[i]))
	}
	return fibreShift(p, list)
}

// LeastScale is the scale of the detection limit of a profile in one scan.
func LeastScale(unit, others, variance []float64, gain, threshold float64) float64 {
	p := problem{Input: Input{Threshold: threshold}, factors: []float64{1}}
	return p.leastOf([]faint{{unit: unit, others: others, variance: variance, gain: gain, beside: 1, lines: separate(unit)}})
}

// ScatterFreedom is the number of degrees of freedom on which the scatter of the lines of phase number p rests.
func ScatterFreedom(f *pattern.Fit, p int) float64 { return scatters(f)[p].freedom }
