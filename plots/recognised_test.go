package plots_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

// Where a scan is explained only in part, titles, axes and tables say of what the per cents are.
func TestPartsAreOfWhatWasRecognised(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	for verdict, partly := range map[result.Verdict]bool{result.Complete: false, result.Partial: true} {
		doc.Explanation.Verdict = verdict
		assert.Equal(t, partly, strings.HasSuffix(plots.Answer(doc, &plots.English), ", of what was recognised"))
		figure, err := plots.Fractions(doc, plots.Style{})
		require.NoError(t, err)
		assert.Equal(t, partly, strings.Contains(strings.Join(figure.Texts(), " "), "of what was recognised"), verdict)
		assert.Equal(t, partly, strings.Contains(string(resultfile.FractionsCSV(doc)), "what was recognised"))
		assert.Equal(t, !partly, strings.Contains(string(resultfile.FractionsCSV(doc)), "crystalline part"))
	}
}
