package calibrate

import (
	"fmt"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// widthKinds are the parameters that shape lines, in the order of the covariance of a run after zero and displacement.
var widthKinds = [6]pattern.Kind{pattern.WidthU, pattern.WidthTau, pattern.WidthW, pattern.WidthX, pattern.WidthY, pattern.Axial}

// covariance takes the covariance out of the fit, widens it by serial correlation of the residuals, adds the
// uncertainty of the certified cell, and turns it to the parameters that people use.
func (r *run) covariance() error {
	kinds := append([]pattern.Kind{pattern.Zero, pattern.Displacement}, widthKinds[:]...)
	slot := map[pattern.Kind]int{}
	n := 0
	for _, p := range r.fitted.Parameters {
		if p.Free {
			if p.Phase < 0 {
				slot[p.Kind] = n
			}
			n++
		}
	}
	if n != len(r.fitted.FreeCov) {
		return fmt.Errorf("%w: %d free parameters, covariance of %d", ErrNothingLeft, n, len(r.fitted.FreeCov))
	}
	widen := r.Agreement.BerarLelann * r.Agreement.BerarLelann
	for i, a := range kinds {
		for j, b := range kinds {
			ka, freeA := slot[a]
			kb, freeB := slot[b]
			if freeA && freeB {
				r.shapeCov[i][j] = widen * r.fitted.FreeCov[ka][kb]
			}
		}
	}
	c := &r.shapeCov
	r.Correlation = -c[0][1] / math.Sqrt(c[0][0]*c[1][1]) // a positive displacement shifts down
	r.Separated = math.Abs(r.Correlation) <= separable
	r.addTail()
	r.addCell()
	z, d := r.param(pattern.Zero), r.param(pattern.Displacement)
	r.Zero, r.Displacement = estimate(z, math.Sqrt(c[0][0])), estimate(d, math.Sqrt(c[1][1]))
	r.Instrument.ZeroU = r.Zero.U
	r.toCaglioti()
	return nil
}

// separable is the correlation up to which zero and displacement count as told apart (common practice).
const separable = 0.98

func (r *run) param(k pattern.Kind) float64 {
	p, _ := r.fitted.Get(k, -1)
	return p.Value
}

// addTail adds what a tail too small to be seen would do: zero and displacement with it lie elsewhere.
func (r *run) addTail() {
	if r.other == nil {
		return
	}
	var g [2]float64
	for i, k := range []pattern.Kind{pattern.Zero, pattern.Displacement} {
		p, _ := r.other.Get(k, -1)
		g[i] = p.Value - r.param(k)
	}
	r.addOuter(g)
}

func (r *run) addOuter(g [2]float64) {
	for i := range g {
		for j := range g {
			r.shapeCov[i][j] += g[i] * g[j]
		}
	}
}

// addCell adds what the uncertainty of the certified cell does: a relative change ε of the cell shifts lines by
// −2 tan θ ε, and zero and displacement follow by (AᵀWA)⁻¹AᵀW of that, with the lines' own weights.
func (r *run) addCell() {
	ps := positionsOf(r.pairs, r.found, r.phases)
	for i := range ps {
		ps[i].Observed = ps[i].Reference + cellShift(ps[i].Reference)
	}
	follow, err := fitPositions(ps, r.Job.Instrument.Radius, [2]float64{math.Inf(1), math.Inf(1)})
	if err != nil {
		return
	}
	u := r.Job.Standard.relativeU()
	r.addOuter([2]float64{follow.Zero * u, follow.Displacement * u})
}

// toCaglioti carries the covariance from U, τ, W₀ to U, V = −2Uτ, W = W₀ + Uτ².
func (r *run) toCaglioti() {
	u, tau := r.param(pattern.WidthU), r.param(pattern.WidthTau)
	var jac [8][8]float64
	for i := range jac {
		jac[i][i] = 1
	}
	jac[3] = [8]float64{2: -2 * tau, 3: -2 * u}
	jac[4] = [8]float64{2: tau * tau, 3: 2 * u * tau, 4: 1}
	for i := range jac {
		for j := range jac {
			for a := range jac {
				for b := range jac {
					r.Covariance[i][j] += jac[i][a] * r.shapeCov[a][b] * jac[j][b]
				}
			}
		}
	}
}

// at evaluates the calibration at an angle.
func (r *run) at(twoTheta float64) CurvePoint {
	shift := Shift{Zero: r.Zero.Value, Displacement: r.Displacement.Value, Radius: r.Instrument.Radius,
		Covariance: [2][2]float64{{r.shapeCov[0][0], r.shapeCov[0][1]}, {r.shapeCov[1][0], r.shapeCov[1][1]}}}
	out := CurvePoint{TwoTheta: twoTheta}
	out.Shift, out.ShiftU = shift.At(twoTheta)
	g, l := r.Instrument.GaussianFWHM(twoTheta), r.Instrument.LorentzianFWHM(twoTheta)
	var toWidth [2]float64
	out.FWHM, out.Eta, toWidth, _ = xrd.ThompsonCoxHastingsSlopes(g, l)
	t := tanHalf(twoTheta)
	cos := math.Cos(xrd.Radians(twoTheta) / 2)
	grad := [8]float64{2: toWidth[0] * t * t / (2 * g), 3: toWidth[0] * t / (2 * g), 4: toWidth[0] / (2 * g), 5: toWidth[1] / cos, 6: toWidth[1] * t}
	var v float64
	for i := range grad {
		for j := range grad {
			v += grad[i] * grad[j] * r.Covariance[i][j]
		}
	}
	out.FWHMU = math.Sqrt(math.Max(0, v))
	return out
}
