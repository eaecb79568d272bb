// Package xrdtest makes scans of known content for tests: lines of stated place, area and width on a stated background,
// counted with Poisson noise from a fixed seed. It draws profiles with formulas of its own, so that a fault in the
// profiles of package xrd shows in the tests instead of cancelling.
package xrdtest

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd"
)

// A Line is one Kα doublet.
type Line struct {
	TwoTheta float64 // of Kα1, degrees
	Area     float64 // Kα1 and Kα2 together, counts × degrees
	FWHM     float64 // degrees
	Eta      float64 // Lorentzian share
}

// A Pattern is what a scan would show without noise. Its zero values are Cu radiation, no line and no background.
type Pattern struct {
	Lo, Hi, Step float64                        // degrees
	Radiation    xrd.Radiation                  // of the tube
	Lines        []Line                         // of the pattern
	Background   func(twoTheta float64) float64 // counts
}

// Angles returns the angles of the scan.
func (p Pattern) Angles() []float64 {
	n := int(math.Round((p.Hi-p.Lo)/p.Step)) + 1
	t := make([]float64, n)
	for i := range t {
		t[i] = p.Lo + float64(i)*p.Step
	}
	return t
}

// Expected returns the expected counts at angles.
func (p Pattern) Expected(angles []float64) []float64 {
	r := p.Radiation
	if r.KAlpha1 == 0 {
		r, _ = xrd.ParseRadiation("Cu")
	}
	y := make([]float64, len(angles))
	for i, t := range angles {
		if p.Background != nil {
			y[i] = p.Background(t)
		}
	}
	for _, l := range p.Lines {
		addLine(y, angles, l, l.TwoTheta, l.Area/(1+r.Ratio))
		if sin := math.Sin(l.TwoTheta*math.Pi/360) * r.KAlpha2 / r.KAlpha1; r.Ratio > 0 && sin < 1 {
			addLine(y, angles, l, math.Asin(sin)*360/math.Pi, l.Area*r.Ratio/(1+r.Ratio))
		}
	}
	return y
}

// addLine adds one component, drawn to 60 widths.
func addLine(y, angles []float64, l Line, at, area float64) {
	sigma, half := l.FWHM/math.Sqrt(8*math.Log(2)), l.FWHM/2
	for i, t := range angles {
		d := t - at
		if math.Abs(d) > 60*l.FWHM {
			continue
		}
		gauss := math.Exp(-d*d/(2*sigma*sigma)) / (sigma * math.Sqrt(2*math.Pi))
		lorentz := half / (math.Pi * (d*d + half*half))
		y[i] += area * (l.Eta*lorentz + (1-l.Eta)*gauss)
	}
}

// Scan counts the pattern with Poisson noise of the given seed.
func (p Pattern) Scan(t testing.TB, seed uint64) xrd.Scan {
	t.Helper()
	angles := p.Angles()
	return Count(t, angles, p.Expected(angles), seed)
}

// Count draws Poisson counts around the expected ones.
func Count(t testing.TB, angles, expected []float64, seed uint64) xrd.Scan {
	t.Helper()
	source := rand.NewPCG(seed, 0x9e3779b97f4a7c15)
	counts := make([]float64, len(expected))
	for i, mean := range expected {
		if mean > 0 {
			counts[i] = distuv.Poisson{Lambda: mean, Src: source}.Rand()
		}
	}
	scan, err := xrd.NewScan(angles, counts, nil, xrd.ScanInfo{})
	if err != nil {
		t.Fatalf("xrdtest: %v", err)
	}
	return scan
}

// Spread returns n lines at even distances with a jitter, areas evenly spread in their logarithms between least and
// most, and the width fwhm(2θ) of an ordinary instrument.
func Spread(seed uint64, n int, lo, hi, least, most float64) []Line {
	rnd := rand.New(rand.NewPCG(seed, 1))
	lines := make([]Line, n)
	for i := range lines {
		at := lo + (hi-lo)*(float64(i)+0.5+0.5*(rnd.Float64()-0.5))/float64(n)
		lines[i] = Line{at, least * math.Pow(most/least, rnd.Float64()), Width(at), 0.5}
	}
	return lines
}

// Width is the FWHM, degrees, of an ordinary laboratory instrument: 0.07° at low angles, 0.15° at 130°.
func Width(twoTheta float64) float64 {
	t := math.Tan(twoTheta * math.Pi / 360)
	return math.Sqrt(0.0045*t*t - 0.002*t + 0.006)
}
