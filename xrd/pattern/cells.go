package pattern

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Cell returns the fitted cell of phase number p with the standard uncertainties of its parameters, those that the
// crystal system fixes being 0. It reports false for a phase without cell.
func (f *Fit) Cell(p int) (cell, u refdata.Cell, ok bool) {
	pm := &f.model.phases[p]
	if pm.phase.Cell == nil || !indexed(pm.phase) {
		return cell, u, false
	}
	cell = f.model.view(p).cell
	c, sys := *pm.phase.Cell, pm.phase.System
	for _, k := range pm.cell {
		q := f.model.params[k]
		switch q.Kind {
		case CellA:
			u.A = c.A * q.U
			if tiesB(sys) {
				u.B = c.B * q.U
			}
			if tiesC(sys) {
				u.C = c.C * q.U
			}
		case CellB:
			u.B = c.B * q.U
		case CellC:
			u.C = c.C * q.U
		case CellAlpha:
			u.Alpha = q.U
			if sys == refdata.Rhombohedral {
				u.Beta, u.Gamma = q.U, q.U
			}
		case CellBeta:
			u.Beta = q.U
		case CellGamma:
			u.Gamma = q.U
		}
	}
	return cell, u, true
}

// CellAtBound reports whether a number of the cell of phase number p ended at the bound of what is tried: the cell is not measured then.
func (f *Fit) CellAtBound(p int) bool {
	return slices.ContainsFunc(f.Parameters, func(q Parameter) bool { return q.Phase == p && q.Kind >= CellA && q.Kind <= CellGamma && q.AtBound() })
}

// VolumeRatio returns the fitted volume over the reference volume of phase number p.
func (f *Fit) VolumeRatio(p int) float64 {
	if cell, _, ok := f.Cell(p); ok {
		return cell.Volume() / f.model.phases[p].phase.Cell.Volume()
	}
	s := f.model.view(p).stretch
	return s * s * s
}

// Get returns a parameter of the fit; phase is -1 for those that belong to all. It reports false when the model has
// none.
func (f *Fit) Get(k Kind, phase int) (Parameter, bool) {
	for _, p := range f.Parameters {
		if p.Kind == k && p.Phase == phase {
			return p, true
		}
	}
	return Parameter{}, false
}

// Instrument returns the instrument with the widths, the zero and the axial divergence that were fitted.
func (f *Fit) Instrument() xrd.Instrument {
	ins := f.Setup.Instrument
	g := f.model.global
	tau := g(WidthTau)
	ins.GaussTan2, ins.GaussTan, ins.GaussConst = g(WidthU), -2*g(WidthU)*tau, g(WidthW)+g(WidthU)*tau*tau
	ins.LorentzSize, ins.LorentzStrain, ins.Axial, ins.Zero = g(WidthX), g(WidthY), g(Axial), g(Zero)
	return ins
}

// Values returns all parameters by name of phase, the starting values of a next fit.
func (f *Fit) Values() map[Key]float64 {
	out := make(map[Key]float64, len(f.model.params))
	for _, p := range f.model.params {
		out[f.model.key(p)] = p.Value
	}
	return out
}

// SizeNM converts a Lorentzian size broadening in degrees to a mean crystallite size, nm: L = K λ/Γ with K = 0.9
// (Scherrer; volume-weighted, from memory).
func SizeNM(degrees, wavelength float64) float64 {
	return 0.9 * wavelength / (degrees * math.Pi / 180) / 10
}

// StrainOf converts a Lorentzian strain broadening in degrees to an apparent strain e: Γ = 4 e tan θ.
func StrainOf(degrees float64) float64 { return degrees * math.Pi / 180 / 4 }
