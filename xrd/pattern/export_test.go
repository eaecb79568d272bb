package pattern

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// What the tests of the whole package need of its inside.
var (
	TextureFactor     = textureFactor
	LineCosines       = poleCosines
	LaueGroup         = laueGroup
	SpacingSlopes     = spacingSlopes
	Strained          = strained
	CellKinds         = cellKinds
	ThermalParameter  = thermalParameter
	Splines           = splineColumns
	ClampedSplines    = clampedColumns
	KnotChoices       = knotChoices
	Misfit            = misfit
	BerarLelannFactor = berarLelannFactor
)

// Bounded reports whether the background of a fit had to be kept from going below nothing.
func Bounded(f *Fit) bool { return f.model.bounded }

// Release frees the parameters that the test accepts.
func Release(m *Model, accept func(Parameter) bool) { m.release(accept) }

// Set gives a parameter a value; points and nodes of lines follow.
func Set(m *Model, k Kind, phase int, v float64) {
	for i := range m.params {
		if p := &m.params[i]; p.Kind == k && p.Phase == phase {
			p.Value = v
		}
	}
	m.prepare()
}

// Rule returns the shifts and weights of a rule of the axial tail.
func Rule(nodes int) (shift, weight []float64) {
	for _, pair := range axialRules[nodes] {
		for _, n := range pair {
			shift, weight = append(shift, n.Shift), append(weight, n.Weight)
		}
	}
	return shift, weight
}

// Problem returns the least-squares problem of the free parameters of a model for given variances of the points.
func Problem(m *Model, variance []float64) leastsq.SeparableProblem {
	return (&Fit{model: m, Variance: variance}).problem()
}

// AddProfile draws a profile with the rule that its tail needs.
func AddProfile(x, y []float64, area, centre, fwhm, eta, tail float64) {
	addProfile(x, y, shape{area: area, centre: centre, fwhm: fwhm, eta: eta, tail: tail}, xrd.AxialNodes(math.Abs(tail)/fwhm))
}

// NoiseAt returns the variance of a point for a fitted intensity.
func NoiseAt(s Setup, i int, fitted float64) float64 { return s.noiseAt(i, fitted) }

// Windows returns the points that each line of a model reaches, with the phase and spacing of the line.
func Windows(m *Model) []Window {
	var out []Window
	for _, t := range m.terms {
		out = append(out, Window{t.phase, t.emission, t.first, t.last, t.nodes, m.phases[t.phase].lines[t.line]})
	}
	return out
}

// A Window is the reach of one line for one wavelength.
type Window struct {
	Phase, Emission, First, Last, Nodes int
	Line                                refdata.Line
}
