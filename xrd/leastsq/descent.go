package leastsq

import (
	"context"
	"math"
)

const epsilon = 0x1p-52

// A tally counts evaluations of a model.
type tally struct{ evaluations int }

func (t *tally) evaluated() int { return t.evaluations }

// A descent drives a fit to a Status.
type descent struct {
	*projection
	settings   Settings
	radius     float64 // the length of step that is trusted
	damping    float64 // the last that gave such a step
	promise    float64 // the last reduction promised below rounding
	iterations int
}

// run ends with the quadratic model formed at the best point unless the fit was cancelled or is gone on with.
func (d *descent) run(ctx context.Context) Status {
	d.damping, d.promise = 1e-3, math.Inf(1)
	for ; ; d.iterations++ {
		if ctx.Err() != nil {
			return Cancelled
		}
		if !d.linearise() {
			return Stuck
		}
		if d.iterations >= d.settings.MaxIterations {
			return IterationLimit
		}
		status, moved := d.improve()
		if status == NotRun {
			continue
		}
		d.iterations++
		if moved && !d.settings.Onward && !d.linearise() {
			return Stuck
		}
		return status
	}
}

// improve shortens the step until it lowers the objective. Status NotRun means that the fit goes on.
func (d *descent) improve() (status Status, moved bool) {
	best, _ := d.objectives()
	if d.iterations == 0 {
		d.radius = d.reach()
	}
	predicted, size := d.propose(0)
	undamped, damping, noise, smallest := size, 0.0, d.rounding(), epsilon*d.length()
	if predicted <= noise && !(predicted < 0.8*d.promise) {
		return Converged, false
	}
	if predicted <= noise {
		d.promise = predicted
	}
	end := Stuck
	if predicted <= noise || d.small(predicted, size) {
		if d.settings.SpareLast {
			return Converged, false
		}
		end = Converged // unless a step brings more than promised
	}
	for {
		if !(size <= d.radius) && predicted > noise {
			predicted, size, damping = d.shorten(undamped)
		}
		switch {
		case d.evaluated() >= d.settings.MaxEvaluations:
			return EvaluationLimit, false
		case end == Stuck && predicted <= noise && damping > 0 && d.radius > 1e-8*d.length():
			return Converged, false // the undamped promise was rounding in a direction that is not determined
		case end == Stuck && (predicted <= noise || !(d.radius > smallest)):
			return Stuck, false
		}
		d.evaluate()
		_, trial := d.objectives()
		actual := best - trial
		if predicted <= noise && actual >= -noise {
			// The sum of squares cannot judge such a step, but the promise can: Newton's steps shrink to the end.
			d.accept()
			return NotRun, true
		}
		d.trust(actual, predicted, size)
		if actual > 1e-4*predicted {
			last := end == Converged && d.small(actual, size)
			d.accept()
			if last {
				return Converged, true
			}
			return NotRun, true
		}
		if end == Converged {
			return Converged, false
		}
	}
}

// small says whether a reduction or the step for it is within the tolerances.
func (d *descent) small(reduction, size float64) bool {
	best, _ := d.objectives()
	return reduction <= d.settings.RelTolerance*best || size <= d.settings.StepTolerance*d.length()
}

// trust moves the radius by what the last step brought of what it promised.
// Source: Moré, Lecture Notes in Mathematics 630 (1978) 105–116 (from memory).
func (d *descent) trust(actual, predicted, size float64) {
	switch ratio := actual / predicted; {
	case !(ratio > 0): // also if not finite
		d.radius = min(size, d.radius) / 4
	case ratio < 0.25:
		d.radius = min(size, d.radius) / 2
	case ratio > 0.75:
		d.radius = max(d.radius, 2*size)
	}
}

// shorten finds the damping for which the step is as long as the radius to within a tenth. The inverse of the length is
// nearly linear in the damping.
func (d *descent) shorten(undamped float64) (predicted, size, used float64) {
	low, high := 0.0, math.Inf(1) // dampings of a step too long and too short
	atLow, atHigh := 1/undamped, 0.0
	want := 1 / d.radius
	if !(d.damping > 0) {
		d.damping = 1e-3
	}
	for range 40 {
		used = d.damping
		predicted, size = d.propose(d.damping)
		switch {
		case size > 1.1*d.radius:
			low, atLow = d.damping, 1/size
		case size < 0.9*d.radius:
			high, atHigh = d.damping, 1/size
		default:
			return predicted, size, used
		}
		if math.IsInf(high, 1) {
			d.damping *= 16
			continue
		}
		d.damping = low + (high-low)*(want-atLow)/(atHigh-atLow)
		if d.damping > high/100 {
			continue
		}
		d.damping = max(d.damping, math.Sqrt(max(low, high*1e-4)*high))
	}
	return predicted, size, used
}

// rounding is how far a sum of squares can be off because a model is rounded a few times on its way: nothing below it can
// be told from noise.
func rounding(sumSquares, dataNorm float64) float64 {
	off := 4 * epsilon * dataNorm
	return off * (2*math.Sqrt(sumSquares) + off)
}
