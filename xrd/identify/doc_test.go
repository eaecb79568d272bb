package identify

import (
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
)

// The table of evidence in the package comment is what the code does.
func TestEvidenceTable(t *testing.T) {
	text, err := os.ReadFile("doc.go")
	require.NoError(t, err)
	row := regexp.MustCompile(`(?m)^//\t\s*(\d+)\s+(\d+) %\s+(\d+)\s+(\d+) %\s+([\d.]+)\s+(\d+)\s+([\d.]+)\s+(\d+)\s+→\s+(\w+)$`)
	rows := row.FindAllStringSubmatch(string(text), -1)
	require.Len(t, rows, strings.Count(string(text), "→")-1, "every row but the heading is read")
	said := map[result.Evidence]bool{}
	for _, r := range rows {
		var v [8]float64
		for i := range v {
			v[i], err = strconv.ParseFloat(r[i+1], 64)
			require.NoError(t, err)
		}
		m := Match{Significance: 50, Merit: Merit{M: v[2]}, Chance: v[4], Alternatives: make([]Alternative, int(v[5])), shift: v[6] / 100, cellNumbers: int(v[7])}
		c := Coverage{Share: v[3] / 100, Verdict: result.Partial}
		if c.Share < policy.Coverage.NoneBelow {
			c.Verdict = result.None
		}
		w := whole{threshold: 5, coverage: c}
		n := int(v[0])
		got := w.evidenceLevel(tally{own: n, seen: n, pieces: n, expected: 100, absent: v[1], tested: 100}, &m)
		assert.Equal(t, result.Evidence(r[9]), got, r[0])
		said[got] = true
	}
	assert.Len(t, said, 3)
}
