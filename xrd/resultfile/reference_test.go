package resultfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/resultfile/resulttest"
)

// A doubtful reference is doubtful in the table, too, in the row of its phase.
func TestReferenceCautionsReachTheTable(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	id := doc.Phases[0].ID
	doc.Cautions = append(doc.Cautions,
		xrd.Caution{Code: "structure-operators", Severity: xrd.SeverityCaution, Evidence: map[string]any{"phase": id}},
		xrd.Caution{Code: "structure-b-default", Severity: xrd.SeverityNote, Evidence: map[string]any{"phase": id}},
		xrd.Caution{Code: "structure-contact", Severity: xrd.SeverityCaution, Evidence: map[string]any{"phase": id}})
	for i, row := range strings.Split(strings.TrimSpace(string(FractionsCSV(doc))), "\n") {
		switch {
		case i == 0:
			assert.True(t, strings.HasSuffix(row, ",reference_cautions"))
		case strings.HasPrefix(row, id+","):
			assert.True(t, strings.HasSuffix(row, ",structure-operators; structure-contact"), row)
		default:
			assert.True(t, strings.HasSuffix(row, ","), row)
		}
	}
}
