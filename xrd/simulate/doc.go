// Package simulate calculates the scan of a specimen of known content: the forward direction of an analysis. Lines come from
// the model that package pattern fits, so that a scan without noise is explained by the truth exactly; what that model does
// not know (haloes, a filter's edge, few grains, absorption in grains, counting) is added here.
//
// The integrated intensity of the strongest line of phase p, Kα doublet, of a flat and infinitely thick specimen is
//
//	A_p = A_c w_p RIR_p (μ/ρ)_c/(μ/ρ)_mix · τ_p
//
// with the mass fraction w, the reference intensity ratio against line 113 of corundum (c) and the absorption in grains τ: 1 for
// a fine powder, and what quantify.Mosaic gives for a section. A_c follows from the count rate that corundum 113 would have at
// its top on the same set-up. Nothing here is measured: what is written says so.
package simulate
