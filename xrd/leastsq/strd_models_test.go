package leastsq_test

import "math"

// A curve returns the model at x and fills its derivatives.
type curve func(b, x, d []float64) float64

// strdCurves are the models of the 27 sets as NIST writes them, with derivatives by hand.
var strdCurves = map[string]curve{
	"Bennett5": func(b, x, d []float64) float64 {
		base := b[1] + x[0]
		p := math.Pow(base, -1/b[2])
		d[0], d[1], d[2] = p, -b[0]*p/(b[2]*base), b[0]*p*math.Log(base)/(b[2]*b[2])
		return b[0] * p
	},
	"BoxBOD": saturation, "Misra1a": saturation,
	"Chwirut1": chwirut, "Chwirut2": chwirut,
	"DanWood": func(b, x, d []float64) float64 {
		p := math.Pow(x[0], b[1])
		d[0], d[1] = p, b[0]*p*math.Log(x[0])
		return b[0] * p
	},
	"Eckerle4": func(b, x, d []float64) float64 {
		u := (x[0] - b[2]) / b[1]
		e := math.Exp(-u*u/2) / b[1]
		d[0], d[1], d[2] = e, b[0]*e*(u*u-1)/b[1], b[0]*e*u/b[1]
		return b[0] * e
	},
	"ENSO": func(b, x, d []float64) float64 {
		sin, cos := math.Sincos(2 * math.Pi * x[0] / 12)
		d[0], d[1], d[2] = 1, cos, sin
		return b[0] + b[1]*cos + b[2]*sin + cycle(b[3:6], x[0], d[3:6]) + cycle(b[6:9], x[0], d[6:9])
	},
	"Gauss1": peaksOnDecay, "Gauss2": peaksOnDecay, "Gauss3": peaksOnDecay,
	"Hahn1": cubicRatio, "Thurber": cubicRatio,
	"Kirby2":   func(b, x, d []float64) float64 { return ratio(b[:3], b[3:], x[0], d) },
	"Lanczos1": threeDecays, "Lanczos2": threeDecays, "Lanczos3": threeDecays,
	"MGH09": func(b, x, d []float64) float64 {
		top, bottom := x[0]*x[0]+x[0]*b[1], x[0]*x[0]+x[0]*b[2]+b[3]
		f := b[0] * top / bottom
		d[0], d[1], d[2], d[3] = top/bottom, b[0]*x[0]/bottom, -f*x[0]/bottom, -f/bottom
		return f
	},
	"MGH10": func(b, x, d []float64) float64 {
		e := math.Exp(b[1] / (x[0] + b[2]))
		d[0], d[1] = e, b[0]*e/(x[0]+b[2])
		d[2] = -d[1] * b[1] / (x[0] + b[2])
		return b[0] * e
	},
	"MGH17": func(b, x, d []float64) float64 {
		first, second := math.Exp(-x[0]*b[3]), math.Exp(-x[0]*b[4])
		d[0], d[1], d[2], d[3], d[4] = 1, first, second, -b[1]*x[0]*first, -b[2]*x[0]*second
		return b[0] + b[1]*first + b[2]*second
	},
	"Misra1b": func(b, x, d []float64) float64 {
		u := 1 + b[1]*x[0]/2
		d[0], d[1] = 1-1/(u*u), b[0]*x[0]/(u*u*u)
		return b[0] * d[0]
	},
	"Misra1c": func(b, x, d []float64) float64 {
		u := 1 + 2*b[1]*x[0]
		d[0], d[1] = 1-1/math.Sqrt(u), b[0]*x[0]/(u*math.Sqrt(u))
		return b[0] * d[0]
	},
	"Misra1d": func(b, x, d []float64) float64 {
		u := 1 + b[1]*x[0]
		d[0], d[1] = b[1]*x[0]/u, b[0]*x[0]/(u*u)
		return b[0] * d[0]
	},
	"Nelson": func(b, x, d []float64) float64 { // of log y
		e := math.Exp(-b[2] * x[1])
		d[0], d[1], d[2] = 1, -x[0]*e, b[1]*x[0]*x[1]*e
		return b[0] - b[1]*x[0]*e
	},
	"Rat42": func(b, x, d []float64) float64 {
		e := math.Exp(b[1] - b[2]*x[0])
		d[0] = 1 / (1 + e)
		d[1] = -b[0] * e / ((1 + e) * (1 + e))
		d[2] = -d[1] * x[0]
		return b[0] / (1 + e)
	},
	"Rat43": func(b, x, d []float64) float64 {
		e := math.Exp(b[1] - b[2]*x[0])
		d[0] = math.Pow(1+e, -1/b[3])
		f := b[0] * d[0]
		d[1] = -f * e / ((1 + e) * b[3])
		d[2] = -d[1] * x[0]
		d[3] = f * math.Log1p(e) / (b[3] * b[3])
		return f
	},
	"Roszman1": func(b, x, d []float64) float64 {
		u := x[0] - b[3]
		r := math.Pi * (u*u + b[2]*b[2])
		d[0], d[1], d[2], d[3] = 1, -x[0], -u/r, -b[2]/r
		return b[0] - b[1]*x[0] - math.Atan(b[2]/u)/math.Pi
	},
}

func saturation(b, x, d []float64) float64 {
	d[0], d[1] = -math.Expm1(-b[1]*x[0]), b[0]*x[0]*math.Exp(-b[1]*x[0])
	return b[0] * d[0]
}

func chwirut(b, x, d []float64) float64 {
	bottom := b[1] + b[2]*x[0]
	f := math.Exp(-b[0]*x[0]) / bottom
	d[0], d[1], d[2] = -x[0]*f, -f/bottom, -f*x[0]/bottom
	return f
}

// cycle is b1 cos(2πx/b0) + b2 sin(2πx/b0).
func cycle(b []float64, x float64, d []float64) float64 {
	angle := 2 * math.Pi * x / b[0]
	sin, cos := math.Sincos(angle)
	d[0], d[1], d[2] = (b[1]*sin-b[2]*cos)*angle/b[0], cos, sin
	return b[1]*cos + b[2]*sin
}

func peaksOnDecay(b, x, d []float64) float64 {
	d[0] = math.Exp(-b[1] * x[0])
	d[1] = -b[0] * x[0] * d[0]
	return b[0]*d[0] + gaussian(b[2:5], x[0], d[2:5]) + gaussian(b[5:8], x[0], d[5:8])
}

func gaussian(b []float64, x float64, d []float64) float64 {
	u := (x - b[1]) / b[2]
	d[0] = math.Exp(-u * u)
	d[1] = 2 * b[0] * d[0] * u / b[2]
	d[2] = d[1] * u
	return b[0] * d[0]
}

func cubicRatio(b, x, d []float64) float64 { return ratio(b[:4], b[4:], x[0], d) }

// ratio is Σ a_i x^i / (1 + Σ b_i x^(i+1)); d holds the derivatives by a and then by b.
func ratio(a, b []float64, x float64, d []float64) float64 {
	top, bottom, power := 0.0, 1.0, 1.0
	for i := range a {
		top += a[i] * power
		d[i] = power
		power *= x
		if i < len(b) {
			bottom += b[i] * power
			d[len(a)+i] = power
		}
	}
	f := top / bottom
	for i := range a {
		d[i] /= bottom
	}
	for i := range b {
		d[len(a)+i] *= -f / bottom
	}
	return f
}

func threeDecays(b, x, d []float64) float64 {
	f := 0.0
	for k := 0; k < 6; k += 2 {
		d[k] = math.Exp(-b[k+1] * x[0])
		d[k+1] = -b[k] * x[0] * d[k]
		f += b[k] * d[k]
	}
	return f
}
