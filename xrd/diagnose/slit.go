package diagnose

import (
	"fmt"

	"phasetally/xrd"
)

// caution says what was corrected.
func (s *Slit) caution() []xrd.Caution {
	evidence := map[string]any{"chi_square_gain": s.Gain, "lines": s.Lines}
	if s.Automatic {
		return []xrd.Caution{{Code: "slit-mode", Severity: xrd.SeverityCaution,
			Text:   "Intensities of all phases go as sin θ, as with an automatic divergence slit. They were corrected for it.",
			Remedy: "State the divergence slit with --slit automatic:MM, or --slit fixed:DEGREES if it was not automatic.", Evidence: evidence}}
	}
	evidence["full_above_two_theta"] = s.Full
	return []xrd.Caution{{Code: "beam-overspill", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("Below about %.0f° lines of all phases grow weaker towards low angles, as when the beam is longer than the specimen. Intensities were corrected for it.", s.Full),
		Remedy: "State --slit and --specimen-length, use a narrower slit or a longer piece, or leave low angles out with --range.", Evidence: evidence}}
}
