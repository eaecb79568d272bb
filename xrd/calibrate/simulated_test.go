package calibrate_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/calibrate"
)

// truth is a diffractometer and a specimen position to simulate.
type truth struct {
	ins          xrd.Instrument
	displacement float64 // mm
	strongest    float64 // counts at the top of the strongest line
	background   float64 // counts
	lo, hi, step float64 // degrees
	seed         uint64
	only         func(refdata.Line) float64 // factor of a line's intensity; nil: 1
	extra        float64                    // angle of a peak that is not of the standard; 0: none
}

// ordinary is a laboratory diffractometer of 200 mm.
func ordinary(axial float64) truth {
	return truth{ins: xrd.Instrument{Zero: 0.021, GaussTan2: 0.004, GaussTan: -0.003, GaussConst: 0.0055, LorentzSize: 0.015, LorentzStrain: 0.02, Axial: axial, Radius: 200},
		displacement: -0.062, strongest: 200000, background: 200, lo: 20, hi: 140, step: 0.02, seed: 1}
}

func (s truth) shift(twoTheta float64) float64 {
	return s.ins.Zero + xrd.DisplacementShift(twoTheta, s.displacement, s.ins.Radius)
}

// fwhm is the width of Thompson, Cox & Hastings, written anew.
func (s truth) fwhm(twoTheta float64) (fwhm, eta float64) {
	t, c := math.Tan(twoTheta*math.Pi/360), math.Cos(twoTheta*math.Pi/360)
	g, l := math.Sqrt(s.ins.GaussTan2*t*t+s.ins.GaussTan*t+s.ins.GaussConst), s.ins.LorentzSize/c+s.ins.LorentzStrain*t
	f := math.Pow(math.Pow(g, 5)+2.69269*math.Pow(g, 4)*l+2.42843*math.Pow(g, 3)*l*l+4.47163*g*g*l*l*l+0.07842*g*math.Pow(l, 4)+math.Pow(l, 5), 0.2)
	q := l / f
	return f, 1.36603*q - 0.47719*q*q + 0.11116*q*q*q
}

// scan draws the standard's lines with profiles of its own (no code of the program but Bragg's law and the structure
// factors) and counts them.
func (s truth) scan(t testing.TB, std calibrate.Standard, cu xrd.Radiation) xrd.Scan {
	t.Helper()
	n := int(math.Round((s.hi-s.lo)/s.step)) + 1
	x, y := make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = math.Round((s.lo+float64(i)*s.step)*1e6) / 1e6
	}
	for _, l := range calibrate.LinesOf(t, std, cu, 160) {
		for _, e := range [][2]float64{{cu.KAlpha1, 1}, {cu.KAlpha2, cu.Ratio}} {
			if at, ok := xrd.TwoTheta(l.D, e[0]); ok {
				area := l.Intensity * e[1]
				if s.only != nil {
					area *= s.only(l)
				}
				s.addLine(x, y, at, area)
			}
		}
	}
	if s.extra > 0 {
		s.addLine(x, y, s.extra, 30)
	}
	top := 0.0
	for _, v := range y {
		top = math.Max(top, v)
	}
	source := rand.NewPCG(s.seed, 77)
	for i := range y {
		mean := y[i]/top*s.strongest + s.background*(0.5+math.Exp(-x[i]/30))
		y[i] = distuv.Poisson{Lambda: mean, Src: source}.Rand()
	}
	out, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	return out
}

// addLine spreads a line over its axial tail, whose extent grows with the square of a uniform variable.
func (s truth) addLine(x, y []float64, at, area float64) {
	parts := 64
	if s.ins.Axial == 0 {
		parts = 1
	}
	f, eta := s.fwhm(at)
	centre, sigma := at+s.shift(at), f/math.Sqrt(8*math.Log(2))
	for i, v := range x {
		if math.Abs(v-centre) > 40*f+1 {
			continue
		}
		for k := range parts {
			q := (float64(k) + 0.5) / float64(parts)
			d := v - centre + s.ins.Axial/math.Tan(at*math.Pi/180)*q*q
			gauss := math.Exp(-d*d/(2*sigma*sigma)) / (sigma * math.Sqrt(2*math.Pi))
			y[i] += area / float64(parts) * ((1-eta)*gauss + eta*f/2/(math.Pi*(d*d+f*f/4)))
		}
	}
}
