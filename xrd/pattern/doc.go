// Package pattern holds the model of a whole powder pattern and fits it to a scan:
//
//	y = background + blank + Σ_p S_p Σ_k G(θ_k) I_pk T_pk [φ(Kα1) + r φ(Kα2) + β φ(Kβ) + w φ(W Lα)]/(1 + r)
//
// φ is a pseudo-Voigt whose Gaussian (U, V, W) and Lorentzian (X, Y, with size and strain of each phase) widths are
// joined after Thompson, Cox & Hastings (1987) and drawn out by axial divergence; I_pk is 100 for the strongest line of
// a phase; T is March–Dollase texture; G is the footprint. S_p is therefore the integrated intensity, counts × degrees,
// of the Kα doublet of the strongest line divided by 100.
//
// Scales (non-negative) and background are linear and eliminated by variable projection; everything else is refined
// with exact derivatives. The variance of a point is that of the model (Poisson) plus a misfit term (κ m)², so that the
// misfit of strong lines neither invents weak phases nor makes intervals too narrow.
package pattern
