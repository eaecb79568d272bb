package analysis_test

import (
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// ownLines reads "3 of 5 lines that no other phase covers are seen".
var ownLines = regexp.MustCompile(`^(\d+) of (\d+) lines`)

// TestReasonsAndLinesAgree: what the reasons count is what the verdicts on the lines beside them say, searched or named.
func TestReasonsAndLinesAgree(t *testing.T) {
	for _, name := range xrdtest.Some(t, []string{"bushing-aged", "bushing-grit", "ageing-336h"}, 1) {
		scan := load(t, "../../testdata/"+name+".xy")
		for _, phases := range [][]string{nil, {"bronze-alpha", "cuprite", "cu6sn5-eta", "corundum"}} {
			j := job(t, scan, "Cu")
			j.Phases = phases
			doc := run(t, j)
			require.NotEmpty(t, doc.Phases, name)
			checkLines(t, doc, name)
		}
	}
}

// checkLines wants of every phase that its reasons count the lines beside them. TestPracticeScans asks it of textures, broad lines and heavy overlap.
func checkLines(t *testing.T, doc result.Document, name string) {
	t.Helper()
	for _, p := range doc.Phases {
		count := map[result.LineVerdict]int{}
		for _, l := range p.Lines {
			count[l.Verdict]++
			own := l.Verdict == result.LineSeen || l.Verdict == result.LineMissing || l.Verdict == result.LineWeak
			assert.True(t, l.Own || !own, "%s: %s at %.2f°", name, p.ID, l.TwoTheta)
			assert.Equal(t, l.Verdict == result.LineOutside, l.Observed == nil, "%s: %s at %.2f°", name, p.ID, l.TwoTheta)
		}
		missing := 0
		for _, r := range p.Reasons {
			switch r.Code {
			case "own-lines":
				m := ownLines.FindStringSubmatch(r.Text)
				require.Len(t, m, 3, r.Text)
				assert.Equal(t, m[1], strconv.Itoa(count[result.LineSeen]), "%s: %s: %v", name, p.ID, count)
				assert.Equal(t, m[2], strconv.Itoa(count[result.LineSeen]+count[result.LineMissing]+count[result.LineWeak]), "%s: %s: %v", name, p.ID, count)
			case "missing-lines":
				missing = int(*r.Value)
			}
		}
		assert.Equal(t, missing, count[result.LineMissing], "%s: %s: %v", name, p.ID, count)
	}
}
