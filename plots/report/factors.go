package report

import (
	"fmt"

	"phasetally/xrd/result"
)

// Factors says by what reference intensities were corrected; empty when nothing was.
func Factors(doc result.Document) string {
	f := doc.Factors
	if f == nil || len(f.Phases) == 0 {
		return ""
	}
	return fmt.Sprintf("\nReference intensities are corrected by factors from %d weighed mixtures (%s): %s.\n", len(f.Mixtures), plain(f.File), factorsOf(f))
}
