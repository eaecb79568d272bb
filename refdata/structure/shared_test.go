package structure_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// shared returns a file of the fetched material beside the project; the test is skipped where it is absent.
func shared(t testing.TB, parts ...string) string {
	name := filepath.Join(append([]string{"..", "..", "..", "shared"}, parts...)...)
	if _, err := os.Stat(name); err != nil {
		t.Skipf("NOT CHECKED: %s is absent", name)
	}
	return name
}

func beam(t testing.TB, anode string) refdata.Beam {
	r, err := xrd.ParseRadiation(anode)
	require.NoError(t, err)
	return refdata.Beam{Radiation: r}
}

func table(t testing.TB, name string) []map[string]string {
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, k := range rows[0] {
			if i < len(row) {
				m[k] = row[i]
			}
		}
		out = append(out, m)
	}
	return out
}

func number(t testing.TB, s string) float64 {
	f, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return f
}

func readFile(t testing.TB, name string) []*structure.Structure {
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	list, err := structure.Read(f, filepath.Base(name))
	require.NoError(t, err)
	return list
}
