package peaks

import (
	"math"
	"slices"

	"phasetally/xrd"
)

// stiffness is the wavelength, degrees with Cu Kα, at which one pass of the smoother follows half of a wave: far above the
// width of a peak and far below that of a halo (8° wide).
const stiffness = 4.0

// The shares of the background by which the smoother may be wrong: over the surroundings of a peak, and bin by bin.
const (
	slack    = 0.001
	binSlack = 0.003
)

// tailMisfit is the share by which the sum of the fitted peaks may be wrong at a point.
const tailMisfit = 0.1

// A binned scan: neighbours averaged over widths small against the stiffness.
type bins struct {
	of     []int     // bin of every point
	angle  []float64 // mean angle
	count  []float64 // points
	width  float64   // degrees
	broad  float64   // xrd.Broadness
	points int
}

// relative is the width of the bins in degrees with Cu Kα.
func (b *bins) relative() float64 { return b.width / b.broad }

// newBins chooses bins that hold enough signal to judge whether they lie on the background.
func newBins(scan xrd.Scan, broad float64) *bins {
	lo, hi := scan.Range()
	width := backgroundBin(scan, broad)
	n := max(4, int(math.Ceil((hi-lo)/width)))
	b := &bins{of: make([]int, scan.Len()), width: (hi - lo) / float64(n), broad: broad, points: scan.Len()}
	b.angle, b.count = make([]float64, n), make([]float64, n)
	for i, t := range scan.TwoTheta {
		k := min(n-1, int((t-lo)/b.width))
		b.of[i] = k
		b.count[k]++
	}
	for k := range b.angle {
		b.angle[k] = lo + (float64(k)+0.5)*b.width
	}
	return b
}

// filled returns the values of the bins that hold points.
func (b *bins) filled(values []float64) []float64 {
	out := make([]float64, 0, len(values))
	for k, n := range b.count {
		if n > 0 {
			out = append(out, values[k])
		}
	}
	return out
}

// means averages y over the bins; empty bins, in gaps, give 0.
func (b *bins) means(y []float64) []float64 {
	m := make([]float64, len(b.angle))
	for i, k := range b.of {
		m[k] += y[i]
	}
	for k, n := range b.count {
		if n > 0 {
			m[k] /= n
		}
	}
	return m
}

// spread interpolates bin values to the points.
func (b *bins) spread(scan xrd.Scan, values []float64) []float64 {
	out := make([]float64, scan.Len())
	last := len(values) - 2
	for i, t := range scan.TwoTheta {
		x := (t - b.angle[0]) / b.width
		k := min(max(int(x), 0), last)
		f := x - float64(k)
		out[i] = values[k]*(1-f) + values[k+1]*f
	}
	return out
}

// Background returns the smooth part of a scan with a wavelength, Å, at every point: a penalised least-squares curve through the bins that do
// not rise above it (after Whittaker 1923, from memory), approached from below so that crowded regions do not lift it.
func Background(scan xrd.Scan, noise NoiseModel, wavelength float64) []float64 {
	b := newBins(scan, xrd.Broadness(wavelength))
	y := b.means(scan.Intensity)
	curve := b.firstCurve(y)
	typical := median(b.filled(y))
	weight, free := make([]float64, len(y)), make([]float64, len(y))
	each := float64(b.points) / float64(len(y))
	for turn := range 25 {
		change := 0.0
		// A halo's top lies far above the first curve in terms of noise; tolerance that shrinks lets the curve climb it.
		tolerance := math.Max(binSlack, 0.02*math.Pow(0.75, float64(turn)))
		for k, n := range b.count {
			counting, off := noise.Variance(math.Max(curve[k], 0.1*typical)), tolerance*curve[k]
			v := counting + off*off*n
			z := (y[k] - curve[k]) * math.Sqrt(n/v)
			weight[k] = n / v / (1 + math.Exp(math.Min(4*(z-2.75), 300)))
			free[k] = each / (counting + off*off*each)
		}
		next := whittaker(y, weight, free, b.relative())
		for k := range next {
			change = math.Max(change, math.Abs(next[k]-curve[k])/(1e-9+math.Sqrt(noise.Variance(curve[k]))))
		}
		curve = next
		if change < 0.02 && tolerance == binSlack {
			break
		}
	}
	return b.spread(scan, curve)
}

// firstCurve opens the bins and smooths; what is left of haloes and slopes, whose tops an opening cuts off, is opened and
// added again until little remains.
func (b *bins) firstCurve(y []float64) []float64 {
	half := int(math.Ceil(1.2 / b.relative()))
	even := make([]float64, len(y))
	for k, n := range b.count {
		even[k] = math.Min(n, 1)
	}
	curve, rest := make([]float64, len(y)), slices.Clone(y)
	for range 6 {
		for k, v := range whittaker(b.openedRuns(rest, half), even, even, b.relative()) {
			curve[k] += v
			rest[k] = y[k] - curve[k]
		}
	}
	return curve
}

// openedRuns opens the bins that hold points, those on both sides of a gap side by side: what a gap cuts off is then no broader
// than before. Empty bins give 0.
func (b *bins) openedRuns(y []float64, half int) []float64 {
	out := make([]float64, len(y))
	rest := opened(b.filled(y), half)
	for k, n := range b.count {
		if n > 0 {
			out[k], rest = rest[0], rest[1:]
		}
	}
	return out
}

func slackVariance(level float64) float64 { return binSlack * binSlack * level * level }

// backgroundBin returns a bin width, degrees, that holds about 30 counts of a low-count scan.
func backgroundBin(scan xrd.Scan, broad float64) float64 {
	lo, hi := scan.Range()
	measured := xrd.Covered(scan.TwoTheta, xrd.Runs(scan.TwoTheta))
	rate := median(sums(scan.Intensity, 8)) / 8
	points := 6.0
	if rate > 0 {
		points = math.Max(points, 30/rate)
	} else {
		points = 50
	}
	return math.Min(math.Max(math.Max(0.1*broad, 1.01*measured/float64(scan.Len())*4), math.Min(points*scan.Step(), 0.7*broad)), (hi-lo)/4)
}

// refineBackground smooths what the peaks leave, bins with strong peaks counting less because the fit is not perfect. It
// returns the standard uncertainty beside the background.
func refineBackground(scan xrd.Scan, noise NoiseModel, wavelength float64, background, peaks []float64) (refined, u []float64) {
	b := newBins(scan, xrd.Broadness(wavelength))
	rest := make([]float64, scan.Len())
	for i, y := range scan.Intensity {
		rest[i] = y - peaks[i]
	}
	y, under, old := b.means(rest), b.means(peaks), b.means(background)
	weight, free := make([]float64, len(y)), make([]float64, len(y))
	each := float64(b.points) / float64(len(y))
	typical := median(b.filled(y))
	for k, n := range b.count {
		misfit := tailMisfit * under[k]
		v := noise.Variance(old[k]+under[k]) + n*misfit*misfit
		w := n / v
		slackV := slackVariance(old[k])
		if z := (y[k] - old[k]) / math.Sqrt(v/math.Max(n, 1)+slackV); z > 4 {
			w *= 16 / (z * z)
		}
		weight[k], free[k] = w, each/noise.Variance(math.Max(old[k], 0.1*typical))
	}
	curve, variance := whittakerU(y, weight, free, b.relative())
	if noise.Kind == Poisson { // counts cannot be negative, but tails that are drawn too long can make them so
		for k := range curve {
			curve[k] = math.Max(curve[k], 0)
		}
	}
	for k, v := range variance {
		variance[k] = math.Sqrt(v + slack*slack*curve[k]*curve[k])
	}
	return b.spread(scan, curve), b.spread(scan, variance)
}

// whittaker minimises Σ w (y − b)² + Σ λ (b″)² on even bins by a banded Cholesky factorisation. λ puts the half-way point
// of the response at the stiffness wherever a bin has its free weight, which is that of a bin with nothing but background:
// one λ for all would make the curve stiff where it is high. The residual is smoothed once more and added (twicing,
// Tukey 1977, from memory), which all but removes the bias at haloes and at the ends.
func whittaker(y, weight, free []float64, width float64) []float64 {
	f := newSmoother(weight, free, width)
	return f.smooth(y, weight)
}

// whittakerU is whittaker with the variances, for weights that are inverse variances: those of the first smooth, which the
// second hardly changes.
func whittakerU(y, weight, free []float64, width float64) (curve, variance []float64) {
	f := newSmoother(weight, free, width)
	if f.d0 == nil {
		return slices.Clone(y), make([]float64, len(y))
	}
	return f.smooth(y, weight), inverseDiagonal(f.d0, f.d1, f.d2)
}

// A smoother holds the banded factors of W + D₂ᵀΛD₂; without weights it is empty and smooths nothing.
type smoother struct{ d0, d1, d2 []float64 }

func newSmoother(weight, free []float64, width float64) (f smoother) {
	n := len(weight)
	typical := mean(free)
	if !(typical > 0) || !(mean(weight) > 0) {
		return f
	}
	factor := math.Min(math.Pow(stiffness/(2*math.Pi*width), 4), 1e10) // beyond, a straight line loses its digits
	d0, d1, d2 := make([]float64, n), make([]float64, n), make([]float64, n)
	for k := range n {
		d0[k] = weight[k] + 1e-9*typical
	}
	for k := 1; k < n-1; k++ { // each second difference adds (1 −2 1)ᵀ(1 −2 1)
		lambda := factor * math.Max(free[k], 1e-3*typical)
		d0[k-1] += lambda
		d0[k] += 4 * lambda
		d0[k+1] += lambda
		d1[k-1] -= 2 * lambda
		d1[k] -= 2 * lambda
		d2[k-1] += lambda
	}
	factorBanded(d0, d1, d2)
	return smoother{d0, d1, d2}
}

// smooth returns the smooth of y, twiced.
func (f smoother) smooth(y, weight []float64) []float64 {
	if f.d0 == nil {
		return slices.Clone(y)
	}
	out, rest := make([]float64, len(y)), make([]float64, len(y))
	for range 2 {
		for k := range rest {
			rest[k] = weight[k] * (y[k] - out[k])
		}
		solveBanded(f.d0, f.d1, f.d2, rest)
		for k := range out {
			out[k] += rest[k]
		}
	}
	return out
}

// factorBanded turns the diagonals d0, d1, d2 of a symmetric positive definite matrix into its factors.
func factorBanded(d0, d1, d2 []float64) {
	n := len(d0)
	for k := range n { // L D Lᵀ, L unit lower with subdiagonals in d1, d2
		if k > 0 {
			d0[k] -= d1[k-1] * d1[k-1] * d0[k-1]
		}
		if k > 1 {
			d0[k] -= d2[k-2] * d2[k-2] * d0[k-2]
		}
		if k+1 < n {
			if k > 0 {
				d1[k] -= d2[k-1] * d1[k-1] * d0[k-1]
			}
			d1[k] /= d0[k]
		}
		if k+2 < n {
			d2[k] /= d0[k]
		}
	}
}

// solveBanded solves for x in place with the factors of factorBanded.
func solveBanded(d0, d1, d2, x []float64) {
	n := len(x)
	for k := range n {
		if k > 0 {
			x[k] -= d1[k-1] * x[k-1]
		}
		if k > 1 {
			x[k] -= d2[k-2] * x[k-2]
		}
	}
	for k := n - 1; k >= 0; k-- {
		x[k] /= d0[k]
		if k+1 < n {
			x[k] -= d1[k] * x[k+1]
		}
		if k+2 < n {
			x[k] -= d2[k] * x[k+2]
		}
	}
}

// inverseDiagonal returns the diagonal of the inverse from the factors of factorBanded (Takahashi, Fagan & Chin 1973,
// from memory): Z = D⁻¹L⁻¹ + (1 − Lᵀ)Z gives each element from those below and to the right of it.
func inverseDiagonal(d0, d1, d2 []float64) []float64 {
	n := len(d0)
	z := make([]float64, n)
	var below, beside float64 // Z at (k+2, k+2) and (k+1, k+2)
	for k := n - 1; k >= 0; k-- {
		z[k] = 1 / d0[k]
		var one, two float64 // Z at (k, k+1) and (k, k+2)
		if k+1 < n {
			one, two = -d1[k]*z[k+1]-d2[k]*beside, -d1[k]*beside-d2[k]*below
			z[k] -= d1[k]*one + d2[k]*two
			below = z[k+1]
		}
		beside = one
	}
	return z
}

// opened removes what is narrower than twice half bins and keeps what is broader: low quantiles of each neighbourhood,
// then high quantiles of these (a morphological opening that noise does not bias much).
func opened(y []float64, half int) []float64 {
	half = min(half, len(y)/2)
	padded := make([]float64, 0, len(y)+4*half)
	first, last := mean(y[:max(1, half/3)]), mean(y[len(y)-max(1, half/3):])
	for k := 2 * half; k > 0; k-- { // turned over at the ends, so that a slope goes on
		padded = append(padded, 2*first-y[min(k, len(y)-1)])
	}
	padded = append(padded, y...)
	for k := 1; k <= 2*half; k++ {
		padded = append(padded, 2*last-y[max(0, len(y)-1-k)])
	}
	out := quantiles(quantiles(padded, half, 0.25), half, 0.75)
	return out[2*half : 2*half+len(y)]
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// quantiles returns that of the values within half places of each, keeping the window sorted as it moves.
func quantiles(y []float64, half int, share float64) []float64 {
	out := make([]float64, len(y))
	window := make([]float64, 0, 2*half+2)
	for k := 0; k < min(half, len(y)); k++ {
		i, _ := slices.BinarySearch(window, y[k])
		window = slices.Insert(window, i, y[k])
	}
	for k := range y {
		if k+half < len(y) {
			i, _ := slices.BinarySearch(window, y[k+half])
			window = slices.Insert(window, i, y[k+half])
		}
		if k-half-1 >= 0 {
			i, _ := slices.BinarySearch(window, y[k-half-1])
			window = slices.Delete(window, i, i+1)
		}
		out[k] = window[int(share*float64(len(window)-1)+0.5)]
	}
	return out
}

// sums adds n neighbours at a time.
func sums(y []float64, n int) []float64 {
	out := make([]float64, len(y)/n)
	for i := range out {
		for _, v := range y[i*n : i*n+n] {
			out[i] += v
		}
	}
	return out
}

// sample returns evenly spaced values where there are many: enough for a median that sets a scale.
func sample(v []float64) []float64 {
	const enough = 256
	every := len(v)/enough + 1
	out := make([]float64, 0, enough)
	for i := every / 2; i < len(v); i += every {
		out = append(out, v[i])
	}
	return out
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}
