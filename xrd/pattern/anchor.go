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
