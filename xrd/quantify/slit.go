package quantify

import (
	"math"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// A SlitGuess weighs what the lines of a fit say of optics that nobody stated: the χ² that each explanation takes away, in
// units of the scatter of lines that is left. Neither has a free slope: an automatic slit makes all intensities go as sin θ
// at every angle, a beam longer than the specimen below the angle Full only, where sin θ = R α/l.
type SlitGuess struct {
	Automatic float64 // χ² that an automatic slit takes away
	Overspill float64 // χ² that a beam longer than the specimen takes away, at the best Full
	Full      float64 // degrees 2θ
	FullU     float64 // its standard uncertainty, no less than half a degree
	Lines     int     // that tell
}

// GuessSlit weighs the explanations of a trend common to all phases, with the texture that the fit has taken up and without
// it, since a trend may pass for texture; the stronger says more.
func GuessSlit(f *pattern.Fit) SlitGuess {
	a := guessSlit(f, trendPoints(f, func(l pattern.LineFit) float64 { return l.Fitted }))
	b := guessSlit(f, trendPoints(f, func(l pattern.LineFit) float64 { return l.Expected }))
	if math.Max(b.Automatic, b.Overspill) > math.Max(a.Automatic, a.Overspill) {
		return b
	}
	return a
}

// leastFull is the smallest angle, degrees 2θ, below which a beam may be longer than the specimen.
const leastFull = 15.0

func guessSlit(f *pattern.Fit, points []trendPoint) SlitGuess {
	chi2 := func(g func(sin float64) float64) float64 {
		shifted := append([]trendPoint(nil), points...)
		for i := range shifted {
			shifted[i].y -= g(shifted[i].sin)
		}
		return regress(f, shifted, nil).chi2
	}
	none := chi2(func(float64) float64 { return 0 })
	automatic := chi2(math.Log)
	overspill, full := math.Inf(1), math.NaN()
	var profile []float64 // χ² at every degree
	for angle := leastFull; angle <= 90; angle++ {
		limit := math.Sin(xrd.Radians(angle) / 2)
		c := chi2(func(sin float64) float64 { return math.Min(0, math.Log(sin/limit)) })
		profile = append(profile, c)
		if c < overspill {
			overspill, full = c, angle
		}
	}
	free := math.Max(1, float64(len(points)-2*phasesOf(points)))
	scale := math.Max(1, math.Min(automatic, overspill)/free)
	fullU := 0.5
	for k, c := range profile {
		if c <= overspill+scale {
			fullU = math.Max(fullU, math.Abs(leastFull+float64(k)-full))
		}
	}
	return SlitGuess{(none - automatic) / scale, (none - overspill) / scale, full, fullU, len(points)}
}
