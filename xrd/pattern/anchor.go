package pattern

import (
	"slices"

	"phasetally/refdata"
)

// anchored reports whether the phase that fixes the angle scale is there.
func (s Setup) anchored() bool {
	return s.Anchor != "" && slices.ContainsFunc(s.Phases, func(p refdata.Phase) bool { return p.ID == s.Anchor })
}

// anchored reports whether a parameter belongs to the cell of the phase that fixes the angle scale. It then stays at the
// reference, so that the displacement is known from the lines of that phase and the cells of the others follow.
func (m *Model) anchored(p Parameter) bool {
	return p.Phase >= 0 && p.Kind >= CellA && p.Kind <= CellGamma && m.setup.Anchor != "" && m.setup.Phases[p.Phase].ID == m.setup.Anchor
}

// decided reports the change of the displacement parameter that is not to be fitted.
func (m *Model) decided(p Parameter) (float64, bool) {
	if p.Kind != Thermal {
		return 0, false
	}
	b, ok := m.setup.DeltaB[m.setup.Phases[p.Phase].ID]
	return b, ok
}

// known reports whether a parameter is known and not fitted.
func (m *Model) known(p Parameter) bool {
	_, decided := m.decided(p)
	return decided || m.anchored(p) || slices.Contains(m.setup.Hold, p.Kind)
}
