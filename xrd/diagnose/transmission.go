package diagnose

import "phasetally/xrd"

// transmission says what is assumed of a scan in transmission, and what cannot be corrected.
func transmission(e Evidence) []xrd.Caution {
	if e.Facts.Instrument.Geometry != xrd.Transmission {
		return nil
	}
	return []xrd.Caution{{Code: "transmission", Severity: xrd.SeverityNote,
		Text: "Symmetric transmission through a thin specimen, or a capillary filled loosely, is assumed: a volume that is the same at every angle, and a zero shift, " +
			"since nothing tells where the specimen lay. Absorption in a thicker specimen, which weakens lines at high angles, is not corrected, and absorption within grains neither.",
		Remedy:   "Keep the product of absorption and thickness near 1 for a flat specimen and below 1 for a capillary.",
		Evidence: map[string]any{"geometry": string(xrd.Transmission)}}}
}
