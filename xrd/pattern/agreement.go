package pattern

import "math"

// Agreement tells how well the fitted pattern agrees with the scan. R values are fractions. Weights are those of
// counting alone. Indices that would divide by nothing (a scan of zeros) are not finite. Source: McCusker et al., J. Appl. Cryst. 32 (1999) 36–50 (from memory).
type Agreement struct {
	RWP              float64 // √(Σ w (y − fit)²/Σ w y²)
	RWPBackground    float64 // the same with the background taken from y in the denominator
	RExp             float64 // √((n − p)/Σ w y²)
	ReducedChiSquare float64 // Σ w (y − fit)²/(n − p)
	DurbinWatson     float64 // Σ (r_i − r_{i−1})²/Σ r_i² of weighted residuals; 2 when they are independent
	BerarLelann      float64 // factor ≥ 1 by which serial correlation widens uncertainties: see berarLelannFactor
}

func agreement(f *Fit) Agreement {
	var a Agreement
	var rss, yy, net, diff, last float64
	for i, y := range f.Setup.Intensity {
		w := 1 / f.Noise[i]
		r := (y - f.Fitted[i]) * math.Sqrt(w)
		rss += r * r
		yy += w * y * y
		net += w * (y - f.Background[i]) * (y - f.Background[i])
		if i > 0 {
			diff += (r - last) * (r - last)
		}
		last = r
	}
	linear, nonlinear := f.model.linear(), len(f.model.free)
	free := math.Max(1, float64(len(f.Fitted)-linear-nonlinear))
	a.RWP = math.Sqrt(rss / yy)
	a.RWPBackground = math.Sqrt(rss / net)
	a.RExp = math.Sqrt(free / yy)
	a.ReducedChiSquare = rss / free
	a.DurbinWatson = diff / rss
	a.BerarLelann = berarLelannFactor(f)
	return a
}

// independentRuns is Σ (Σ r)²/Σ r² over runs of one sign when residuals are independent and Gaussian: run lengths n are
// geometric with E[n] = 2 and E[n(n − 1)] = 4, so that it is (2 + 4·2/π)/2. Derived here.
const independentRuns = 1 + 4/math.Pi

// berarLelannFactor returns the factor, at least 1, by which serial correlation widens standard uncertainties: the square
// root of Σ (Σ r)²/Σ r² over runs of residuals of one sign, over what independent residuals give. Residuals are
// weighted with the misfit. After Bérar & Lelann, J. Appl. Cryst. 24 (1991) 1–5 (from memory), normalised here.
func berarLelannFactor(f *Fit) float64 {
	var sum, runs, squares float64
	for i, y := range f.Setup.Intensity {
		r := (y - f.Fitted[i]) / math.Sqrt(f.Variance[i])
		if sum*r < 0 {
			runs += sum * sum
			sum = 0
		}
		sum += r
		squares += r * r
	}
	runs += sum * sum
	if squares == 0 {
		return 1
	}
	return math.Max(1, math.Sqrt(runs/squares/independentRuns))
}
