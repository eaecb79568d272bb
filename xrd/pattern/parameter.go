package pattern

import (
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// Kind says what a nonlinear parameter does.
type Kind int

// The kinds of parameter. Those from CellA on belong to one phase.
const (
	Zero         Kind = iota // added to every angle, degrees 2θ
	Displacement             // of the surface below the focusing plane, mm
	WidthU                   // Γ_G² = W₀ + U (tan θ − τ)², degrees²: U
	WidthTau                 // τ, where the Gaussian width is least
	WidthW                   // W₀, the least square of the Gaussian width
	WidthX                   // Γ_L = X/cos θ + Y tan θ, degrees
	WidthY
	Axial       // axial-divergence tail, degrees
	KBetaShare  // intensity of Kβ over that of the Kα doublet
	WLAlpha     // intensity of W Lα over that of the Kα doublet
	Footprint   // exponent of sin θ in an intensity trend common to all phases
	CellA       // relative change of an edge (tied edges move together)
	CellB       //
	CellC       //
	CellAlpha   // change of an angle, degrees
	CellBeta    //
	CellGamma   //
	Size        // Lorentzian broadening in 1/cos θ, degrees
	Strain      // Lorentzian broadening in tan θ, degrees
	Thermal     // change of the overall displacement parameter B, Å²
	TextureLogR // logarithm of the March–Dollase coefficient of a pole
	kinds
)

var kindNames = [kinds]string{"zero", "displacement", "U", "tau", "W0", "X", "Y", "axial", "K beta", "W L alpha", "footprint",
	"cell a", "cell b", "cell c", "cell alpha", "cell beta", "cell gamma", "size", "strain", "B", "texture"}

// String names the kind.
func (k Kind) String() string { return kindNames[k] }

// A Parameter is one nonlinear parameter of the model.
type Parameter struct {
	Kind  Kind          // what it is, with its unit
	Phase int           // index of the phase it belongs to, -1 for all
	Pole  [3]int        // of TextureLogR
	Value float64       // in the unit of its kind
	U     float64       // standard uncertainty after a fit, 0 when held
	Lower float64       // bound
	Upper float64       // bound
	Prior leastsq.Prior // Sigma 0: none
	Free  bool          // it is fitted
}

// boundShare is the part of the range of a parameter next to a bound that counts as the bound.
const boundShare = 1e-3

// AtBound reports whether a parameter was fitted and ended at a bound: its value lies beyond, or nowhere.
func (p Parameter) AtBound() bool {
	near := boundShare * (p.Upper - p.Lower)
	return p.Free && !(p.Value > p.Lower+near && p.Value < p.Upper-near)
}

// Name identifies the parameter to a person, given the ids of the phases.
func (p Parameter) Name(ids []string) string {
	if p.Phase < 0 {
		return p.Kind.String()
	}
	return fmt.Sprintf("%s of %s", p.Kind, ids[p.Phase])
}

// Priors that hold where the data say nothing. The displacement and cell values are those of the design; widths are as
// wide as laboratory diffractometers differ (common practice).
const (
	displacementPrior  = 0.15  // mm
	displacementLimit  = 1.0   // mm
	cellPrior          = 0.003 // relative
	solidSolutionPrior = 0.02
	cellLimit          = 0.008 // relative
	solidSolutionLimit = 0.05
	anglePrior         = 0.3 // degrees
	texturePrior       = 0.4 // of ln r
	maxPoles           = 2   // per phase
	textureLimit       = 1.6 // ln r: r from 0.2 to 5
)

// globalParameters returns the parameters that belong to the instrument and the specimen, all held.
func globalParameters(ins xrd.Instrument) []Parameter {
	loose := 1.0
	if ins.Calibrated {
		loose = 0.1
	}
	u, tau, w := leastForm(ins)
	g := func(k Kind, v, lo, hi, sigma float64) Parameter {
		return Parameter{Kind: k, Phase: -1, Value: v, Lower: lo, Upper: hi, Prior: leastsq.Prior{Mean: v, Sigma: sigma}}
	}
	return []Parameter{
		g(Zero, ins.Zero, ins.Zero-0.5, ins.Zero+0.5, math.Max(ins.ZeroU, 1e-4)),
		{Kind: Displacement, Phase: -1, Lower: -displacementLimit, Upper: displacementLimit, Prior: leastsq.Prior{Sigma: displacementPrior}},
		g(WidthU, u, 0, 0.5, 0.02*loose),
		g(WidthTau, tau, -1, 3, 0.3*loose),
		g(WidthW, w, leastVariance, 0.5, 0.01*loose),
		g(WidthX, ins.LorentzSize, 0, 1, 0.03*loose),
		g(WidthY, ins.LorentzStrain, 0, 1, 0.03*loose),
		g(Axial, ins.Axial, 0, 0.3, 0.03*loose),
		{Kind: KBetaShare, Phase: -1, Lower: 0, Upper: 0.3, Prior: leastsq.Prior{Sigma: 0.02}},
		{Kind: WLAlpha, Phase: -1, Lower: 0, Upper: 0.2, Prior: leastsq.Prior{Sigma: 0.01}},
		{Kind: Footprint, Phase: -1, Lower: -0.5, Upper: 1.5, Prior: leastsq.Prior{Sigma: 0.5}},
	}
}

// leastVariance keeps the Gaussian width above 0.01°, which no laboratory instrument reaches.
const leastVariance = 1e-4

// leastForm writes U tan²θ + V tan θ + W as W₀ + U (tan θ − τ)², in which bounds can keep the width real at every
// angle.
func leastForm(ins xrd.Instrument) (u, tau, w float64) {
	if !(ins.GaussTan2 > 1e-6) {
		return 0, 0, math.Max(leastVariance, ins.GaussConst)
	}
	tau = math.Min(3, math.Max(-1, -ins.GaussTan/(2*ins.GaussTan2)))
	return ins.GaussTan2, tau, math.Max(leastVariance, ins.GaussConst-ins.GaussTan2*tau*tau)
}

// phaseParameters returns the parameters of phase number i, all held.
func phaseParameters(i int, p refdata.Phase, poles [][3]int) []Parameter {
	sigma, limit := cellPrior, cellLimit
	if p.SolidSolution {
		sigma, limit = solidSolutionPrior, solidSolutionLimit
	}
	var out []Parameter
	for _, k := range cellKinds(p) {
		s, l := sigma, limit
		if k >= CellAlpha {
			s, l = anglePrior, 2*anglePrior
		}
		out = append(out, Parameter{Kind: k, Phase: i, Lower: -l, Upper: l, Prior: leastsq.Prior{Sigma: s}})
	}
	out = append(out,
		Parameter{Kind: Size, Phase: i, Upper: 3, Prior: leastsq.Prior{Sigma: 0.1}},
		Parameter{Kind: Strain, Phase: i, Upper: 3, Prior: leastsq.Prior{Sigma: 0.1}},
		thermalParameter(i, p))
	for _, pole := range poles {
		out = append(out, Parameter{Kind: TextureLogR, Phase: i, Pole: pole, Lower: -textureLimit, Upper: textureLimit,
			Prior: leastsq.Prior{Sigma: texturePrior}})
	}
	return out
}

// thermalAssumed is the standard uncertainty of an assumed displacement parameter, Å²: it is as good as a guess between 0.2 and 0.8 Å².
const thermalAssumed = 0.25

// thermalParameter returns the change of the overall displacement parameter of a phase. It is expected to be within what the
// mean over the atoms is uncertain by.
func thermalParameter(i int, p refdata.Phase) Parameter {
	b, sigma := p.MeanB, p.MeanBU
	if !(sigma > 0) {
		sigma = refdata.RelativeBU * b
	}
	if !(b > 0) || p.AssumedB {
		b, sigma = math.Max(b, 0.5), thermalAssumed
	}
	return Parameter{Kind: Thermal, Phase: i, Lower: -0.9 * b, Upper: 3 * b, Prior: leastsq.Prior{Sigma: sigma}}
}

// cellKinds returns the free cell parameters that the crystal system leaves.
func cellKinds(p refdata.Phase) []Kind {
	if p.Cell == nil || !indexed(p) {
		return []Kind{CellA} // all spacings stretch together
	}
	switch p.System {
	case refdata.Cubic:
		return []Kind{CellA}
	case refdata.Tetragonal, refdata.Hexagonal:
		return []Kind{CellA, CellC}
	case refdata.Rhombohedral:
		return []Kind{CellA, CellAlpha}
	case refdata.Orthorhombic:
		return []Kind{CellA, CellB, CellC}
	case refdata.Monoclinic:
		switch {
		case p.Cell.Alpha != 90:
			return []Kind{CellA, CellB, CellC, CellAlpha}
		case p.Cell.Gamma != 90:
			return []Kind{CellA, CellB, CellC, CellGamma}
		}
		return []Kind{CellA, CellB, CellC, CellBeta}
	}
	return []Kind{CellA, CellB, CellC, CellAlpha, CellBeta, CellGamma}
}

// indexed reports whether every line of the phase carries its indices.
func indexed(p refdata.Phase) bool {
	return !slices.ContainsFunc(p.Lines, func(l refdata.Line) bool { return len(l.Families) == 0 })
}
