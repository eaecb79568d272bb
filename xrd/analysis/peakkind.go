package analysis

import (
	"fmt"

	"phasetally/peaks"
)

// kindNames are the words for where a peak comes from.
var kindNames = map[peaks.Kind]string{peaks.KAlpha: "Kα", peaks.KBeta: "Kβ", peaks.WLine: "W Lα"}

// kindOf names what a peak is: a Kα doublet of its own, or the image of another in a further wavelength of the tube.
func kindOf(p peaks.Peak, all []peaks.Peak) string {
	if p.Of < 0 || p.Of >= len(all) {
		return kindNames[p.Kind]
	}
	return fmt.Sprintf("%s of %.2f", kindNames[p.Kind], all[p.Of].TwoTheta)
}
