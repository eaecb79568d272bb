package pattern

import (
	"slices"

	"phasetally/refdata"
)

// A displacement parameter is a property of the substance. Fitted to one scan it also takes up some of whatever is wrong with the
// intensities there, which moves the scale: by 2 s² ΔB, 2 % for 0.1 Å² at 2θ = 58° (Cu Kα). Scans that are compared are therefore fitted with one
// value for each phase.

// JointDeltaB returns the change of the displacement parameter of a phase, Å², that several scans tell together, false when none does.
// Each fit tells b_i ± u_i, in which its own scan and what was expected beforehand, 0 ± σ, have a part. Multiplied, with what was
// expected counted once, they tell
//
//	b = Σ b_i/u_i² / [Σ (1/u_i² − 1/σ²) + 1/σ²].
//
// Fits in which it was not free, or ended at a bound, have no say.
func JointDeltaB(fits []*Fit, phase refdata.Phase) (float64, bool) {
	var sum, information, expected float64
	for _, f := range fits {
		p := slices.IndexFunc(f.Setup.Phases, func(q refdata.Phase) bool { return q.ID == phase.ID })
		if p < 0 {
			continue
		}
		q, ok := f.Get(Thermal, p)
		if !ok || !q.Free || q.AtBound() || !(q.U > 0) {
			continue
		}
		expected = 1 / (q.Prior.Sigma * q.Prior.Sigma)
		sum += q.Value / (q.U * q.U)
		information += max(0, 1/(q.U*q.U)-expected)
	}
	if !(expected > 0) {
		return 0, false
	}
	return sum / (information + expected), true
}
