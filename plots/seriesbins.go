package plots

import (
	"cmp"
	"math"
	"slices"
)

// A trend of more than mostPoints scans is drawn by the medians of trendCells equal parts of its abscissa, of which a page
// or a screen has no more than these.
const (
	mostPoints = 1500
	trendCells = 300
)

// medians returns one point for each part of the abscissa that has scans, and the largest number of scans in one. Points are
// sorted by x. Where most scans do not show the phase the point is the median limit.
func medians(points []trendPoint) (out []trendPoint, most int) {
	lo, hi := points[0].x, points[len(points)-1].x
	cell := func(q trendPoint) int {
		if !(hi > lo) {
			return 0
		}
		return min(trendCells-1, int((q.x-lo)/(hi-lo)*trendCells))
	}
	for len(points) > 0 {
		n := 1
		for n < len(points) && cell(points[n]) == cell(points[0]) {
			n++
		}
		out, most = append(out, medianPoint(points[:n])), max(most, n)
		points = points[n:]
	}
	return out, most
}

func medianPoint(points []trendPoint) trendPoint {
	limits := 0
	for _, q := range points {
		if q.limit {
			limits++
		}
	}
	p := trendPoint{limit: 2*limits > len(points)}
	of := func(get func(trendPoint) float64) float64 {
		var v []float64
		for _, q := range points {
			if x := get(q); q.limit == p.limit && !math.IsNaN(x) {
				v = append(v, x)
			}
		}
		if len(v) == 0 {
			return math.NaN()
		}
		slices.SortFunc(v, cmp.Compare)
		return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
	}
	p.x = of(func(q trendPoint) float64 { return q.x })
	p.value = of(func(q trendPoint) float64 { return q.value })
	p.lo, p.hi = of(func(q trendPoint) float64 { return q.lo }), of(func(q trendPoint) float64 { return q.hi })
	return p
}
