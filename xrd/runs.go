package xrd

import (
	"slices"
	"sort"
)

// A Run is a stretch of points without a gap: points First to End−1 of the scan.
type Run struct{ First, End int }

// gapSteps is how many ordinary steps make a gap. Up to three missing points leave most of a line that is measured as it should be,
// five points or more across its width; four missing points can be all of its top.
const gapSteps = 4.5

// gapReach is on how many steps either side the ordinary step is measured: steps may change along a scan.
const gapReach = 8

// Runs cuts ascending angles at their gaps: masked ranges, ranges that were not measured, several ranges in one file. What was
// measured on one side of a gap says nothing about the other, and nothing lies in between that could be found missing. There
// is one run for each stretch, in order, and none for no angles.
func Runs(x []float64) []Run {
	if len(x) == 0 {
		return nil
	}
	runs := make([]Run, 1, 2)
	ordinary := sampledStep(x)
	for i := 1; i < len(x); i++ {
		if step := x[i] - x[i-1]; step > 1.5*ordinary && step > gapSteps*localStep(x, i) {
			runs[len(runs)-1].End = i
			runs = append(runs, Run{First: i})
		}
	}
	runs[len(runs)-1].End = len(x)
	return runs
}

// sampledStep returns the median of some steps all over ascending angles.
func sampledStep(x []float64) float64 {
	var steps []float64
	for i := 1; i < len(x); i += len(x)/256 + 1 {
		steps = append(steps, x[i]-x[i-1])
	}
	return lowerMedian(steps)
}

// localStep returns the median of the steps around that to point i.
func localStep(x []float64, i int) float64 {
	var buffer [2*gapReach + 1]float64
	steps := buffer[:0]
	for k := max(1, i-gapReach); k <= min(len(x)-1, i+gapReach); k++ {
		steps = append(steps, x[k]-x[k-1])
	}
	return lowerMedian(steps)
}

// lowerMedian returns the median of values, of an even number the lower one, and sorts them; 0 of none.
func lowerMedian(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	slices.Sort(values)
	return values[(len(values)-1)/2]
}

// Covered returns how many degrees of ascending angles lie within runs: their span less the gaps.
func Covered(x []float64, runs []Run) (degrees float64) {
	for _, r := range runs {
		degrees += x[r.End-1] - x[r.First]
	}
	return degrees
}

// RunOf returns the run, of those of Runs, that holds point i.
func RunOf(runs []Run, i int) Run {
	return runs[sort.Search(len(runs)-1, func(k int) bool { return runs[k].End > i })]
}
