package plan

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

const (
	seen = 2e-5 // of all orientations, the share that a stationary specimen diffracts: Ω/4π (Smith 1992, from memory)
	spin = 5.0  // times more grains when the specimen spins (common practice: 5 to 10)
	good = 0.05 // scatter of intensities that is wanted for fractions (common practice)
	most = 1000 // spots
)

// GrainStatistics returns how many grains of a phase diffract into a line, for grains of a mean intercept in µm (spheres: 2/3 of
// the diameter), a volume fraction, an area that is lit in mm² and a depth in µm.
func GrainStatistics(intercept, fraction, area, depth, multiplicity float64) result.GrainCount {
	d := 1.5 * intercept
	n := fraction * area * 1e6 * depth / (math.Pi / 6 * d * d * d)
	g := result.GrainCount{Irradiated: n, Diffracting: n * multiplicity * seen}
	g.Scatter = math.Min(2, 1/math.Sqrt(g.Diffracting))
	g.Spinning = math.Min(2, g.Scatter/math.Sqrt(spin))
	g.Spots = int(math.Min(most, math.Max(1, math.Ceil(g.Spinning*g.Spinning/(good*good)-1e-9))))
	return g
}

// grainsOf returns the statistics at a phase's strongest line; nil where the size of grains is not known.
func (q Request) grainsOf(p refdata.Phase, line refdata.Line, volume, meanMu float64) *result.GrainCount {
	if !(q.Intercept > 0) || math.IsInf(q.Intercept, 0) || !(volume > 0) {
		return nil
	}
	length := Lit(line.TwoTheta, q.Instrument)
	if l := q.length(); l > 0 && (l < length || length == 0) {
		length = l
	}
	width := q.beamWidth()
	if w := q.width(); w > 0 {
		width = math.Min(w, width)
	}
	if length == 0 {
		length = width // a slit that is not stated
	}
	g := GrainStatistics(q.Intercept, volume, length*width, xrd.InformationDepth(line.TwoTheta, meanMu, 1-1/math.E), multiplicity(line))
	return &g
}
