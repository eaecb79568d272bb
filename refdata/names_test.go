package refdata_test

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

// Every name of the table is there once, leads to phases that exist, and is no other phase's id, name or formula.
func TestSynonymsAreSound(t *testing.T) {
	raw, err := os.ReadFile("synonyms.csv")
	require.NoError(t, err)
	r := csv.NewReader(strings.NewReader(string(raw)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	known, taken := map[string]bool{}, map[string]string{}
	for _, p := range refdata.Starter() {
		known[p.ID] = true
		taken[refdata.FoldName(p.ID)] = p.ID
		taken[refdata.FoldName(p.Name)] = p.ID
	}
	seen := map[string]bool{}
	for _, row := range rows[1:] {
		name := refdata.FoldName(row[0])
		require.NotEmpty(t, name)
		assert.False(t, seen[name], "%s is there twice", row[0])
		seen[name] = true
		ids := refdata.Synonyms(row[0])
		require.NotEmpty(t, ids, row[0])
		for _, id := range ids {
			assert.True(t, known[id], "%s leads to %s", row[0], id)
		}
		if id, ok := taken[name]; ok {
			assert.Equal(t, []string{id}, ids, "%s is the name of another phase", row[0])
		}
	}
	assert.Empty(t, refdata.Synonyms("kaolinite"))
}

func TestFoldName(t *testing.T) {
	for _, c := range [][2]string{{"Bronze (α)", "bronze-alpha"}, {"iron(III) oxide", "Iron (iii)-oxide"}, {"Cu6Sn5 (η′)", "cu6sn5 eta prime"}, {"Löschkalk", "lo\u0308schkalk"}, {"Fe₂O₃", "fe2o3"}} {
		assert.Equal(t, refdata.FoldName(c[1]), refdata.FoldName(c[0]))
	}
	assert.NotEqual(t, refdata.FoldName("tin"), refdata.FoldName("zinc"))
	assert.Empty(t, refdata.FoldName("?-()"))
}
