package quantify

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Brindley returns the particle absorption factor of a sphere in a powder, τ = (1/V) ∫ exp[−(μ − μ̄) path] dV, for
// x = (μ − μ̄) R and an angle in degrees 2θ. The path runs from the surface to a point of the sphere along the incident
// beam and out again along the diffracted one. Source: Brindley, Phil. Mag. 36 (1945) 347 (from memory).
func Brindley(x, twoTheta float64) float64 { return brindley(x, twoTheta, fineQuadrature) }

// Points of each of three Gauss–Legendre rules: the rough one is good to 1e-3 of τ − 1, at an eighth of the cost.
const (
	fineQuadrature  = 24
	roughQuadrature = 12
)

func brindley(x, twoTheta float64, n int) float64 { return newSphere(twoTheta, n).factor(x) }

// A sphere holds the ways of the beam through a grain of radius 1 at one angle, for the points of three Gauss–Legendre rules: radius,
// height over it, and azimuth, each with its weight. Factors for one angle and many absorptions need them once.
type sphere struct {
	known                    bool
	radius, byHeight, byTurn []float64 // squared radii; weights of heights and of azimuths
	byRadius                 []float64
	ways                     []float64 // in and out, one for each point
}

func newSphere(twoTheta float64, n int) sphere {
	s := sphere{!math.IsNaN(twoTheta), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, 0, n*n*n)}
	radii, heights, turns := make([]float64, n), make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(radii, s.byRadius, 0, 1)
	quad.Legendre{}.FixedLocations(heights, s.byHeight, -1, 1)
	quad.Legendre{}.FixedLocations(turns, s.byTurn, 0, math.Pi)
	sin, cos := math.Sincos(xrd.Radians(twoTheta))
	in, out := [3]float64{0, 0, -1}, [3]float64{sin, 0, cos} // towards the source, towards the detector
	for i, r := range radii {
		s.radius[i] = r * r
		for _, z := range heights {
			rho := r * math.Sqrt(math.Max(0, 1-z*z))
			for _, phi := range turns {
				sin, cos := math.Sincos(phi)
				p := [3]float64{rho * cos, rho * sin, r * z}
				s.ways = append(s.ways, toSurface(p, in)+toSurface(p, out))
			}
		}
	}
	return s
}

// sphereOf returns the grain of a phase at the angle of its strongest line; one that is not known for a phase without lines.
func sphereOf(p refdata.Phase, n int) sphere {
	k := p.Strongest()
	if k < 0 {
		return sphere{}
	}
	return newSphere(p.Lines[k].TwoTheta, n)
}

// factor returns τ for x = (μ − μ̄) R.
func (s sphere) factor(x float64) float64 {
	if math.IsNaN(x) || !s.known {
		return math.NaN()
	}
	var whole float64
	ways := s.ways
	for i, square := range s.radius {
		var shell float64
		for _, height := range s.byHeight {
			var ring float64
			for k, turn := range s.byTurn {
				ring += turn * math.Exp(-x*ways[k])
			}
			ways = ways[len(s.byTurn):]
			shell += height * ring
		}
		whole += s.byRadius[i] * (square * shell)
	}
	return whole * 3 / (2 * math.Pi)
}

// toSurface returns the way from a point inside the unit sphere to its surface along a unit vector.
func toSurface(p, direction [3]float64) float64 {
	var along, square float64
	for i, v := range p {
		along += v * direction[i]
		square += v * v
	}
	return math.Sqrt(math.Max(0, along*along+1-square)) - along
}

// Absorption of a grain, μD, by which powders are classed after Brindley (from memory).
const (
	mediumGrain = 0.01
	coarseGrain = 0.1
	hugeGrain   = 1.0 // beyond, the correction is no longer one
)

// grainU is the relative standard uncertainty of a grain size that is given: sizes are spread, and grains are no spheres
// (common practice: corrections with a guessed size often overshoot).
const grainU = 0.3

// grainRounds is how often the mean absorption is renewed from corrected fractions: each round changes it by a tenth of
// the one before, at most.
const grainRounds = 6

// grains works out the Brindley factor of each phase whose grain size is given, with the relative uncertainty that it
// brings; 1 and 0 where absorption does not matter or is not known.
func (p *problem) grains() (tau, u []float64) {
	if n := len(p.Roles); len(p.Grain) != n {
		return ones(n), make([]float64, n)
	}
	return p.grainFactors(p.spheres(fineQuadrature))
}

// spheres returns the grains of all phases.
func (p *problem) spheres(points int) []sphere {
	out := make([]sphere, len(p.Roles))
	for k, phase := range p.Fit.Setup.Phases {
		out[k] = sphereOf(phase, points)
	}
	return out
}

func (p *problem) grainFactors(spheres []sphere) (tau, u []float64) {
	tau, u = ones(len(spheres)), make([]float64, len(spheres))
	for range grainRounds {
		mean := p.meanAbsorption(divided(p.amounts, tau))
		if !(mean > 0) {
			return tau, u
		}
		next := append([]float64(nil), tau...)
		for k, d := range p.Grain {
			if t := grainFactor(p.Fit.Setup.Phases[k], spheres[k], d, mean); t != 1 {
				next[k], u[k] = t, grainU*math.Abs(math.Log(t))
			}
		}
		tau = next
	}
	return tau, u
}

// grainFactor returns the Brindley factor of grains of a diameter, µm, in a powder of a mean linear absorption, 1/cm; 1 where
// one of them, or the angle of a line, is not known.
func grainFactor(phase refdata.Phase, s sphere, diameter, mean float64) float64 {
	if !(diameter > 0 && mean > 0 && s.known && phase.MuLinear() > 0) {
		return 1
	}
	return s.factor((phase.MuLinear() - mean) * diameter / 2 * 1e-4)
}

// GrainFactor returns Brindley's factor of the strongest line of a phase for grains of a diameter, µm, in a powder of a mean linear
// absorption, 1/cm: its intensity over that in a fine powder; 1 where one of them is not known.
func GrainFactor(phase refdata.Phase, diameter, mean float64) float64 {
	if !(diameter > 0) {
		return 1
	}
	return grainFactor(phase, sphereOf(phase, fineQuadrature), diameter, mean)
}

// meanAbsorption returns the mean linear absorption, 1/cm, of everything that diffracts, the solid alone; 0 when that of a
// phase is not known.
func (in Input) meanAbsorption(amounts []float64) float64 {
	var mass, volume float64
	for p, a := range amounts {
		ph := in.Fit.Setup.Phases[p]
		if !(a > 0) || math.IsInf(a, 0) || in.Roles[p] == Absent {
			continue
		}
		if !(ph.MuLinear() > 0) {
			return 0
		}
		mass += a * ph.MassAbsorption
		volume += a / ph.Density
	}
	if !(volume > 0) {
		return 0
	}
	return mass / volume
}

// A GrainClass says how far absorption in single grains goes, after Brindley.
type GrainClass string

// The classes.
const (
	FineGrains   GrainClass = "fine"
	MediumGrains GrainClass = "medium"
	CoarseGrains GrainClass = "coarse"
	HugeGrains   GrainClass = "very coarse"
)

// ClassOfGrain returns the class of grains of diameter d (µm) of linear absorption mu (1/cm).
func ClassOfGrain(mu, d float64) GrainClass {
	switch x := mu * d * 1e-4; {
	case x < mediumGrain:
		return FineGrains
	case x < coarseGrain:
		return MediumGrains
	case x <= hugeGrain:
		return CoarseGrains
	}
	return HugeGrains
}
